"""The JSON bodies that routes take, checked as records."""

from __future__ import annotations

from typing import Annotated, Any

from pydantic import Field

from beadworth.core import Record
from beadworth.material import Material
from beadworth.rig import Rig
from beadworth.trial import TrialSpec
from beadworth.workflow import (
    MOST_WALLS,
    JournalEntry,
    LookSheet,
    RampSpec,
    WearEntry,
    WitnessSpec,
    WorthCase,
)

Share = Annotated[float, Field(ge=0, le=1)]
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
    entry_key: Annotated[str, Field(pattern=r"^[A-Za-z0-9_-]{8,64}$")] | None = Field(
        None, description="chosen by the sender: sent again under the same key it counts once"
    )


class WitnessOrder(Record):
    """A witness print to record, and how it will be graded."""

    rig: Annotated[str, Field(min_length=1, max_length=80)]
    material: Annotated[str, Field(min_length=1, max_length=80)] = Field(
        description="a generic polymer, or a material of the bench"
    )
    spec: WitnessSpec
    graders: Annotated[int, Field(ge=1, le=8)] = 1
    looks: Annotated[int, Field(ge=1, le=3)] = 2


class LiveTrace(Record):
    """A trace recorded under a flow ramp."""

    ramp: RampSpec
    trace: Annotated[str, Field(max_length=3_500_000)] = Field(
        description="table (CSV) with time_s, mass_g and perhaps stable"
    )
    note: Annotated[str, Field(max_length=500)] = Field("", description="what was seen")


class WallPhotographed(Record):
    """One wall of a print, and a photo of it."""

    wall: Annotated[int, Field(ge=1, le=100_000)] = Field(
        description="its number, as GET /api/cause/walls lists them, from 1"
    )
    photo: Annotated[str, Field(min_length=1, json_schema_extra={"contentEncoding": "base64"})] = (
        Field(description="the file (JPEG, PNG or WebP, up to 15 MB), in base64 (RFC 4648)")
    )
    corners: Annotated[
        tuple[Annotated[tuple[Share, ...], Field(min_length=2, max_length=2)], ...],
        Field(min_length=4, max_length=4),
    ] = Field(
        description="shares of the photo's width and height from its top left: bottom left, bottom "
        "right, top right, top left of the wall"
    )


class CauseRequest(Record):
    """Photos of a print's walls, to be told what makes their pattern."""

    rig: Annotated[str, Field(min_length=1, max_length=120)]
    of: Annotated[str, Field(min_length=1, max_length=200)] = Field(
        description="the print: witness 12, or the id of a print of the bench"
    )
    walls: Annotated[tuple[WallPhotographed, ...], Field(min_length=1, max_length=MOST_WALLS)]
    answers: dict[str, bool] = Field({}, description="to questions, by their key")
    gauge: Annotated[str, Field(max_length=200_000)] | None = Field(
        None, description="a row measured along the first wall: place,offset in mm, one a line"
    )


class Reason(Record):
    """Why a reading does not count."""

    reason: Annotated[str, Field(min_length=1, max_length=300)]


class AmendmentRequest(Record):
    """Which coupons to add to a locked plan, and why."""

    count: Annotated[int, Field(ge=1, le=60)] = Field(description="coupons to add")
    loss: Annotated[float, Field(ge=0.005, le=0.2)] | None = None
    reason: Annotated[str, Field(min_length=1, max_length=300)]


NameOrRecord = str | dict[str, Any]
Celsius = Annotated[float, Field(gt=0, lt=1000)]


class FitRequest(Record):
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


class PredictionRequest(Record):
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
    AmendmentRequest,
    FitRequest,
    PredictionRequest,
    WearEntry,
    JournalEntry,
    WorthCase,
    WitnessOrder,
    LookSheet,
    LiveTrace,
    CauseRequest,
)
"""Every body a route takes."""
