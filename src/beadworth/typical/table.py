"""The table of typical flows by class: what a source prints, or common practice named so."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Zone = Literal["standard", "long", "very long"]
Bore = Literal["fine", "usual", "wide"]
PRACTICE = "common practice, no source"
MEASURED_2024 = "doi:10.1007/s40192-024-00350-w (2024), table 3"


@dataclass(frozen=True)
class TypicalRow:
    """One row of the built-in table: a flow, or a range of them, and where it comes from."""

    zone: Zone | None
    """None where the source does not state the melt zone."""
    bore: Bore
    nozzle_mm: float
    polymer: str
    temperature_c: float
    low_mm3_s: float
    high_mm3_s: float
    """Equal to the low end where one value is told."""
    what: Literal["ceiling", "drive slips"]
    """"ceiling": where delivery falls off. "drive slips": the feed is a quarter short, far beyond
    any ceiling; drawn apart and never compared."""
    source: str


def _practice(zone: Zone, temperature: float, low: float, high: float, more: str) -> TypicalRow:
    return TypicalRow(zone, "usual", 0.4, "PLA", temperature, low, high, "ceiling",
                      f"{PRACTICE}{more}")  # fmt: skip


TABLE: tuple[TypicalRow, ...] = (
    _practice("standard", 220.0, 8.0, 12.0, "; a range from memory"),
    _practice("long", 210.0, 13.0, 13.0, "; a 20 mm melt zone"),
    _practice("long", 220.0, 14.5, 14.5, "; a 20 mm melt zone"),
    _practice("long", 230.0, 16.0, 16.0, "; a 20 mm melt zone"),
    _practice("very long", 220.0, 20.0, 30.0, "; a range from memory"),
    *(
        TypicalRow(None, "wide", 0.8, "ABS", temperature, flow, flow, "drive slips", MEASURED_2024)
        for flow, temperature in (
            (5.0, 155.0), (10.0, 167.0), (15.0, 181.0), (20.0, 201.0), (25.0, 225.0),
        )
    ),
)  # fmt: skip
