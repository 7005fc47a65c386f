"""What a trial is made of, as plain data: the question, the plan, the coupons, the readings."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from typing import Annotated, Literal, Self

from pydantic import Field, field_validator, model_validator
from pydantic_core import PydanticCustomError

from beadworth.core import LOSS, Record, Unbounded

Positive = Annotated[float, Field(gt=0)]
NotNegative = Annotated[float, Field(ge=0)]


class Balance(Record):
    """The balance, from its data sheet and a repeatability check of one's own."""

    readability_g: Positive = Field(0.01, description="smallest step of the display, g")
    repeatability_g: NotNegative = Field(
        0.01, description="standard deviation of repeated weighings of one thing, g"
    )
    repeatability_dof: Annotated[int, Field(ge=1)] | None = Field(
        None, description="weighings behind the repeatability less one; left out: taken as known"
    )
    repeatability_on: date | None = Field(
        None, description="day it was measured; left out: assumed, or from the data sheet"
    )
    linearity_g: NotNegative = Field(
        0.0, description="largest deviation from a straight line over the range, ± g"
    )
    linearity_on: date | None = Field(
        None, description="day it was measured; left out: assumed, or from the data sheet"
    )


class Spool(Record):
    """How the filament varies along its length."""

    diameter_tolerance_mm: NotNegative = Field(
        0.02, description="± half-width of the filament diameter along the spool, mm"
    )
    correlation_length_mm: Positive = Field(
        10_000.0, description="length along the spool over which the diameter stays alike, mm"
    )
    diameter_u_mm: Positive | None = Field(
        None,
        description="standard uncertainty of a diameter measured on each coupon's own feed, mm; "
        "left out: not measured",
    )


class TrialSpec(Record):
    """What is asked, of what, with what: all a plan is computed from."""

    question: Annotated[str, Field(min_length=8, max_length=300)]
    baseline: str = Field(description="name of the rig as it is")
    candidate: str | None = Field(None, description="name of the upgraded rig")
    material: str
    temperatures_c: tuple[Positive, ...] = Field(min_length=1, max_length=20)
    flows_mm3_s: tuple[Positive, ...] = Field(
        min_length=2,
        max_length=60,
        description="flows, mm³/s; given the lowest and highest alone, the plan chooses the rest",
    )
    difference_mm3_s: Positive | None = Field(
        None, description="smallest difference in ceiling that would change your mind, mm³/s"
    )
    hours: Annotated[float, Field(gt=0, le=500)] | None = Field(
        None, description="hours at hand, printing and hands; left out: two for each rig"
    )
    reference_flow_mm3_s: Positive | None = Field(
        None, description="flow of the reference coupons; left out: the lowest flow"
    )
    references_per_block: Annotated[int, Field(ge=1, le=12)] | None = Field(
        None, description="reference coupons in each temperature block; left out: two"
    )
    replicates: Annotated[int, Field(ge=1, le=20)] | None = Field(
        None, description="coupons per setting; left out: one, or as many as the difference needs"
    )
    filament_mm: Annotated[float, Field(gt=20, le=20000)] | None = Field(
        None, description="filament per coupon, mm; left out: as the balance needs it"
    )
    loss: Annotated[float, Field(ge=0.005, le=0.2)] = Field(
        LOSS, description="loss at which the ceiling is read"
    )
    loss_u: Annotated[float, Field(gt=0, le=0.05)] | None = Field(
        None, description="of older records, still read: plans were sized by it once"
    )
    balance: Balance = Balance()
    spool: Spool = Spool()
    collect: Literal["plate", "catch"] = "plate"
    seed: Annotated[int, Field(ge=0)] = 1

    @field_validator("temperatures_c", "flows_mm3_s")
    @classmethod
    def _each_once(cls, values: tuple[float, ...]) -> tuple[float, ...]:
        twice = [value for value in dict.fromkeys(values) if values.count(value) > 1]
        if twice:
            raise PydanticCustomError(
                "beadworth",
                "{twice} stands there twice.",
                {
                    "twice": " and ".join(f"{value:g}" for value in twice),
                    "remedy": "Name each value once; inside a range the point is the decimal "
                    "sign: 5:25:2.5.",
                },
            )
        return values

    @model_validator(mode="after")
    def _two_rigs(self) -> Self:
        if self.candidate is not None and self.candidate == self.baseline:
            raise ValueError(
                "baseline and candidate are the same rig. "
                "Leave candidate out to test one rig alone."
            )
        return self


