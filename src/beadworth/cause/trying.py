"""One source held against the walls: its log evidence over what the rig leaves open.

What all layers share is read from the whitened profile, the rest from the two-dimensional
spectrum.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from beadworth.cause.evidence import log_mean
from beadworth.cause.harmonic import steady_evidence, with_second
from beadworth.cause.profile import Profile, profile
from beadworth.cause.sources import Source
from beadworth.cause.spectrum import SHARED, Spectrum, spectrum
from beadworth.cause.wall import CLOCK_U, Matrix, WallSide

FEWEST_PERIODS = 2.5
"""Periods of a place-locked source that a wall must hold: fewer look like the lamp's gradient."""
FINEST_SLANTED = 0.6
"""Cycles/mm under which something slanted of no known source is looked for: above, harmonics of the
layer lines and the pixel grid make waves of their own. Seen on simulated walls."""
OWN = 0.1
"""Chance that a photo has a slanted wave of its own, of camera or lens and not of the printer;
assumed."""
_CLOCK = np.linspace(-2.2, 2.2, 13)
_CLOCK_LOG = -(_CLOCK**2) / 2


@dataclass(frozen=True)
class Reading:
    """One wall as it is read: its program, its spectrum and its profile."""

    wall: WallSide
    matrix: Matrix
    spectrum: Spectrum
    profile: Profile


def read_wall(matrix: Matrix, wall: WallSide) -> Reading:
    """Spectrum and whitened profile of one wall."""
    return Reading(wall, matrix, spectrum(matrix), profile(matrix, wall))


def log_grid(source: Source, count: int) -> tuple[np.ndarray, np.ndarray]:
    """Values of a source's period and their log weights."""
    spaced = np.geomspace if source.period is None else np.linspace
    periods = spaced(*source.range, count)
    return periods, source.log_prior(periods)


def steady_log(reading: Reading, table: np.ndarray, k: np.ndarray) -> np.ndarray:
    """Log evidence of waves that all layers share at k (cycles/mm), second harmonic included."""
    grid = reading.profile.along_per_mm
    i = np.rint((k - grid[0]) / (grid[1] - grid[0])).astype(int)
    inside = (i >= 0) & (i < grid.size)
    return np.where(inside, table[np.where(inside, i, 0)], 0.0)


def slanted_log(reading: Reading, table: np.ndarray, kx: np.ndarray, kz: np.ndarray) -> np.ndarray:
    """Log evidence of waves of the wall, second harmonic included.

    Waves that look the same in all layers are read from the profile, like those that are.
    """
    s = reading.spectrum
    away = np.abs((kz + 0.5) % 1.0 - 0.5)
    logs = with_second(s.log_evidence(kx, kz), s.log_evidence(2 * kx, 2 * kz))
    return np.where(away < SHARED / s.layers, steady_log(reading, table, kx), logs)


@dataclass(frozen=True)
class Tried:
    """Periods of one source and the log evidence of each, summed over the walls."""

    source: Source
    periods: np.ndarray
    weights: np.ndarray
    logs: np.ndarray

    @property
    def log_evidence(self) -> float:
        """Averaged over what the rig leaves open."""
        return log_mean(self.logs, self.weights)

    @property
    def best(self) -> int:
        """Index of the most probable period."""
        return int(np.argmax(self.logs + self.weights))


Tables = Sequence[np.ndarray]


def steady_tables(readings: Sequence[Reading], beside: Sequence[np.ndarray] | None) -> Tables:
    """Log evidence of steady waves of each wall, at its ``along_per_mm``."""
    columns: Sequence[np.ndarray | None] = [None for _ in readings] if beside is None else beside
    return [steady_evidence(r.profile, b) for r, b in zip(readings, columns, strict=True)]


def try_source(source: Source, readings: Sequence[Reading], tables: Tables) -> Tried | None:
    """Evidence over a source's periods; None where these walls cannot show it."""
    if source.kind == "place" and any(
        source.fewest_mm(r.wall, FEWEST_PERIODS) > r.spectrum.width_mm for r in readings
    ):
        return None
    periods, weights = log_grid(source, _count(source, readings))
    logs = sum(_source_log(source, r, t, periods) for r, t in zip(readings, tables, strict=True))
    return Tried(source, periods, weights, np.asarray(logs))


