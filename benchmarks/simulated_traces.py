"""Traces of simulated balances under a simulated nozzle: the physics, stated.

The flow that is commanded follows the steps of a flow ramp. What reaches the balance:

* the printer's clock is off by up to 0.2 % (moves take a little longer than reckoned), and heating
  takes a time that nobody knows;
* pressure lags behind the drive (first order, 0.5 to 3 s), melt temperature behind the flow (loss
  is that of the flow, first order, 2 to 8 s);
* the first minute of a temperature delivers up to 1 % less (warm-up, 10 to 30 s);
* the filament's section wanders along the spool (Ornstein and Uhlenbeck, 0.3 to 3 m);
* a strand hangs from the nozzle: 0 to 2 mg more for each mm³/s, and 2 to 10 mg (even in their
  logarithm) that come and go in 2 to 6 s; about once in two minutes a lump of 5 to 40 mg holds on
  and drops with a knock of up to 100 mg for 0.2 s;
* the balance follows first order in 0.3 to 2 s, drifts up to 1 mg a minute and wanders by 3 mg
  in 5 minutes, has 1 mg of draught, steps of 1 mg, and five readings a second.

A balance that tracks its zero takes away what rises slower than 0.5 steps of 1 or 10 mg a second,
or so much of every rise. All sizes are invented; nothing here is the analysis' own.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.signal import lfilter

from beadworth.ramp import RAISE_AFTER_S, Section

Array = NDArray[np.float64]
Delivered = Callable[[Array], Array]
"""Delivered ÷ commanded at some flows."""
DENSITY_MG_MM3 = 1.24
DT_S = 0.1


@dataclass(frozen=True)
class Bench:
    """One simulated bench; ``draw`` draws one."""

    spool: float = 0.004
    spool_mm: float = 1000.0
    hang_mg: float = 5.0
    hang_s: float = 4.0
    hang_per_flow_mg: float = 1.0
    lumps_per_s: float = 1 / 120
    drift_mg_min: float = 0.3
    clock: float = 1.0
    pressure_s: float = 1.5
    melt_s: float = 4.0
    warm_up: float = 0.005
    warm_up_s: float = 20.0
    filter_s: float = 1.0
    step_mg: float = 1.0
    rate_hz: float = 5.0
    tracking: str = "none"
    """none; slow: rises under ``tracking_mg_s`` vanish; share: that much of every rise vanishes."""
    tracking_mg_s: float = 0.5
    bridge_mg: float = 0.0
    """What the pile carries until the nozzle is raised."""
    cup_s: float = 1.0
    """Offset of the balance's clock."""


def draw(rng: np.random.Generator, spool: float, **fixed: object) -> Bench:
    """A bench with everything but the spool's scatter drawn from its range."""
    one = Bench(
        spool=spool,
        spool_mm=float(np.exp(rng.uniform(np.log(300), np.log(3000)))),
        hang_mg=float(np.exp(rng.uniform(np.log(2), np.log(10)))),
        hang_s=float(rng.uniform(2, 6)),
        hang_per_flow_mg=float(rng.uniform(0, 2)),
        drift_mg_min=float(rng.uniform(-1, 1)),
        clock=float(1 + rng.uniform(0, 0.002)),
        pressure_s=float(rng.uniform(0.5, 3)),
        melt_s=float(rng.uniform(2, 8)),
        warm_up=float(rng.uniform(0, 0.01)),
        warm_up_s=float(rng.uniform(10, 30)),
        filter_s=float(rng.uniform(0.3, 2)),
        cup_s=float(rng.uniform(-2, 2)),
    )
    return replace(one, **fixed)


def _lagged(x: Array, tau_s: float) -> Array:
    a = 1 - np.exp(-DT_S / max(tau_s, 1e-3))
    return np.asarray(lfilter([a], [1, a - 1], x, zi=[(1 - a) * x[0]])[0])


def _wander(rng: np.random.Generator, count: int, sd: float, per: float) -> Array:
    """An Ornstein–Uhlenbeck process in steps, ``per`` steps long."""
    a = np.exp(-1 / per)
    e = rng.standard_normal(count) * sd * np.sqrt(1 - a * a)
    e[0] = rng.standard_normal() * sd
    return np.asarray(lfilter([1.0], [1.0, -a], e))


