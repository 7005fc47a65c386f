"""The tables of a data package: every column with its type, unit, meaning and limits.

One definition serves the writer, the reader's checks, the generated README and the reference
page. Types and constraints are those of Table Schema (Data Package standard, version 2,
datapackage.org); ``unit`` is a property of our own on each field and holds a UCUM code.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any, Literal

Type = Literal["string", "number", "integer", "boolean"]
UNITS = {
    "Cel": "°C",
    "mm3/s": "mm³/s",
    "mm": "mm",
    "um": "µm",
    "g": "g",
    "1": "a fraction",
    "s": "s",
    "mm/s": "mm/s",
    "deg": "degrees",
}
"""The UCUM codes that occur, and how they are said."""


@dataclass(frozen=True)
class Column:
    """One column of a table."""

    name: str
    type: Type
    description: str
    unit: str = ""
    """UCUM code; empty where a value has no unit."""
    required: bool = False
    minimum: float | None = None
    maximum: float | None = None
    enum: tuple[str, ...] = ()

    def field(self) -> dict[str, Any]:
        """The column as a field descriptor of Table Schema."""
        limits: dict[str, Any] = {}
        if self.required:
            limits["required"] = True
        if self.minimum is not None:
            limits["minimum"] = self.minimum
        if self.maximum is not None:
            limits["maximum"] = self.maximum
        if self.enum:
            limits["enum"] = list(self.enum)
        made: dict[str, Any] = {"name": self.name, "type": self.type}
        if self.unit:
            made["unit"] = self.unit
        made["description"] = self.description
        if limits:
            made["constraints"] = limits
        return made


@dataclass(frozen=True)
class TableSpec:
    """One table: a file, its columns and what identifies a row."""

    name: str
    title: str
    description: str
    key: tuple[str, ...]
    columns: tuple[Column, ...]
    most_rows: int

    @property
    def path(self) -> str:
        """The file's name in the package."""
        return f"{self.name}.csv"

    def schema(self) -> dict[str, Any]:
        """The Table Schema."""
        return {
            "$schema": "https://datapackage.org/profiles/2.0/tableschema.json",
            "fields": [column.field() for column in self.columns],
            "primaryKey": list(self.key),
            "missingValues": [""],
        }


def text(name: str, description: str, **more: Any) -> Column:
    """A column of text."""
    return Column(name, "string", description, **more)


def number(name: str, unit: str, description: str, **more: Any) -> Column:
    """A column of numbers."""
    return Column(name, "number", description, unit, **more)


def whole(name: str, description: str, **more: Any) -> Column:
    """A column of whole numbers."""
    return Column(name, "integer", description, **more)


_RIG = text("rig", "name of the rig, as in rigs.json", required=True)
_MATERIAL = text("material", "name of the material, as in materials.json", required=True)
TEMPERATURE = number(
    "temperature_c", "Cel", "nozzle temperature set", required=True, minimum=1, maximum=700
)
FLOW = number(
    "flow_mm3_s", "mm3/s", "flow commanded: volume of filament fed per second", required=True,
    minimum=0.01, maximum=2000,
)  # fmt: skip
_GRID = replace(FLOW, description="flow of this point of the grid", minimum=0.0)
_FED = number(
    "filament_mm", "mm", "filament fed for the coupon", required=True, minimum=1, maximum=1e6
)
_REFERENCE = Column(
    "reference", "boolean", "true for a slow coupon that fixes delivery in its block", required=True
)
_CONFIDENCE = number(
    "confidence", "1", "coverage of the interval", required=True, minimum=0.5, maximum=0.999
)

READINGS = TableSpec(
    "readings",
    "Readings",
    "Every weighing of the trial, those that no longer count too.",
    ("reading",),
    (
        whole("reading", "number of the weighing in order of entry", required=True, minimum=1),
        text("coupon", "coupon weighed, as in coupons.csv where there is a plan"),
        _RIG,
        _MATERIAL,
        TEMPERATURE,
        FLOW,
        _FED,
        number("mass_g", "g", "mass shown by the balance: gross where tare_g is given, else net",
                required=True),
        number("tare_g", "g", "mass of the container", minimum=0),
        number("diameter_mm", "mm", "mean diameter of the filament fed for this coupon",
                minimum=0.5, maximum=5),
        whole("replicate", "number among coupons of one setting", minimum=1),
        _REFERENCE,
        text("state", "whether it counts", required=True,
              enum=("current", "voided", "superseded")),
        text("reason", "why it no longer counts"),
        text("note", "remark made when weighing"),
    ),
    2000,
)  # fmt: skip

COUPONS = TableSpec(
    "coupons",
    "Run sheet",
    "The plan's coupons in the order to make them.",
    ("coupon",),
    (
        text("coupon", "name of the coupon", required=True),
        _RIG,
        TEMPERATURE,
        FLOW,
        _FED,
        whole("replicate", "number among coupons of one setting", required=True, minimum=1),
        _REFERENCE,
        whole("order", "place in the run sheet", required=True, minimum=1),
        whole("block", "temperature block; references anchor their own block", required=True,
               minimum=1),
        whole("plate", "plate or catch session it is made on", required=True, minimum=1),
        Column("added", "boolean", "true where an amendment added it to the locked plan",
               required=True),
    ),
    2000,
)  # fmt: skip

