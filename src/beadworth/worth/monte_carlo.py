"""Propagation of distributions after JCGM 101:2008, with an explicit generator.

Draws go through the model in batches until expectation, standard uncertainty and both ends of
the interval are stable to two significant digits of the uncertainty (the adaptive procedure of
7.9), or a stated number is reached. The interval is the probabilistically symmetric one (7.7).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from beadworth.core import CONFIDENCE

Array = NDArray[np.float64]
BATCH = 10_000
MOST_BATCHES = 100
LEAST_BATCHES = 4
TAIL = (1.0 - CONFIDENCE) / 2.0
SHARES: tuple[float, ...] = tuple(
    np.unique(
        [*np.linspace(0.0, 1.0, 201), TAIL, 1.0 - TAIL, 1e-4, 1e-3, 1.0 - 1e-3, 1.0 - 1e-4]
    ).tolist()
)
"""At which a distribution of draws is kept: the ends of its interval, and more in its tails."""

Shape: TypeAlias = tuple[tuple[float, ...], tuple[float, ...]]
"""Shares, rising from 0 to 1, and the values below which they lie."""


@dataclass(frozen=True)
class Result:
    """A value with its interval; a side that is not bounded is None."""

    value: float | None
    """Median of the draws: for a ratio, whose mean need not exist, it is the value that stays
    the same value when looked at upside down (hours per euro, euros per hour)."""
    low: float | None
    high: float | None


@dataclass(frozen=True)
class Draws:
    """What went in and what came out, draw by draw."""

    inputs: Mapping[str, Array]
    outputs: Mapping[str, Array]
    stable: bool
    """Whether two digits of the uncertainty were reached before the draws ended."""

    def __len__(self) -> int:
        return len(next(iter(self.outputs.values())))


def propagate(
    model: Callable[[Mapping[str, Array]], Mapping[str, Array]],
    inputs: Mapping[str, Callable[[Array], Array]],
    rng: np.random.Generator,
    *,
    watch: Sequence[str],
    digits: int = 2,
    most_batches: int = MOST_BATCHES,
) -> Draws:
    """Draw the inputs, run the model, go on until what is watched is stable.

    Parameters
    ----------
    model : callable
        Arrays of one length by input name → arrays by output name.
    inputs : mapping
        Quantile function of every input (inverse of its distribution function).
    rng : generator
        The same state gives the same draws.
    watch : sequence of str
        Outputs whose interval must become stable; those with infinite draws are not waited for.
    digits : int
        Significant digits of the standard uncertainty (7.9.2).
    """
    drawn: list[Mapping[str, Array]] = []
    made: list[Mapping[str, Array]] = []
    batches: dict[str, list[Array]] = {name: [] for name in watch}
    stable = False
    while not stable and len(made) < most_batches:
        values = {name: quantile(rng.random(BATCH)) for name, quantile in inputs.items()}
        drawn.append(values)
        made.append(model(values))
        for name in watch:
            batches[name].append(_summary(made[-1][name]))
        stable = len(made) >= LEAST_BATCHES and all(
            _stands_still(np.array(rows), digits) for rows in batches.values()
        )
    return Draws(
        {name: np.concatenate([part[name] for part in drawn]) for name in inputs},
        {name: np.concatenate([part[name] for part in made]) for name in made[0]},
        stable,
    )


def _summary(values: Array) -> Array:
    """Average, standard deviation and ends of one batch (7.9.4, steps c to f)."""
    with np.errstate(invalid="ignore"):
        return np.array([values.mean(), values.std(ddof=1), *_ends(values)])


def _stands_still(rows: Array, digits: int) -> bool:
    """7.9.4: twice the standard deviation of each average over the batches is below tolerance."""
    if not np.isfinite(rows).all():
        return True
    mean, u = float(rows[:, 0].mean()), float(rows[:, 1].mean())
    if u <= 1e-12 * max(1.0, abs(mean)):
        return True
    spread = rows.std(axis=0, ddof=1) / math.sqrt(len(rows))
    return bool(np.all(2.0 * spread < numerical_tolerance(u, digits)))


def numerical_tolerance(u: float, digits: int = 2) -> float:
    """Half a unit in the last of the significant digits of ``u`` (JCGM 101:2008 7.9.2)."""
    exponent = math.floor(math.log10(u)) - digits + 1
    if round(u / 10.0**exponent) >= 10**digits:  # 0.0996 is 0.10 to two digits
        exponent += 1
    return 0.5 * 10.0**exponent


def _ends(values: Array) -> tuple[float, float]:
    """Ends of the symmetric coverage interval; infinite draws lie at the ends, as they should."""
    low, high = _observed(values, (TAIL, 1.0 - TAIL))
    return float(low), float(high)


def result_of(values: Array) -> Result:
    """Median and interval; a side that is infinite is None."""
    found = _observed(values, (0.5, TAIL, 1.0 - TAIL))
    return Result(*(float(v) if math.isfinite(v) else None for v in found))


def shape_of(values: Array) -> Shape:
    """:data:`SHARES`, and the draws that lie there: what :func:`result_of` says, among others."""
    return SHARES, tuple(_observed(values, SHARES).tolist())


def _observed(values: Array, shares: tuple[float, ...]) -> Array:
    """The draws that lie at these shares of all, as numpy's ``closest_observation``.

    Parted at their places, which takes a third of the time of sorting them all.
    """
    if np.isnan(values.min()):
        return np.full(len(shares), np.nan)
    places = _places(len(values), shares)
    return np.asarray(np.partition(values, places)[places])


@lru_cache(maxsize=64)
def _places(count: int, shares: tuple[float, ...]) -> NDArray[np.intp]:
    return np.quantile(np.arange(count), shares, method="closest_observation").astype(np.intp)
