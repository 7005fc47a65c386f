"""What one wants to know, and what a witness print is asked to be."""

from __future__ import annotations

from typing import Annotated, Final, Literal

from pydantic import Field

from beadworth.core import Record

Kind = Literal["weighed pair", "melt or motion", "overhang", "layer time", "grip", "cause wall"]
KINDS: Final[tuple[Kind, ...]] = (
    "weighed pair", "melt or motion", "overhang", "layer time", "grip", "cause wall",
)  # fmt: skip
QUESTIONS: Final[dict[Kind, str]] = {
    "weighed pair": "Does the melt fall short, or the motion? The quickest answer, by weight.",
    "melt or motion": "It looks bad at the small radii: is it the hot end or the motion?",
    "overhang": "How steep an overhang, how long a bridge, at which fan and layer time?",
    "layer time": "How short may a layer be before it stays soft?",
    "grip": "How many retractions does the drive stand before it grinds the filament?",
    "cause wall": "Which part makes the pattern on my walls?",
}
"""In the order to offer them."""
Share = Annotated[float, Field(ge=0, le=1)]
Several = Annotated[tuple[Annotated[float, Field(gt=0)], ...], Field(min_length=2, max_length=8)]


class WitnessSpec(Record):
    """What a witness print is asked to be; what is left out is chosen for the rig."""

    kind: Kind = Field(description="which witness print")
    temperature_c: Annotated[float, Field(gt=100, lt=500)] = Field(
        description="nozzle temperature, °C"
    )
    ceiling_mm3_s: Annotated[float, Field(gt=0.3, lt=200)] | None = Field(
        None,
        description="flow at which the hot end begins to fall short, weighed or supposed, mm³/s; "
        "needed for weighed pair and melt or motion",
    )
    layer_mm: Annotated[float, Field(gt=0.03, lt=2)] | None = Field(
        None, description="layer height, mm; left out: half the nozzle"
    )
    fan: Share = Field(1.0, description="part fan, 0 to 1")
    seed: Annotated[int, Field(ge=0, lt=2**31)] = Field(
        1, description="number that the order of the bands and their codes are drawn from"
    )
    grams: Annotated[float, Field(ge=0.5, le=10)] = Field(
        2.0, description="weighed pair: mass of each, g"
    )
    angles_deg: Annotated[
        tuple[Annotated[float, Field(ge=5, le=80)], ...], Field(min_length=2, max_length=8)
    ] = Field((30.0, 40.0, 47.0, 54.0, 61.0, 68.0), description="overhang: degrees from upright")
    fans: Annotated[tuple[Share, ...], Field(min_length=1, max_length=4)] = Field(
        (1.0, 0.6, 0.3), description="overhang: part fan, 0 to 1"
    )
    layer_times_s: Annotated[
        tuple[Annotated[float, Field(ge=1, le=60)], ...], Field(min_length=1, max_length=4)
    ] = Field((14.0, 7.0), description="overhang: time of a layer, s")
    spans_mm: Annotated[
        tuple[Annotated[float, Field(ge=3, le=60)], ...], Field(min_length=1, max_length=6)
    ] = Field((8.0, 14.0, 20.0, 28.0), description="overhang: bridges, mm")
    passes: Several = Field(
        (1.0, 3.0, 5.0, 9.0, 13.0, 19.0),
        description="grip: times the drive passes over each piece of filament",
    )
    speeds_mm_s: Annotated[
        tuple[Annotated[float, Field(gt=5, lt=500)], ...], Field(min_length=2, max_length=2)
    ] = Field((50.0, 83.0), description="cause wall: two speeds, mm/s")
    longest_mm: Annotated[float, Field(gt=0.5, le=60)] | None = Field(
        None,
        description="cause wall: longest repeat along a wall that it is to show, mm; left out: as "
        "long as the bed allows",
    )