CEILINGS = TableSpec(
    "ceilings",
    "Ceilings",
    "The flow at the stated loss, read from the readings, and the law's line where they support "
    "it.",
    ("rig", "material", "temperature_c"),
    (
        _RIG,
        _MATERIAL,
        TEMPERATURE,
        text("basis", "read at a tested temperature, or from the law across temperatures",
              required=True, enum=("readings", "law", "between")),
        number("loss", "1", "loss at which the ceiling is read", required=True, minimum=0.005,
                maximum=0.2),
        number("flow_mm3_s", "mm3/s", "ceiling; empty where known from one side only", minimum=0),
        number("low_mm3_s", "mm3/s", "lower end of the interval; empty where there is none",
                minimum=0),
        number("high_mm3_s", "mm3/s", "upper end of the interval; empty where there is none",
                minimum=0),
        text("bound", "interval, or the one side that is known", required=True,
              enum=("interval", "at-least", "at-most")),
        _CONFIDENCE,
        Column("extrapolated", "boolean", "true outside the tested temperatures", required=True),
    ),
    2000,
)  # fmt: skip

CURVES = TableSpec(
    "curves",
    "Loss curves",
    "Loss over flow at each tested temperature, on a grid, with its pointwise band.",
    ("rig", "material", "temperature_c", "flow_mm3_s"),
    (
        _RIG,
        _MATERIAL,
        TEMPERATURE,
        _GRID,
        number("loss", "1", "1 − delivered ÷ commanded, against low flow of the same block"),
        number("low", "1", "lower edge of the band"),
        number("high", "1", "upper edge of the band"),
        _CONFIDENCE,
        number("tested_low_mm3_s", "mm3/s", "lowest flow weighed at this temperature"),
        number("tested_high_mm3_s", "mm3/s", "highest flow weighed at this temperature"),
    ),
    20_000,
)

BUDGET = TableSpec(
    "budget",
    "Uncertainty budget",
    "The budget of loss at one setting in the terms of JCGM 100:2008.",
    ("line",),
    (
        whole("line", "number of the line", required=True, minimum=1),
        text("source", "where the uncertainty comes from", required=True),
        text("evaluation", "type of evaluation", required=True, enum=("A", "B")),
        text("distribution", "assumed distribution", required=True),
        number("half_width", "", "half-width or given value, in the unit of this line",
                required=True),
        number("divisor", "1", "what half_width is divided by", required=True, minimum=0),
        text("unit", "unit of half_width and standard_u"),
        number("standard_u", "", "standard uncertainty, in the unit of this line",
                required=True, minimum=0),
        number("sensitivity", "", "change of loss per unit of this line", required=True),
        number("contribution", "1", "part of the standard uncertainty of loss", required=True,
                minimum=0),
        number("dof", "1", "degrees of freedom; empty: taken as known", minimum=0.01),
        text("shares", "lines with one word here rest on the same observations"),
    ),
    200,
)  # fmt: skip

GRADES = TableSpec(
    "grades",
    "Blind grades",
    "Every grade and mass of the rigs' witness prints whose codes are open, with the settings of "
    "its band.",
    ("witness", "code", "side", "grader", "look"),
    (
        whole("witness", "number of the witness print", required=True, minimum=1),
        text("kind", "which witness print", required=True),
        _RIG,
        text("material", "name of the material it was printed with", required=True),
        TEMPERATURE,
        whole("band", "place of the band, from the bottom", required=True, minimum=1),
        text("code", "letter the band was graded by", required=True),
        text("side", "side of the band", required=True),
        number("flow_mm3_s", "mm3/s", "flow, averaged over the last two melt-zone volumes",
                minimum=0),
        number("speed_mm_s", "mm/s", "speed along the wall", minimum=0),
        number("width_mm", "mm", "width of the bead", minimum=0),
        number("fan", "1", "part fan", minimum=0, maximum=1),
        number("layer_time_s", "s", "time of a layer", minimum=0),
        number("passes", "1", "times the drive passed over each piece of filament", minimum=0),
        number("angle_deg", "deg", "overhang from upright", minimum=0, maximum=90),
        text("grader", "a number for each grader; no names", required=True),
        whole("look", "1 the first look, 2 a repeat", required=True, minimum=1),
        whole("grade", "0 nothing to find to 4 failed; from 2 on not acceptable; empty where it "
               "could not be judged", minimum=0, maximum=4),
        number("mass_g", "g", "mass of a wall of a weighed pair", minimum=0),
    ),
    20_000,
)  # fmt: skip

CAUSES = TableSpec(
    "causes",
    "What walls showed",
    "What makes the pattern on walls of the rigs, ranked from photos; sizes are good to a factor "
    "of about two and a half.",
    ("reading", "place", "cause", "beside"),
    (
        whole("reading", "number of the reading", required=True, minimum=1),
        _RIG,
        text("day", "day it was read", required=True),
        whole("walls", "how many walls were read together", required=True, minimum=1),
        whole("place", "1 the most probable", required=True, minimum=1),
        text("cause", "the source, ringing, none of these, or nothing periodic", required=True),
        Column("beside", "boolean", "true for what stands beside the main cause", required=True),
        number("probability", "1", "its probability", required=True, minimum=0, maximum=1),
        number("period", "", "its period, in period_unit", minimum=0),
        number("period_low", "", "95 % interval, lower end"),
        number("period_high", "", "95 % interval, upper end"),
        text("period_unit", "mm of travel, mm of filament, s, mm of height, or Hz"),
        number("size_um", "um", "half the height of its wave", minimum=0),
        number("size_low_um", "um", "95 % interval, lower end", minimum=0),
        number("size_high_um", "um", "95 % interval, upper end", minimum=0),
    ),
    20_000,
)  # fmt: skip

TRIAL_TABLES = (READINGS, COUPONS, CEILINGS, CURVES, BUDGET, GRADES, CAUSES)
