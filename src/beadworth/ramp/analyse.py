"""A trace and the ramp it was recorded with become readings with one covariance."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from beadworth.core import FILAMENT_MM, Problem, ReadingsError, filament_section_mm2
from beadworth.ramp.checks import Check, checks_of, failed_checks
from beadworth.ramp.delivery import CycleDelivery, cycle_deliveries
from beadworth.ramp.noise import Noise
from beadworth.ramp.placing import Placed, place_sections
from beadworth.ramp.record import RampSpec, Section, sections_of
from beadworth.ramp.spool import Deliveries, combine_cycles
from beadworth.ramp.trace import Seconds, Trace, second_means
from beadworth.trial import JointErrors, Reading

Array = NDArray[np.float64]


@dataclass(frozen=True)
class LiveWeighing:
    """What a trace says."""

    readings: tuple[Reading, ...]
    """One for each bin of flow of each temperature."""
    joint: JointErrors
    """Their errors, which belong together."""
    checks: tuple[Check, ...]
    noise: Noise
    wander: float
    """Relative standard deviation of the filament along the spool."""
    cycles: tuple[CycleDelivery, ...]
    placed: tuple[Placed, ...]
    deliveries: Deliveries
    minutes: float
    grams: float

    @property
    def usable(self) -> bool:
        """Whether no check failed; readings of a trace that fails one are not to be used."""
        return not failed_checks(self.checks)


def analyse_trace(
    trace: Trace,
    spec: RampSpec,
    *,
    filament_diameter_mm: float = FILAMENT_MM,
    sections: Sequence[Section] | None = None,
    prefix: str = "L",
) -> LiveWeighing:
    """Delivery at every flow of a ramp, from the trace of the balance under it.

    Parameters
    ----------
    trace : Trace
        From before the program's first extrusion to after its last.
    spec : RampSpec
        What the program was made from.
    filament_diameter_mm : float
        Of the rig.
    sections : sequence of Section, optional
        Steps that were run where they are not those of ``spec``.
    prefix : str
        Coupons are called prefix, temperature, bin: ``L210-07``.

    Returns
    -------
    LiveWeighing
        Readings are there whether or not a check failed; use them only where it is ``usable``.

    Raises
    ------
    ReadingsError
        Flows that only rise; a trace that is not of this ramp.
    """
    steps = tuple(sections) if sections is not None else sections_of(spec)
    _refuse_stairs(steps)
    seconds, placed, cycles, noise = _read(
        np.asarray(trace.time_s, dtype=np.float64).tobytes(),
        np.asarray(trace.mass_g, dtype=np.float64).tobytes(),
        None if trace.stable is None else np.asarray(trace.stable, dtype=np.bool_).tobytes(),
        steps,
    )
    section_mm2 = filament_section_mm2(filament_diameter_mm)
    found = combine_cycles(cycles, section_mm2)
    flows, volumes = _bins(steps)
    low = _low(found, flows)
    readings = []
    for i, key in enumerate(zip(found.temperature_c.tolist(), found.bin.tolist(), strict=True)):
        length = volumes[key] / section_mm2
        mass = float(np.exp(found.log_mg_per_mm3[i])) * volumes[key] * 1e-3
        name = f"{prefix}{key[0]:g}-{key[1] + 1:02d}"
        readings.append(
            Reading(spec.rig, spec.material, key[0], round(flows[key], 4), length, mass, name)
        )
    joint = JointErrors(
        tuple(r.coupon or "" for r in readings),
        tuple(tuple(row) for row in (0.5 * (found.covariance + found.covariance.T)).tolist()),
        found.worth,
    )
    end = placed[-1].start_s + placed[-1].section.seconds
    return LiveWeighing(
        tuple(readings),
        joint,
        checks_of(trace, seconds, placed, noise, found, low),
        noise,
        found.wander,
        cycles,
        placed,
        found,
        (end - placed[0].start_s) / 60.0,
        sum(s.volume_mm3 for s in steps) * low * 1e-3,
    )


# one trace is read to try it, to store it, for each look at its chart, and in its package
@lru_cache(maxsize=4)
def _read(
    times: bytes, masses: bytes, stable: bytes | None, steps: tuple[Section, ...]
) -> tuple[Seconds, tuple[Placed, ...], tuple[CycleDelivery, ...], Noise]:
    """Where the steps stand in a trace, and what each cycle delivered; kept for who asks again."""
    said = None if stable is None else np.frombuffer(stable, dtype=np.bool_)
    seconds = second_means(Trace(np.frombuffer(times), np.frombuffer(masses), said))
    placed = place_sections(seconds, steps)
    return seconds, placed, *cycle_deliveries(seconds, placed)


def _refuse_stairs(sections: Sequence[Section]) -> None:
    """Flows that only rise: refused, since what warms up would pass for flow."""
    empty = [s for s in sections if not s.cycles]
    rising = [s for s in sections if not s.falls]
    problems = [
        Problem(
            f"the steps at {s.temperature_c:g} °C hold no ramp.",
            "ramp", None, "Run at least one cycle at each temperature.",
        )
        for s in empty
    ] + [
        Problem(
            f"the flows at {s.temperature_c:g} °C only rise. Stairs upwards mix flow with "
            "everything that changes in time: warming up, the spool, pressure, drift.",
            "ramp", None, "Run every flow upwards and downwards, at equal pace.",
        )
        for s in rising
    ]  # fmt: skip
    if problems:
        raise ReadingsError(problems)


def _bins(
    sections: Sequence[Section],
) -> tuple[dict[tuple[float, int], float], dict[tuple[float, int], float]]:
    """Flow at the middle of each bin, and what was fed in it in all."""
    flows: dict[tuple[float, int], list[float]] = {}
    volumes: dict[tuple[float, int], float] = {}
    for section in sections:
        for step in section.steps:
            if step.cycle:
                key = (section.temperature_c, step.bin)
                flows.setdefault(key, []).append(step.flow_mm3_s)
                volumes[key] = volumes.get(key, 0.0) + step.volume_mm3
    return {k: float(np.mean(sorted(set(v)))) for k, v in flows.items()}, volumes


def _low(found: Deliveries, flows: dict[tuple[float, int], float]) -> float:
    """Delivered mg/mm³ at the lowest third of the flows of the first temperature."""
    first = found.temperature_c == found.temperature_c[0]
    q = np.array([flows[(float(found.temperature_c[0]), int(b))] for b in found.bin[first]])
    low = q <= np.quantile(q, 0.34)
    covariance = found.covariance[np.ix_(first, first)][np.ix_(low, low)]
    weight = np.linalg.solve(covariance, np.ones(int(low.sum())))
    return float(np.exp(weight @ found.log_mg_per_mm3[first][low] / weight.sum()))
