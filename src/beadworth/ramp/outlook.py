"""What a flow ramp will tell, before it is run: cycles against minutes, grams and width."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from beadworth.core import FILAMENT_MM, LOSS, coverage_factor, filament_section_mm2
from beadworth.ramp.delivery import expected_cycles
from beadworth.ramp.noise import Noise, learn_noise
from beadworth.ramp.placing import Placed, place_sections
from beadworth.ramp.record import PAUSE_S, RampSpec, bin_edges_mm3_s, sections_of
from beadworth.ramp.spool import USUAL_WANDER, expected_covariance
from beadworth.ramp.trace import Seconds, Trace, second_means

Array = NDArray[np.float64]
Curve = Callable[[Array, float], Array]
"""ln of the share delivered at some flows, under a ceiling."""

USUAL_LENGTH_MM = 1000.0
"""Length over which a filament stays alike where nobody weighed it (common practice, no source)."""
SHARP_FACTOR, SOFT_FACTOR = 2.1, 3.0
"""Widths found ÷ those of one who knows the curve's family (benchmarks/live_weighing.py)."""
CEILING_AT = 0.43
"""Place of the assumed ceiling in the range of flows."""
SOFT_POWER = 12.0
MOST_CYCLES = 5


@dataclass(frozen=True)
class RampOutlook:
    """What a number of cycles costs and is expected to tell."""

    cycles: int
    minutes: float
    """From the first extrusion to the last mark."""
    grams: float
    sharp_mm3_s: float
    """Expected mean width of a ceiling's interval where the knee is sharp."""
    soft_mm3_s: float
    """The same for a soft knee, (1 + (Q/K)¹²)^(−1/12)."""


def ramp_outlook(
    spec: RampSpec,
    *,
    density_g_cm3: float,
    noise: Noise | None = None,
    wander: float = USUAL_WANDER,
    filament_diameter_mm: float = FILAMENT_MM,
) -> tuple[RampOutlook, ...]:
    """One to five cycles of a ramp, and what each is expected to tell.

    Parameters
    ----------
    spec : RampSpec
        Its cycles are passed over.
    density_g_cm3 : float
    noise : Noise, optional
        As :func:`first_look` found it; left out: that of :mod:`.noise`.
    wander : float
        Relative standard deviation of the filament's section along the spool.
    filament_diameter_mm : float
    """
    section_mm2 = filament_section_mm2(filament_diameter_mm)
    out = []
    for cycles in range(1, MOST_CYCLES + 1):
        one = spec.model_copy(update={"cycles": cycles})
        sections = sections_of(one)
        found = expected_cycles(sections, noise or Noise(), density_g_cm3)
        covariance = expected_covariance(found, section_mm2, wander, USUAL_LENGTH_MM)
        sharp, soft, at = [], [], 0
        for low, high in one.ranges_mm3_s:
            edges = np.array(bin_edges_mm3_s(low, high))
            flow = 0.5 * (edges[1:] + edges[:-1])
            v = covariance[at : at + flow.size, at : at + flow.size]
            at += flow.size
            ceiling = low + CEILING_AT * (high - low)
            sharp.append(_width(flow, v, ceiling, _log_sharp))
            soft.append(_width(flow, v, ceiling, _log_soft))
        out.append(
            RampOutlook(
                cycles,
                sum(s.seconds for s in sections) / 60.0,
                sum(s.volume_mm3 for s in sections) * density_g_cm3 * 1e-3,
                SHARP_FACTOR * float(np.mean(sharp)),
                SOFT_FACTOR * float(np.mean(soft)),
            )
        )
    return tuple(out)


def _log_sharp(flow: Array, ceiling: float) -> Array:
    return np.asarray(np.minimum(0.0, np.log((1 - LOSS) * ceiling / flow)))


def _log_soft(flow: Array, ceiling: float) -> Array:
    knee = ceiling / ((1 - LOSS) ** -SOFT_POWER - 1) ** (1 / SOFT_POWER)
    return np.asarray(-np.log1p((flow / knee) ** SOFT_POWER) / SOFT_POWER)


def _width(flow: Array, covariance: Array, ceiling: float, curve: Curve) -> float:
    """Width of the ceiling's 95 % interval where all but the ceiling and the level is known."""
    step = 0.01 * ceiling
    slope = (curve(flow, ceiling + step) - curve(flow, ceiling - step)) / (2 * step)
    design = np.column_stack([np.ones(flow.size), slope])
    inner = design.T @ np.linalg.solve(covariance, design)
    return 2 * coverage_factor() * float(np.sqrt(np.linalg.inv(inner)[1, 1]))


def first_look(trace: Trace, spec: RampSpec) -> Noise:
    """The noise of balance and strand, from the minute at the lowest flow.

    Parameters
    ----------
    trace : Trace
        Of a ramp with no cycles, or of one with.
    spec : RampSpec
        What its program was made from.

    Raises
    ------
    ReadingsError
        A trace in which the steps are not to be seen.
    """
    seconds = second_means(trace)
    return learn_first(seconds, place_sections(seconds, sections_of(spec)))


def learn_first(seconds: Seconds, placed: Sequence[Placed]) -> Noise:
    """The noise in the lowest flow that each temperature begins with."""
    pieces = []
    for place in placed:
        step = place.section.steps[0]
        start = place.start_s + PAUSE_S / 2
        end = place.start_s + step.end_s - 1.0
        there = (seconds.time_s >= start) & (seconds.time_s < end)
        time = seconds.time_s[there]
        columns = np.column_stack([np.ones(time.size), time - time.mean()])
        pieces.append((time, seconds.mass_mg[there], columns))
    return learn_noise(pieces)
