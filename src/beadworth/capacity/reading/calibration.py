"""What a fitted trial gives the melt model to learn from."""

from __future__ import annotations

from beadworth.capacity.result import Ceiling, Fit
from beadworth.core import coverage_factor
from beadworth.melt import MeasuredCeiling


def measured_ceilings(fit: Fit, rig: str, material: str | None = None) -> list[MeasuredCeiling]:
    """The two-sided ceilings of a rig (and material) with the standard uncertainty of each."""
    return [
        MeasuredCeiling(
            c.temperature_c,
            c.flow_mm3_s,
            (c.high - c.low) / (2 * coverage_factor(confidence=c.confidence)),
            c.loss,
        )
        for c in fit.ceilings
        if c.rig == rig
        and material in (None, c.material)
        and _two_sided(c)
        and c.flow_mm3_s
        and c.low
        and c.high
    ]


def _two_sided(ceiling: Ceiling) -> bool:
    return ceiling.bound == "interval" and ceiling.basis == "readings"