def _source_log(
    source: Source, reading: Reading, table: np.ndarray, periods: np.ndarray
) -> np.ndarray:
    """Log evidence of a source's periods on one wall."""
    kx, kz = source.spot(reading.wall, periods)
    if source.kind == "place":
        return steady_log(reading, table, kx)
    if source.kind == "time":
        return _clocked(reading, table, kx, kz)
    return slanted_log(reading, table, kx, kz)


def _count(source: Source, readings: Sequence[Reading]) -> int:
    """Values of a period so close that its wave is not missed in between."""
    low, high = source.range
    shortest = np.array([low])
    spots = [source.spot(r.wall, shortest) for r in readings]
    if source.kind == "place":
        cycles = max(r.spectrum.width_mm * kx for r, (kx, _) in zip(readings, spots, strict=True))
    else:
        cycles = max(r.spectrum.layers for r in readings) * max(kz for _, kz in spots)
    per_cycle = 8 if source.kind in ("place", "height") else 5
    return int(np.clip(np.log(high / low) * per_cycle * cycles[0], 11, 40_000)) | 1


def _clocked(reading: Reading, table: np.ndarray, kx: np.ndarray, kz: np.ndarray) -> np.ndarray:
    """Waves that go with the clock; each print's clock is good to :data:`CLOCK_U`."""
    weights = _CLOCK_LOG - np.log(np.sum(np.exp(_CLOCK_LOG)))
    logs = np.stack([slanted_log(reading, table, kx, kz * (1 + CLOCK_U * q)) for q in _CLOCK])
    top = logs.max(0)
    return np.asarray(top + np.log(np.exp(logs - top + weights[:, None]).sum(0)))


def other_logs(readings: Sequence[Reading], tables: Tables) -> tuple[float, float]:
    """Log evidence of something periodic of no known source: what all layers share, and the rest.

    Its wave has the same length on every wall, or one that goes with the speed. A slanted one is
    weighed against waves that each photo has of its own (:data:`OWN`): what one photo alone shows
    is no proof of a source.
    """
    first = readings[0].wall
    width = min(r.spectrum.width_mm for r in readings)
    k = np.geomspace(FEWEST_PERIODS / width, 2.0, 2000)
    coarse = k[k < FINEST_SLANTED]
    own = sum(np.logaddexp(np.log(1 - OWN), np.log(OWN) + log_mean(_any_row(r, coarse)))
              for r in readings)  # fmt: skip
    ratios = [[1.0] * len(readings), [first.speed_mm_s / r.wall.speed_mm_s for r in readings]]
    different = ratios[1] != ratios[0]
    shared, rest = [], []
    for ratio in ratios[: 2 if different else 1]:
        pairs = list(zip(readings, tables, ratio, strict=True))
        shared.append(log_mean(np.asarray(sum(steady_log(r, t, k * q) for r, t, q in pairs))))
        slanted = log_mean(np.asarray(sum(_any_row(r, coarse * q) for r, _, q in pairs)))
        rest.append(slanted - max(float(own), 0.0))
    up = np.linspace(0.01, 0.5, 1500)
    level = [slanted_log(r, t, 0 * up, up) for r, t in zip(readings, tables, strict=True)]
    rest += [log_mean(np.asarray(sum(level))), sum(log_mean(one) for one in level)]
    return log_mean(np.array(shared)), log_mean(np.array(rest))


def _any_row(reading: Reading, kx: np.ndarray) -> np.ndarray:
    """Log evidence of a wave at kx with any slant."""
    s = reading.spectrum
    i = np.minimum(s.columns(kx), s.along_per_mm.size - 1)
    columns = s.evidence[:, np.unique(i)]
    top = columns.max(0)
    logs = top + np.log(np.mean(np.exp(columns - top), axis=0))
    return np.asarray(logs[np.searchsorted(np.unique(i), i)])


def best_steady(readings: Sequence[Reading]) -> tuple[float, list[float]]:
    """Power of the strongest steady wave that the walls share, and its cycles/mm on each."""
    first = readings[0]
    found = (0.0, [0.1] * len(readings))
    for with_speed in (0.0, 1.0):
        k = first.profile.along_per_mm
        ratios = [(first.wall.speed_mm_s / r.wall.speed_mm_s) ** with_speed for r in readings]
        power = np.zeros(k.size)
        for r, q in zip(readings, ratios, strict=True):
            power += np.interp(k * q, r.profile.along_per_mm, r.profile.steady_power())
        i = int(np.argmax(power))
        if power[i] > found[0]:
            found = (float(power[i]), [float(k[i] * q) for q in ratios])
    return found
