"""The JSON bodies of the trial routes, for checking what comes in and describing what goes out."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import BaseModel, Field

from beadworth.core import Record
from beadworth.material import Material
from beadworth.rig import Rig
from beadworth.trial import TrialSpec
from beadworth.wear import JournalEntry, WearEntry
from beadworth.worth import WorthCase

Mass = Annotated[float, Field(ge=0, le=1e6)]


class Entry(Record):
    """One weighing of a coupon of the run sheet."""

    coupon: Annotated[str, Field(min_length=1, max_length=40)]
    mass_g: Mass = Field(description="gross where tare_g is given, net where not, g")
    tare_g: Mass | None = Field(None, description="mass of the container, g")
    diameter_mm: Annotated[float, Field(gt=0.5, lt=5)] | None = Field(
        None, description="filament diameter measured on this coupon's own feed, mm"
    )
    note: Annotated[str, Field(max_length=500)] | None = None
    supersedes: Annotated[int, Field(ge=1, lt=2**31)] | None = Field(
        None, description="number of the reading this one takes the place of"
    )
    reason: Annotated[str, Field(min_length=1, max_length=300)] | None = Field(
        None, description="why it is superseded"
    )


class Reason(Record):
    """Why a reading does not count."""

    reason: Annotated[str, Field(min_length=1, max_length=300)]


class NextAsked(Record):
    """Which coupons to add to a locked plan, and why."""

    count: Annotated[int, Field(ge=1, le=60)] = Field(description="coupons to add")
    loss: Annotated[float, Field(ge=0.005, le=0.2)] | None = None
    reason: Annotated[str, Field(min_length=1, max_length=300)]


NameOrRecord = str | dict[str, Any]
Celsius = Annotated[float, Field(gt=0, lt=1000)]


class FitAsked(Record):
    """A fit check: two rigs, and what is to be printed."""

    parent: NameOrRecord = Field(description="rig as it is: a name on the bench, or a record")
    upgrade: NameOrRecord = Field(
        description="a rig on the bench by name, or only the fields that change"
    )
    material: NameOrRecord | None = Field(
        None, description="generic polymer, a name on the bench, or a record"
    )
    temperature_c: Celsius | None = Field(None, description="nozzle temperature wanted, °C")
    flow_mm3_s: Annotated[float, Field(gt=0, lt=10_000)] | None = Field(
        None, description="flow wanted, mm³/s"
    )


class PredictAsked(Record):
    """A melt prediction: a rig, a material, temperatures."""

    rig: NameOrRecord = Field(description="a name on the bench, or a record")
    material: NameOrRecord = Field(description="generic polymer, a name on the bench, or a record")
    temperatures_c: Annotated[tuple[Celsius, ...], Field(min_length=1, max_length=20)] = Field(
        description="nozzle temperatures, °C"
    )
    calibrate_with: str | None = Field(
        None, description="trial on this rig and material to calibrate with"
    )


BODIES: tuple[type[Record], ...] = (
    Rig,
    Material,
    TrialSpec,
    Entry,
    Reason,
    NextAsked,
    FitAsked,
    PredictAsked,
    WearEntry,
    JournalEntry,
    WorthCase,
)
"""Every body a route takes."""


class TrialLine(BaseModel):
    """A trial in a list."""

    id: str
    readings: int = Field(description="readings that count now")
    simulated: bool
    question: str


class Trials(BaseModel):
    """Every trial on the bench, newest first."""

    trials: list[TrialLine]


class TrialShape(BaseModel):
    """One trial: question, record, plan, lock."""

    id: str
    question: str
    simulated: bool
    created_at: str
    locked_at: str | None
    digest: str | None
    spec: dict[str, Any] | None
    plan: dict[str, Any] | None
    amendments: list[dict[str, Any]]


class PlanShape(BaseModel):
    """A plan that is worked out and not kept."""

    plan: dict[str, Any]


class PlannedShape(BaseModel):
    """A plan that is kept as a trial."""

    trial: str
    plan: dict[str, Any]


class SheetShape(BaseModel):
    """The run sheet; ``net_g`` is null where nothing counts yet."""

    coupons: list[dict[str, Any]]


class StoredShape(BaseModel):
    """One reading as the bench keeps it."""

    reading_id: int
    state: Literal["current", "void", "superseded"]
    at: str
    reason: str | None
    supersedes: int | None
    source: str
    reading: dict[str, Any]


class ReadingsShape(BaseModel):
    """Every reading in order of entry, void and superseded ones too."""

    readings: list[StoredShape]


class DoubtShape(BaseModel):
    """A coupon that should be weighed or run once more, and why."""

    coupon: str
    reason: str


class AnswerShape(BaseModel):
    """What an entry is answered with; the reading is committed before."""

    reading_id: int
    coupon: str
    net_g: float
    loss: float | None
    u_loss: float | None = Field(description="null until there is a curve")
    fitted_loss: float | None = Field(description="where the curve of the others has it")
    low: float | None = Field(
        description="lowest loss of a good coupon here, 95 %; null while the curve is open"
    )
    high: float | None
    p_value: float | None
    again: bool = Field(description="true where it should be weighed or run once more")
    reason: str
    earlier: DoubtShape | None = Field(
        description="a coupon weighed before that the others now put out of line"
    )
    sentence: str


class ImportedShape(BaseModel):
    """How many readings a table brought, and to which trial."""

    trial: str
    readings: int


class CeilingShape(BaseModel):
    """The flow at a stated loss; ``low`` or ``high`` null where unknown."""

    rig: str
    material: str
    temperature_c: float
    loss: float
    flow_mm3_s: float | None
    low: float | None
    high: float | None
    bound: Literal["interval", "at-least", "at-most"]


class FitShape(BaseModel):
    """Everything read from the readings of a trial."""

    ceilings: list[CeilingShape]
    delivery: list[dict[str, Any]]
    law: list[dict[str, Any]]
    fit: dict[str, Any]


class NextShape(BaseModel):
    """Coupons to add and what they are expected to bring."""

    coupons: list[dict[str, Any]]
    widths: list[dict[str, Any]]
    mean_now: float
    mean_after: float
    widest_now: float
    widest_after: float
    sentence: str


class AmendedShape(BaseModel):
    """An amendment of a plan: its number, the digest after it, the coupons it added."""

    number: int
    digest: str
    coupons: list[dict[str, Any]]


class SpeedsShape(BaseModel):
    """A speed sheet: a setting per temperature, a row per bead."""

    loss: float
    reserve: float
    settings: list[dict[str, Any]]
    rows: list[dict[str, Any]]
    notes: list[str]


class CompareShape(BaseModel):
    """Baseline and candidate over their common temperatures."""

    baseline: str
    candidate: str
    baseline_material: str
    candidate_material: str
    loss: float
    confidence: float
    width_mm: float
    layer_mm: float
    price: float | None
    currency: str | None
    differences: list[dict[str, Any]]
    notes: list[str]
    sentence: str