@dataclass(frozen=True)
class Coupon:
    """One coupon of the run sheet, in the order to make it."""

    coupon: str
    """Identifier, unique in the trial, short enough to write on a bag: "A07"."""
    rig: str
    temperature_c: float
    flow_mm3_s: float
    filament_mm: float
    replicate: int
    reference: bool
    order: int
    """1-based place in the run sheet."""
    block: int
    """1-based temperature block; references anchor the coupons of their own block."""
    plate: int
    """1-based plate (or catch session) it is made on."""


@dataclass(frozen=True)
class BudgetLine:
    """One row of an uncertainty budget in the terms of JCGM 100:2008."""

    source: str
    evaluation: Literal["A", "B"]
    distribution: str
    half_width: float
    """Half-width or given value before the divisor, in ``unit``."""
    divisor: float
    unit: str
    standard_u: float
    sensitivity: float
    """∂loss/∂source, per ``unit``."""
    contribution: float
    """|sensitivity|·standard_u: the part of the standard uncertainty of loss (a fraction)."""
    dof: Unbounded
    """Degrees of freedom; ``inf`` where taken as known."""
    shares: str = ""
    """Rows with the same word here rest on the same observations: one component for the
    effective degrees of freedom."""


@dataclass(frozen=True)
class Budget:
    """The budget of loss at one setting (mean of its replicates against the references)."""

    lines: tuple[BudgetLine, ...]
    combined_u: float
    effective_dof: Unbounded
    coverage_factor: float
    expanded_u: float
    """coverage_factor·combined_u at 95 %."""


@dataclass(frozen=True)
class Power:
    """The smallest difference in ceiling between two rigs the plan can see at 95 %."""

    difference_mm3_s: float
    temperature_c: float
    assumed_ceiling_mm3_s: float
    """The ceiling the figure was worked out at: the middle of its flows."""


@dataclass(frozen=True)
class Outlook:
    """What one size of a trial costs and what it is expected to tell."""

    coupons: int
    """In all, references and both rigs included."""
    hours: float
    width_mm3_s: float
    """Expected mean width of a ceiling's 95 % interval."""
    planned: bool
    """These coupons are on the sheet; else they are next coupons, added where they tell most."""


@dataclass(frozen=True)
class Plan:
    """The whole plan of a trial; the same spec always gives the same plan."""

    spec: TrialSpec
    coupons: tuple[Coupon, ...]
    budget: Budget
    power: Power | None
    filament_mm: float
    replicates: int
    references_per_block: int
    total_filament_mm: float
    """Fed in all, purges included."""
    total_mass_g: float
    duration_s: float
    """Heating, soaking, purging, extruding and cooling, and a person's hands: a minute per coupon,
    five per program."""
    plates: int
    """Plates, or catch sessions."""
    notes: tuple[str, ...]
    """What the reader should know: a target not met and why, a caution."""
    digest: str
    """SHA-256 of the canonical JSON of spec and coupons, hex."""
    outlook: tuple[Outlook, ...] = ()
    """Width against hours, from these coupons on; empty in older plans."""

    @property
    def flows_mm3_s(self) -> tuple[float, ...]:
        """Flows of the sheet, references left out, rising."""
        return tuple(sorted({c.flow_mm3_s for c in self.coupons if not c.reference}))


@dataclass(frozen=True)
class Reading:
    """One weighing, as a row of the readings table."""

    rig: str
    material: str
    temperature_c: float
    flow_mm3_s: float
    filament_mm: float
    mass_g: float
    """Gross where ``tare_g`` is given, net where not."""
    coupon: str | None = None
    replicate: int | None = None
    tare_g: float | None = None
    diameter_mm: float | None = None
    """Mean filament diameter measured on this coupon's own feed."""
    reference: bool = False
    void: bool = False
    note: str | None = None

    @property
    def net_g(self) -> float:
        """Mass of the coupon alone, g."""
        return self.mass_g - (self.tare_g or 0.0)


@dataclass(frozen=True)
class JointErrors:
    """Readings whose errors belong together: bins of one trace, all from one spool and balance."""

    coupons: tuple[str, ...]
    covariance: tuple[tuple[float, ...], ...]
    """Of ln(delivered), a row and a column for each coupon."""
    worth: float
    """Readings that the size of the covariance is known from."""


@dataclass(frozen=True)
class Amendment:
    """Coupons added to a locked plan, with the reason."""

    at: datetime | None
    """When, UTC; a data package tells the day alone, or nothing."""
    what: str
    reason: str = ""
    number: int = 1
    """From 1, in the order they were made."""
    coupons: tuple[Coupon, ...] = ()
    digest: str = ""
    """Chained: of the digest before, these coupons and the reason; empty where unknown."""

    @property
    def day(self) -> str:
        """YYYY-MM-DD, or empty where unknown."""
        return f"{self.at:%Y-%m-%d}" if self.at else ""
