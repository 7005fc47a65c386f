"""Whether a series changed at all: a steady slope or one step, against a log that never did."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from beadworth.core import display_step
from beadworth.wear.alternatives import Alternatives, Weighing, alternatives

Array = NDArray[np.float64]

LOG_LEVEL = 0.034
"""Chance that a log shows a change where there is none, all checks of it together, a season
included; the charts bring it to 5 % at most (benchmarks/control_false_alarms.py)."""
FEWEST = 6
"""Readings below which no course is looked for."""
STEP_GAIN = 8.0
"""Times likelier at which a step is told and not a slope: it has its place to choose."""
NEIGHBOUR_LEVEL = 1.645
"""Standard errors at which neighbouring readings are taken to agree more than independent ones."""
UNCHANGED, FEWEST_UNCHANGED, READINGS_DRAWN = 20_000, 4000, 480_000
"""Simulated logs without a change that a series is held against; of long logs fewer, as many as
have so many readings together."""
TAIL = 0.05
"""Clearest share of those logs, whose strengths are taken as exponential beyond its edge: so
chances below a hundredth are known better than by counting."""
SEASON_SD = 1.0
"""Half the swing of the season in those logs, in standard deviations of a reading, where a year was
logged: one so small that the readings do not give it away, which errs most."""
SEEN = 0.9
"""Share of logs in which a step as high as :attr:`Course.would_show` shows."""
STEPS_TRIED, HIGHEST_SD, HALVINGS = 300, 6.4, 6
"""Logs with a step from which that is read, its greatest height in standard deviations of a
reading, and how often the range of heights is halved."""

Kind = Literal["steady", "slope", "step"]


@dataclass(frozen=True)
class Course:
    """What a series did over its whole length."""

    kind: Kind
    size: float
    """Change a month of a slope, height of a step; the likelier of both where steady."""
    at: int | None
    """Place of the first reading after the step; None for a slope."""
    chance: float
    """Of so clear a change in a log without any."""
    season: float | None
    """Half the swing of a yearly season that was taken out; None where none was."""
    neighbours: float
    """Correlation of neighbouring readings that was reckoned with; 0: independent."""
    would_show: float | None = None
    """Height from which a step in the middle shows in nine of ten such logs; None where no height
    that was tried does."""

    @property
    def changed(self) -> bool:
        """Whether it is not what it was."""
        return self.kind != "steady"


def course_of(days: Sequence[float], values: Sequence[float], checks: int = 1) -> Course:
    """Look for a slope and for one step over a whole series.

    Parameters
    ----------
    days : sequence of float
        Of the readings, from any day; rising.
    values : sequence of float
        As many.
    checks : int, ≥ 1
        Series of the log: each is held to an equal part of :data:`LOG_LEVEL` (Bonferroni).

    Returns
    -------
    Course

    Notes
    -----
    How much likelier a slope or a step anywhere makes the readings than none, on average
    (:mod:`.alternatives`), against the same of simulated logs of the same days: so its chance holds
    for any number of readings. Where a year was logged a season may lie under all of them, and the
    simulated logs have one. Where neighbours agree, so do those of the simulated logs.
    """
    t, y = np.asarray(days, dtype=np.float64), np.asarray(values, dtype=np.float64)
    steady = Course("steady", 0.0, None, 1.0, None, 0.0)
    if len(y) < FEWEST or float(np.ptp(t)) <= 0 or float(np.ptp(y)) == 0:
        return steady
    layout = tuple(float(v) for v in t - t[0])
    known = alternatives(layout)
    scaled = (y - y.mean()) / float(np.ptp(y))
    found = known.weigh(scaled[None])
    best, season = _likeliest(known, found)
    size, swing, rest = known.fit(y, best, season)
    neighbours = round(_neighbours(rest, y), 1)
    chance = _unchanged(layout, neighbours).chance(float(found.change[0]))
    whole = size * float(known.columns[-1, 0] - known.columns[0, 0]) if best == 0 else size
    level = LOG_LEVEL / max(checks, 1)
    told = chance < level and abs(whole) > 1.001 * display_step(list(y))
    kind: Kind = ("slope" if best == 0 else "step") if told else "steady"
    at = None if best == 0 else int(known.starts[best - 1])
    return Course(
        kind, size, at, chance, swing if season else None, neighbours,
        None if told else _would_show(layout, neighbours, level, y, rest),
    )  # fmt: skip


def _likeliest(known: Alternatives, found: Weighing) -> tuple[int, bool]:
    """The likeliest alternative of one series, and whether a season is likelier under it."""
    over = found.each[0].sum(axis=0) / known.shares
    best = int(over.argmax())
    if over[best] < STEP_GAIN * over[0]:
        best = 0
    seasons = found.each[0, :, best]
    return best, bool(seasons[1:].sum() > seasons[0])


def _neighbours(rest: Array, y: Array) -> float:
    """Correlation of neighbouring residuals where it is evident, else 0."""
    square, count = float(rest @ rest), len(rest)
    if square <= 1e-20 * float(y @ y):
        return 0.0
    lag = float(rest[1:] @ rest[:-1]) / square
    if lag < NEIGHBOUR_LEVEL / np.sqrt(count):
        return 0.0
    return min(lag + (1 + 4 * lag) / count, 0.9)  # its bias in short series


@dataclass(frozen=True)
class _Null:
    """How likely a change looks in logs of the same days without any."""

    strength: Array
    """Rising."""
    edge: float
    excess: float
    """Mean strength beyond the edge, less the edge."""

    def chance(self, strength: float) -> float:
        """Of at least as much."""
        if strength > self.edge:
            return float(TAIL * np.exp((self.edge - strength) / self.excess))
        below = int(np.searchsorted(self.strength, strength))
        return 1.0 - below / len(self.strength)

    def limit(self, chance: float) -> float:
        """Strength that is passed with a chance."""
        if chance < TAIL:
            return self.edge + self.excess * float(np.log(TAIL / chance))
        return float(np.quantile(self.strength, 1.0 - chance))


@lru_cache(maxsize=256)
def _unchanged(layout: tuple[float, ...], neighbours: float) -> _Null:
    known = alternatives(layout)
    logs = int(np.clip(READINGS_DRAWN / len(layout), FEWEST_UNCHANGED, UNCHANGED))
    found = np.sort(known.weigh(_logs(known, neighbours, logs, 0)).change)
    beyond = found[round((1.0 - TAIL) * len(found)) :]
    return _Null(found, float(beyond[0]), float((beyond - beyond[0]).mean()))


def _logs(known: Alternatives, neighbours: float, logs: int, seed: int) -> Array:
    rng = np.random.default_rng(seed)
    noise = rng.standard_normal((logs, len(known.columns)))
    rows = noise.copy()
    for i in range(1, rows.shape[1]):
        rows[:, i] = neighbours * rows[:, i - 1] + np.sqrt(1 - neighbours**2) * noise[:, i]
    if known.year.shape[1]:
        phase = rng.uniform(0, 2 * np.pi, logs)
        rows += SEASON_SD * np.stack([np.cos(phase), np.sin(phase)], axis=1) @ known.year.T
    return rows


def _would_show(
    layout: tuple[float, ...], neighbours: float, level: float, y: Array, rest: Array
) -> float | None:
    """Height from which a step in the middle would have shown, in the readings' unit."""
    height_sd = _step_seen(layout, neighbours, level)
    spare = len(y) - 2
    sd = np.hypot(np.sqrt(float(rest @ rest) / spare), display_step(list(y)) / np.sqrt(12.0))
    return None if height_sd is None else float(height_sd * sd)


@lru_cache(maxsize=256)
def _step_seen(layout: tuple[float, ...], neighbours: float, level: float) -> float | None:
    """The same in standard deviations of a reading."""
    known = alternatives(layout)
    limit = _unchanged(layout, neighbours).limit(level)
    rows = _logs(known, neighbours, STEPS_TRIED, 1)
    middle = np.arange(len(layout)) >= (len(layout) + 1) // 2

    def missed(height: float) -> float:
        return SEEN - float((known.weigh(rows + height * middle).change >= limit).mean())

    low, high = 0.0, HIGHEST_SD
    if missed(high) > 0:
        return None
    for _ in range(HALVINGS):
        half = (low + high) / 2
        low, high = (half, high) if missed(half) > 0 else (low, half)
    return high
