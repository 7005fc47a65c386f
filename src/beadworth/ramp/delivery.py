"""Delivery in every bin of flow of one cycle, up and down, by one generalised least squares.

The mass of a second is what each bin has fed so far times what it delivered per volume, plus a
start, a straight drift, a delay, and correlated noise (:mod:`.noise`). The delay takes up the
clocks' offset, pressure, the balance's filter and a strand that grows with flow: all of them bring
the mass late, and up and down legs of equal flow show it with opposite signs.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from beadworth.ramp.noise import Noise, learn_noise
from beadworth.ramp.placing import Placed
from beadworth.ramp.record import PAUSE_S, Section, Step
from beadworth.ramp.trace import Seconds

Array = NDArray[np.float64]

DRIFT_SD_MG_S = 0.03
"""A balance drifts by about this much beforehand: 1 mg in half a minute (assumption)."""
DELAY_SD_S, STRETCH_SD_S = 5.0, 1.0
"""What a delay may be off after it was looked for, and grow by over a cycle (assumptions)."""
EARLY_BINS = 6
LANDED_S = 11.0
"""After the last step: before the nozzle rises."""
LAGS_S = (0.0, 1.0, 2.0, 3.0, 4.5)
ROUNDS = 4
EVERY_S = 2
"""Noise is learnt from means of so many seconds: enough for what is alike over four."""


@dataclass(frozen=True)
class CycleDelivery:
    """What one cycle delivered; rows are the bins upwards, then the same bins downwards."""

    temperature_c: float
    cycle: int
    bin: NDArray[np.int64]
    up: NDArray[np.bool_]
    mg_per_mm3: Array
    covariance: Array
    """Of ``mg_per_mm3``, spool left out."""
    begin_mm3: Array
    """Place of each row on the spool: volume fed since the trace's first extrusion."""
    end_mm3: Array
    delay_s: float
    chi2: float
    """Weighted square of the misfit for each degree of freedom; 1 where the noise is right."""
    time_s: Array
    mass_mg: Array
    fitted_mg: Array


@dataclass(frozen=True)
class Late:
    """How late the mass comes: by a delay, and drawn out as a first-order lag draws it."""

    delay_s: float
    lag_s: float

    def times(self, time_s: Array) -> list[tuple[Array, float]]:
        """Times whose average, so weighted, is what a time shows (Gauss–Laguerre nodes)."""
        return [
            (time_s - self.delay_s - self.lag_s * float(x), float(w))
            for x, w in zip(*_NODES, strict=True)
        ]

    def later(self, seconds: float) -> Late:
        """The same, delayed further."""
        return Late(self.delay_s + seconds, self.lag_s)


_NODES = np.polynomial.laguerre.laggauss(8)


@dataclass(frozen=True)
class _Cycle:
    temperature: float
    number: int
    steps: tuple[Step, ...]
    start_s: float
    time: Array
    mass: Array
    before_mm3: float

    @property
    def keys(self) -> list[tuple[bool, int]]:
        """(up, bin) of each row, upwards first."""
        bins = sorted({s.bin for s in self.steps})
        return [(True, b) for b in bins] + [(False, b) for b in bins]

    def shares(self) -> Array:
        """How far each row's delivery counts in each step, (steps, rows).

        Delivery runs straight from the middle of one bin to the next, so that a loss that grows
        inside a bin is no noise; beyond the outermost middles it stays.
        """
        out = np.zeros((len(self.steps), len(self.keys)))
        flow = np.array([s.flow_mm3_s for s in self.steps])
        bins = np.array([s.bin for s in self.steps])
        names = np.unique(bins)
        middle = np.array([flow[bins == b].mean() for b in names])
        for k in range(names.size):
            hat = np.interp(flow, middle, np.arange(names.size) == k)
            up = np.array([s.kind == "up" for s in self.steps])
            out[up, k] = hat[up]
            out[~up, k + names.size] = hat[~up]
        return out

    def fed(self, late: Late) -> Array:
        """Volume each row has fed until each second, (seconds, rows)."""
        edges = np.array([self.steps[0].start_s, *(s.end_s for s in self.steps)])
        each = np.array([s.volume_mm3 for s in self.steps])[:, None] * self.shares()
        fed = np.vstack([np.zeros(each.shape[1]), np.cumsum(each, axis=0)])
        out = np.zeros((self.time.size, each.shape[1]))
        for at, weight in late.times(self.time - self.start_s):
            place = np.clip(np.searchsorted(edges, at, side="right") - 1, 0, edges.size - 2)
            share = np.clip((at - edges[place]) / np.diff(edges)[place], 0.0, 1.0)[:, None]
            out += weight * (fed[place] * (1 - share) + fed[place + 1] * share)
        return out

    def flow(self, late: Late) -> Array:
        """Flow at each second."""
        edges = np.array([self.steps[0].start_s, *(s.end_s for s in self.steps)])
        flow = np.array([0.0, *(s.flow_mm3_s for s in self.steps), 0.0])
        return np.asarray(
            sum(
                weight * flow[np.searchsorted(edges, at, side="right")]
                for at, weight in late.times(self.time - self.start_s)
            )
        )