def trace(
    sections: tuple[Section, ...],
    delivered: tuple[Delivered, ...],
    bench: Bench,
    rng: np.random.Generator,
    section_mm2: float = 2.405,
) -> tuple[Array, Array]:
    """Times (s) and masses (g) as the balance reads them; the cup is lifted at begin and end."""
    flow, kept, raised, cup = _commanded(sections, delivered, bench, rng)
    pressed = _lagged(flow, bench.pressure_s)
    count = flow.size
    x_mm = np.cumsum(pressed) * DT_S / section_mm2
    grid = np.arange(0.0, x_mm[-1] + 20.0, 10.0)
    wander = np.interp(x_mm, grid, _wander(rng, grid.size, bench.spool, bench.spool_mm / 10.0))
    left = DENSITY_MG_MM3 * pressed * kept * (1 + wander) * DT_S
    hang = bench.hang_per_flow_mg * pressed
    moving = np.minimum(pressed, 1.0)
    hang = hang + moving * _wander(rng, count, bench.hang_mg, bench.hang_s / DT_S)
    knocks = np.zeros(count)
    for at in np.flatnonzero(rng.random(count) < bench.lumps_per_s * DT_S * moving):
        n = int(rng.uniform(3, 10) / DT_S)
        hang[at : at + n] += rng.uniform(5, 40) * np.linspace(0, 1, hang[at : at + n].size)
        knocks[at + n : at + n + 2] += rng.uniform(20, 100)
    mass = np.cumsum(left) - hang + knocks
    if bench.bridge_mg:
        mass = mass - bench.bridge_mg * np.where(raised, 0.0, np.minimum(mass / 1000.0, 1.0))
    mass = mass + bench.drift_mg_min * np.arange(count) * DT_S / 60
    mass = mass + _wander(rng, count, 3.0, 300 / DT_S)
    seen = _lagged(mass, bench.filter_s)
    zero = _tracked(seen, bench) - seen
    seen = np.where(cup, 3000.0, 50_000.0 + seen) + zero + rng.standard_normal(count)
    every = round(1 / bench.rate_hz / DT_S)
    time = np.arange(count) * DT_S + bench.cup_s
    return time[::every], np.round(seen[::every] / bench.step_mg) * bench.step_mg * 1e-3


def _tracked(mass: Array, bench: Bench) -> Array:
    if bench.tracking == "none":
        return mass
    rise = np.diff(mass, prepend=mass[0]) / DT_S
    slow = _lagged(rise, 1.0)
    if bench.tracking == "slow":
        rise = np.where(np.abs(slow) < bench.tracking_mg_s, 0.0, rise)
    else:
        rise = rise - np.clip(slow, -bench.tracking_mg_s, bench.tracking_mg_s)
    return np.asarray(np.cumsum(rise) * DT_S)


def _commanded(
    sections: tuple[Section, ...],
    delivered: tuple[Delivered, ...],
    bench: Bench,
    rng: np.random.Generator,
) -> tuple[Array, Array, Array, Array]:
    """Flow, share delivered, whether the nozzle was raised, whether the cup is off."""
    flows, kept, up, cup = [], [], [], []

    def quiet(seconds: float, off: tuple[float, float] | None = None) -> None:
        n = round(seconds / DT_S)
        flows.append(np.zeros(n))
        kept.append(np.ones(n))
        up.append(np.zeros(n, dtype=bool))
        t = np.arange(n) * DT_S
        cup.append((t > off[0]) & (t < off[1]) if off else np.zeros(n, dtype=bool))

    quiet(60.0, (20.0, 30.0))
    for section, f in zip(sections, delivered, strict=True):
        quiet(float(rng.uniform(60, 170)))
        n = round(section.seconds * bench.clock / DT_S)
        t = np.arange(n) * DT_S / bench.clock
        ends = np.array([s.end_s for s in section.steps])
        at = np.minimum(np.searchsorted(ends, t, side="right"), len(ends) - 1)
        q = np.array([s.flow_mm3_s for s in section.steps])[at]
        felt = _lagged(q, bench.melt_s)
        share = f(np.maximum(felt, 0.1)) * (1 - bench.warm_up * np.exp(-t / bench.warm_up_s))
        cycles = np.array([s.cycle for s in section.steps])
        first_end = ends[cycles == 1].max() if (cycles == 1).any() else np.inf
        flows.append(q)
        kept.append(share)
        up.append(t > first_end + RAISE_AFTER_S)
        cup.append(np.zeros(n, dtype=bool))
    quiet(70.0, (30.0, 40.0))
    return tuple(np.concatenate(a) for a in (flows, kept, up, cup))
