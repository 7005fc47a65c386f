"""A reading of walls as it is stored: what was photographed, and what it said."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Annotated

from pydantic import Field

from beadworth.core import Record

Share = Annotated[float, Field(ge=0, le=1)]
Text = Annotated[str, Field(max_length=400)]


class Bounds(Record):
    """A value with its 95 % interval."""

    value: float
    low: float
    high: float


class StoredCause(Record):
    """One cause as it was ranked."""

    name: Annotated[str, Field(min_length=1, max_length=120)]
    probability: Share
    unit: Annotated[str, Field(max_length=20)] = Field("", description="of the period")
    period: Bounds | None = None
    size_um: Bounds | None = Field(None, description="half the height of its wave, µm")
    measured: bool = Field(
        False, description="whether its size was measured along the wall, not guessed from light"
    )


class StoredRinging(Record):
    """Ringing as it was found."""

    probability: Share
    hertz: Bounds
    damping: Bounds
    size_um: Bounds


class StoredWall(Record):
    """One photographed wall: its photo, what stood in it, and what the program said of it."""

    photo_sha256: Annotated[str, Field(pattern=r"^[0-9a-f]{64}$")]
    alt: Annotated[str, Field(min_length=1, max_length=400)] = Field(
        description="what the picture shows, for whoever cannot see it"
    )
    side: Text = Field(description="which wall of the print")
    corners: Annotated[
        tuple[Annotated[tuple[float, ...], Field(min_length=2, max_length=2)], ...],
        Field(min_length=4, max_length=4),
    ] = Field(
        description="shares of the photo's width and height: bottom left, bottom right, top right, "
        "top left"
    )
    layer_px: float = Field(description="pixels a layer")
    length_mm: float
    layer_mm: float
    speed_mm_s: float
    acceleration_mm_s2: float
    corner_mm_s: float
    filament_per_mm: float
    loop_filament_mm: float
    layer_s: float
    direction_deg: float


class CauseReading(Record):
    """What photos of a print's walls said of a rig."""

    on: date = Field(description="day it was read, as 2026-11-25")
    print_name: Text = Field(description="the print")
    verdict: Text
    causes: Annotated[tuple[StoredCause, ...], Field(min_length=1, max_length=60)]
    second: StoredCause | None = Field(None, description="what stands beside the first cause")
    ringing: StoredRinging | None = None
    ringing_probability: Share
    walls: Annotated[tuple[StoredWall, ...], Field(min_length=1, max_length=4)]
    answers: dict[str, bool] = Field({}, description="questions answered by looking, by their key")
    cannot_tell: tuple[Text, ...] = ()
    simulated: bool = Field(False, description="true for an invented reading")


@dataclass(frozen=True)
class CauseRow:
    """One cause of one reading, for open data; the name of the print stays on the bench."""

    reading: int
    rig: str
    day: str
    walls: int
    place: int
    """1 the most probable."""
    cause: str
    beside: bool
    """True for a second cause, and for ringing, beside the main one."""
    probability: float
    period: float | None
    period_low: float | None
    period_high: float | None
    period_unit: str
    size_um: float | None
    size_low_um: float | None
    size_high_um: float | None


def cause_rows(number: int, rig: str, reading: CauseReading) -> list[CauseRow]:
    """A reading as rows: its causes in order, then what stands beside the first."""

    def row(place: int, cause: StoredCause, *, beside: bool = False) -> CauseRow:
        return CauseRow(
            number, rig, str(reading.on), len(reading.walls), place,
            cause.name, beside, cause.probability, *_ends(cause.period), cause.unit,
            *_ends(cause.size_um),
        )  # fmt: skip

    rows = [row(place, cause) for place, cause in enumerate(reading.causes, start=1)]
    if reading.second is not None:
        rows.append(row(1, reading.second, beside=True))
    if reading.ringing is not None:
        found = reading.ringing
        ringing = StoredCause(name="ringing", probability=found.probability, unit="Hz",
                              period=found.hertz, size_um=found.size_um)  # fmt: skip
        rows.append(row(2 if reading.second else 1, ringing, beside=True))
    return rows


def _ends(found: Bounds | None) -> tuple[float | None, float | None, float | None]:
    return (None, None, None) if found is None else (found.value, found.low, found.high)