def cycle_deliveries(
    seconds: Seconds, placed: Sequence[Placed]
) -> tuple[tuple[CycleDelivery, ...], Noise]:
    """Delivery of every bin of every cycle of a trace, and the noise it was found with."""
    cycles = _cycles(seconds, placed)
    firsts = [c for c in cycles if c.number == 1]
    noise = learn_noise([_piece(c, _early_lateness(c)) for c in firsts])
    found = [_solve(c, noise) for c in cycles]
    scale = max(float(np.mean([c.chi2 for c in found])), 0.5)
    return tuple(replace(c, covariance=scale * c.covariance) for c in found), noise


def _cycles(seconds: Seconds, placed: Sequence[Placed]) -> list[_Cycle]:
    cycles, before = [], 0.0
    for place in placed:
        for steps in place.section.cycles:
            low = place.start_s + steps[0].start_s - PAUSE_S / 2
            high = place.start_s + steps[-1].end_s + LANDED_S
            there = (seconds.time_s >= low) & (seconds.time_s < high)
            fed = sum(s.volume_mm3 for s in place.section.steps if s.end_s <= steps[0].start_s)
            cycles.append(
                _Cycle(place.section.temperature_c, steps[0].cycle, steps, place.start_s,
                       seconds.time_s[there], seconds.mass_mg[there], before + fed)
            )  # fmt: skip
        before += place.section.volume_mm3
    return cycles


def _early_lateness(cycle: _Cycle) -> Late:
    """The delay and lag at which a constant delivery comes nearest to the first mass.

    Only the first bins of the leg upwards count: nothing is lost there yet.
    """
    first = [s for s in cycle.steps if s.kind == "up" and s.bin < EARLY_BINS]
    start = cycle.start_s + first[0].start_s
    low = cycle.time < cycle.start_s + first[-1].end_s
    time, mass = cycle.time[low] - start, cycle.mass[low]
    edges = np.array([0.0, *(s.end_s - first[0].start_s for s in first)])
    fed = np.concatenate([[0.0], np.cumsum([s.volume_mm3 for s in first])])
    best, found = np.inf, Late(0.0, 1.0)
    for lag in LAGS_S:
        for delay in np.arange(-12.0, 12.01, 0.5):
            late = Late(float(delay), lag)
            total = np.asarray(sum(w * np.interp(at, edges, fed) for at, w in late.times(time)))
            columns = np.column_stack([total, np.ones(time.size)])
            inner = columns.T @ columns
            off = mass - columns @ np.linalg.solve(inner + 1e-9 * np.eye(2), columns.T @ mass)
            if off @ off < best:
                best, found = float(off @ off), late
    return found


