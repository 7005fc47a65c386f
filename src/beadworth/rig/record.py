"""The rig record: small, everything optional that can be, easy to extend.

The records of its parts stand in the modules beside this one; this one joins them.
"""

from __future__ import annotations

import re
from typing import Annotated, Literal, Self

from pydantic import Field, field_validator, model_validator
from pydantic_core import PydanticCustomError

from beadworth.core import FILAMENT_MM, Record
from beadworth.rig.axes import Axes, Axis, AxisLimits, Beam, Guide, Motion
from beadworth.rig.drive import Extruder, Motor
from beadworth.rig.durations import Durations
from beadworth.rig.electrics import Electrics, Fan
from beadworth.rig.fields import Currency, NotNegative, Positive
from beadworth.rig.former import FORMER_NAMES
from beadworth.rig.hot_end import HotEnd, Sensor
from beadworth.rig.paths import known_paths
from beadworth.rig.space import BuildVolume, Hole, Mounting, Pattern, Room, Slot, Toolhead

__all__ = [
    "Axes", "Axis", "AxisLimits", "Beam", "BuildVolume", "Durations", "Electrics", "Extruder",
    "Fan", "FittedParts", "Guide", "Hole", "HotEnd", "Known", "Motion", "Motor", "Mounting",
    "Pattern", "Rig", "Room", "Sensor", "Slot", "Toolhead",
]  # fmt: skip


class Known(Record):
    """How well one value is known, and where it came from."""

    u: Positive | None = Field(
        None, description="standard uncertainty, in the unit of the value it belongs to"
    )
    origin: Literal["measured", "datasheet", "handbook", "assumed"] = Field(
        description="where the value came from"
    )
    note: str | None = Field(None, description="how, when, with what")


class FittedParts(Record):
    """The part cards a rig was made from."""

    hot_end: str | None = Field(None, description="card of the hot end")
    extruder: str | None = Field(None, description="card of the extruder")
    guides: str | None = Field(None, description="card of the guides")
    fan: str | None = Field(None, description="card of the fan fitted last")


class Rig(Record):
    """A printer in one state; an upgrade makes a child rig that names its parent."""

    name: Annotated[str, Field(min_length=1, max_length=80)] = Field(
        description="name, as you would say it aloud"
    )
    parent: str | None = Field(None, description="name of the rig this one was upgraded from")
    frame: str | None = Field(None, description="frame type in the trade's words, e.g. moving bed")
    coupled_belts: bool | None = Field(
        None, description="true where two motors together move x and y"
    )
    filament_diameter_mm: Annotated[float, Field(gt=0.5, lt=5)] = Field(
        FILAMENT_MM, description="nominal filament diameter, mm"
    )
    hot_end: HotEnd = Field(HotEnd(), description="hot end")
    extruder: Extruder = Field(Extruder(), description="extruder drive")
    build_volume: BuildVolume | None = Field(None, description="what the nozzle can reach")
    motion: Motion = Field(Motion(), description="motion limits")
    durations: Durations = Field(
        Durations(), description="how long it takes to do what a print file does not time"
    )
    feature_comment: str | None = Field(
        None,
        description="pattern (regular expression) of the comments that mark features in this "
        "rig's print files; its group, where it has one, is the feature's name",
    )
    toolhead: Toolhead = Field(Toolhead(), description="toolhead")
    axes: Axes = Field(Axes(), description="axes from motor to load")
    mounting: Mounting | None = Field(None, description="how the toolhead is screwed on")
    room: Room | None = Field(
        None, description="free room to each side of the carriage at the ends of its travel"
    )
    electrics: Electrics = Field(Electrics(), description="supply and outputs")
    fans: tuple[Fan, ...] = Field((), description="fans")
    parts: FittedParts | None = Field(None, description="part cards it was made from")
    price: NotNegative | None = Field(
        None, description="price of the parts that differ from the parent rig"
    )
    currency: Currency | None = Field(None, description="ISO 4217 code of the price")
    mass_g: NotNegative | None = Field(
        None, description="moving mass of the parts that differ from the parent rig, g"
    )
    supplied_by: str | None = Field(
        None, description="who supplied the hardware, for the disclosure line"
    )
    source: str | None = Field(None, description="where the values come from")
    simulated: bool = Field(False, description="true for an invented rig of the demo")
    note: str | None = Field(None, description="note")
    known: dict[str, Known] = Field(
        {}, description="how well single values are known, by field path"
    )

    @field_validator("known", mode="before")
    @classmethod
    def _former_paths(cls, known: object) -> object:
        if not isinstance(known, dict):
            return known
        return {FORMER_NAMES.get(path, path): how for path, how in known.items()}

    @field_validator("feature_comment")
    @classmethod
    def _is_a_pattern(cls, pattern: str | None) -> str | None:
        try:
            groups = re.compile(pattern or "").groups
        except re.error as error:
            why = f"is no regular expression: {error}."
        else:
            if groups < 2:
                return pattern
            why = f"has {groups} groups; one gives the name."
        raise PydanticCustomError(
            "beadworth",
            "the pattern {why}",
            {"why": why, "remedy": "Write it like 'feature (.+)', with one group at most."},
        )

    @field_validator("mass_g", mode="before")
    @classmethod
    def _parts_weigh_something(cls, grams: object) -> object:
        if isinstance(grams, int | float) and grams < 0:
            raise PydanticCustomError(
                "beadworth",
                "{grams} g is no mass: parts weigh 0 g or more.",
                {
                    "grams": f"{grams:g}",
                    "remedy": "Weigh the new parts. What a lighter one saves follows from the mass "
                    "of the part it replaces (hot_end.mass_g, extruder.mass_g, toolhead.mass_g, "
                    "fans) in the parent rig's record.",
                },
            )
        return grams

    @model_validator(mode="after")
    def _known_fields_exist(self) -> Self:
        paths = known_paths(type(self))
        for path in self.known:
            plain = ".".join("*" if part.isdigit() else part for part in path.split("."))
            if plain not in paths:
                last = plain.rpartition(".")[2]
                near = sorted(p for p in paths if p.rpartition(".")[2] == last)[:3]
                raise PydanticCustomError(
                    "beadworth",
                    "known.{path}: this record has no field {path}.",
                    {
                        "path": path,
                        "remedy": f"Perhaps {' or '.join(near)}."
                        if near
                        else "Write the field's whole path, as hot_end.melt_zone_mm.",
                    },
                )
        return self
