"""Whether a series changed at all: a steady slope or one step, against a log that never did."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from beadworth.core import display_step

Array = NDArray[np.float64]

LOG_LEVEL = 0.021
"""Chance that a log of independent readings shows a change where there is none, all checks of it
together; what is spent on looking for a season brings it to 5 % at most
(benchmarks/control_false_alarms.py)."""
FEWEST = 6
"""Readings below which no course is looked for."""
SIDE = 3
"""Fewest readings on either side of a step."""
MOST_STEPS = 60
"""Places at which a step is looked for; in a longer log they are spread evenly."""
MONTH_DAYS, YEAR_DAYS = 365.25 / 12, 365.25
SEASON_LEVEL = 0.2
"""A season that chance alone gives less often than this is taken out; it must not be missed."""
STEP_GAIN = 2.0
"""Gain in log likelihood at which a step is told and not a slope: it has its place to choose."""
NEIGHBOUR_LEVEL = 1.645
"""Standard errors at which neighbouring readings are taken to agree more than independent ones."""
UNCHANGED = 4000
"""Simulated logs without a change that a series is held against."""

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
    The likelihood ratio test of a shift at an unknown place (K. J. Worsley, J. Am. Stat. Assoc. 74
    (1979) 365, from memory) with a straight line among the alternatives: the largest correlation
    of the readings with any of them. Its chance comes from simulated logs of the same days, so that
    it holds for any number of readings. Where a year was logged, sine and cosine of the year are
    taken out if they are there; where neighbours agree, so do those of the simulated logs.
    """
    t, y = np.asarray(days, dtype=np.float64), np.asarray(values, dtype=np.float64)
    steady = Course("steady", 0.0, None, 1.0, None, 0.0)
    if len(y) < FEWEST or float(np.ptp(t)) <= 0 or float(np.ptp(y)) == 0:
        return steady
    layout = tuple(float(v) for v in t - t[0])
    season = _has_season(layout, y)
    shapes = _shapes(layout, season)
    best, strength, neighbours = _best(shapes, y)
    null = _unchanged(layout, season, round(neighbours, 1))
    chance = (1.0 + float((null >= strength).sum())) / (1.0 + len(null))
    size = float(shapes.sizes[best] * (shapes.alternatives[:, best] @ y))
    whole = size * float(np.ptp(t)) / MONTH_DAYS if best == 0 else size
    told = chance < LOG_LEVEL / max(checks, 1) and abs(whole) > 1.001 * display_step(list(y))
    kind: Kind = ("slope" if best == 0 else "step") if told else "steady"
    at = None if best == 0 else int(shapes.starts[best - 1])
    swing = _swing(layout, y, shapes, best) if season else None
    return Course(kind, size, at, chance, swing, round(neighbours, 1))


@dataclass(frozen=True)
class _Shapes:
    common: Array
    """Orthonormal columns of what is no change: a level, a season."""
    alternatives: Array
    """Columns of length 1, free of those: a line, then steps."""
    sizes: Array
    """What a column's coefficient of 1 is in units of the readings (a month; a step)."""
    starts: NDArray[np.intp]


@lru_cache(maxsize=256)
def _shapes(layout: tuple[float, ...], season: bool) -> _Shapes:
    t = np.asarray(layout)
    count = len(t)
    common = [np.ones(count), *(_year(t) if season else ())]
    base, _ = np.linalg.qr(np.stack(common, axis=1))
    every = np.arange(SIDE, count - SIDE + 1)
    starts = every[np.unique(np.linspace(0, len(every) - 1, MOST_STEPS).astype(int))]
    raw = [t / MONTH_DAYS, *((np.arange(count) >= k).astype(float) for k in starts)]
    free = np.stack(raw, axis=1)
    free = free - base @ (base.T @ free)
    length = np.linalg.norm(free, axis=0)
    return _Shapes(base, free / length, 1.0 / length, starts)


def _year(t: Array) -> tuple[Array, Array]:
    angle = 2 * np.pi * t / YEAR_DAYS
    return np.sin(angle), np.cos(angle)


def _strengths(shapes: _Shapes, rows: Array) -> tuple[Array, Array]:
    """Correlation with each alternative of each row (rows, readings), and what is left of it."""
    left = rows - (rows @ shapes.common) @ shapes.common.T
    length = np.linalg.norm(left, axis=1, keepdims=True)
    return left @ shapes.alternatives / np.maximum(length, 1e-300), left


def _best(shapes: _Shapes, y: Array) -> tuple[int, float, float]:
    """The clearest alternative, its strength, and the correlation of neighbours beside it."""
    found, left = _strengths(shapes, y[None])
    clear = np.abs(found[0])
    best = int(clear.argmax())
    left_over = 1 - clear**2 + 1e-12
    if len(y) * np.log(left_over[0] / left_over[best]) < 2 * STEP_GAIN:
        best = 0
    column = shapes.alternatives[:, best]
    rest = left[0] - column * (column @ left[0])
    square = float(rest @ rest)
    count = len(y)
    lag = float(rest[1:] @ rest[:-1]) / square if square > 1e-20 * float(y @ y) else 0.0
    evident = lag >= NEIGHBOUR_LEVEL / np.sqrt(count)
    lag = min(lag + (1 + 4 * lag) / count, 0.9) if evident else 0.0  # its bias in short series
    return best, float(clear.max()), lag


@lru_cache(maxsize=256)
def _unchanged(layout: tuple[float, ...], season: bool, neighbours: float) -> Array:
    """Strength of the clearest alternative in logs of the same days without any change."""
    rng = np.random.default_rng(0)
    noise = rng.standard_normal((UNCHANGED, len(layout)))
    rows = noise.copy()
    for i in range(1, len(layout)):
        rows[:, i] = neighbours * rows[:, i - 1] + np.sqrt(1 - neighbours**2) * noise[:, i]
    found, _ = _strengths(_shapes(layout, season), rows)
    return np.asarray(np.abs(found).max(axis=1))


def _has_season(layout: tuple[float, ...], y: Array) -> bool:
    """F test of sine and cosine of the year beside the clearest change; a year must be there."""
    from scipy.special import fdtrc

    t = np.asarray(layout)
    spare = len(y) - 4
    if t[-1] < YEAR_DAYS or spare < 6:
        return False
    shapes = _shapes(layout, False)
    best, _, _ = _best(shapes, y)
    known, _ = np.linalg.qr(np.column_stack([shapes.common, shapes.alternatives[:, best]]))
    year = np.stack(_year(t), axis=1)
    year, _ = np.linalg.qr(year - known @ (known.T @ year))
    left = y - known @ (known.T @ y)
    seen = float(((year.T @ left) ** 2).sum())
    rest = float(left @ left) - seen
    if rest <= 0:
        return False
    return float(fdtrc(2, spare, (seen / 2) / (rest / spare))) < SEASON_LEVEL


def _swing(layout: tuple[float, ...], y: Array, shapes: _Shapes, best: int) -> float:
    """Half the swing of the season, the clearest change beside it."""
    t = np.asarray(layout)
    columns = np.column_stack([np.ones(len(t)), shapes.alternatives[:, best], *_year(t)])
    found, *_ = np.linalg.lstsq(columns, y, rcond=None)
    return float(np.hypot(*found[2:]))