def _piece(cycle: _Cycle, late: Late) -> tuple[Array, Array, Array]:
    """What the noise is learnt from: every other second's pair averaged."""
    n = cycle.time.size // EVERY_S * EVERY_S
    columns = np.column_stack([cycle.fed(late), np.ones(cycle.time.size), cycle.flow(late),
                               cycle.time - cycle.time.mean()])  # fmt: skip

    def mean(values: Array) -> Array:
        return np.asarray(values[:n].reshape(n // EVERY_S, EVERY_S, -1).mean(axis=1))

    return mean(cycle.time)[:, 0], mean(cycle.mass)[:, 0], mean(columns)


def _solve(cycle: _Cycle, noise: Noise) -> CycleDelivery:
    from scipy.linalg import cho_factor, cho_solve

    rows = len(cycle.keys)
    factor = cho_factor(noise.covariance(cycle.time), lower=True, check_finite=False)
    late = _early_lateness(cycle)
    mean = (cycle.mass[-1] - cycle.mass[0]) / cycle.fed(late)[-1].sum()
    rounds = 0
    while True:
        columns = _columns(cycle, late, mean)
        solved = cho_solve(factor, columns, check_finite=False)
        inverse = np.linalg.inv(columns.T @ solved + np.diag(_prior(cycle, rows)))
        found = inverse @ (solved.T @ cycle.mass)
        mean = float(np.median(found[:rows]))
        rounds += 1
        if rounds == ROUNDS:
            break
        late = late.later(float(np.clip(found[rows + 2], -3.0, 3.0)))
    off = cycle.mass - columns @ found
    chi2 = float(off @ cho_solve(factor, off, check_finite=False)) / (off.size - rows - 2)
    begin, end = _places(cycle)
    keys = cycle.keys
    return CycleDelivery(
        cycle.temperature,
        cycle.number,
        np.array([b for _, b in keys]),
        np.array([u for u, _ in keys]),
        found[:rows],
        np.asarray(inverse[:rows, :rows], dtype=np.float64),
        begin,
        end,
        late.delay_s + late.lag_s,
        chi2,
        cycle.time,
        cycle.mass,
        columns @ found,
    )


def _columns(cycle: _Cycle, late: Late, mean_mg_mm3: float) -> Array:
    """What the mass is made of: each row's feed, a start, a drift, a delay and its growth."""
    along = (cycle.time - cycle.time.mean()) / (cycle.time[-1] - cycle.time[0])
    rate = -cycle.flow(late) * mean_mg_mm3
    fed = cycle.fed(late)
    return np.column_stack([fed, np.ones(cycle.time.size), along, rate, rate * along])


def _prior(cycle: _Cycle, rows: int) -> Array:
    """Beforehand drift, delay and its growth are about nought; deliveries and start are free."""
    prior = np.zeros(rows + 4)
    span = cycle.time[-1] - cycle.time[0]
    prior[rows + 1 :] = (DRIFT_SD_MG_S * span) ** -2, DELAY_SD_S**-2, STRETCH_SD_S**-2
    return prior


def expected_cycles(
    sections: Sequence[Section], noise: Noise, mg_per_mm3: float
) -> tuple[CycleDelivery, ...]:
    """What a ramp that is not yet run would be known to: its cycles, without a trace."""
    out, before = [], 0.0
    for section in sections:
        solved = None
        for steps in section.cycles:
            time = np.arange(steps[0].start_s - PAUSE_S / 2, steps[-1].end_s + LANDED_S)
            fed = sum(s.volume_mm3 for s in section.steps if s.end_s <= steps[0].start_s)
            cycle = _Cycle(section.temperature_c, steps[0].cycle, steps, 0.0, time, time,
                           before + fed)  # fmt: skip
            if solved is None:  # every cycle of a temperature is known alike
                columns = _columns(cycle, Late(0.0, 2.0), mg_per_mm3)
                rows = len(cycle.keys)
                weighted = columns.T @ np.linalg.solve(noise.covariance(time), columns)
                inverse = np.linalg.inv(weighted + np.diag(_prior(cycle, rows)))
                solved = np.asarray(inverse[:rows, :rows], dtype=np.float64)
            begin, end = _places(cycle)
            keys = cycle.keys
            out.append(
                CycleDelivery(
                    section.temperature_c, cycle.number, np.array([b for _, b in keys]),
                    np.array([u for u, _ in keys]), np.full(len(keys), mg_per_mm3), solved,
                    begin, end, 0.0, 1.0, time, time, time,
                )
            )  # fmt: skip
        before += section.volume_mm3
    return tuple(out)


def _places(cycle: _Cycle) -> tuple[Array, Array]:
    """Where on the spool each row begins and ends, mm³."""
    keys = cycle.keys
    begin, end = np.full(len(keys), np.inf), np.zeros(len(keys))
    at = cycle.before_mm3
    for step in cycle.steps:
        k = keys.index((step.kind == "up", step.bin))
        begin[k] = min(begin[k], at)
        at += step.volume_mm3
        end[k] = max(end[k], at)
    return begin, end
