"""How the order of options moves as the weight of one criterion goes from nothing to all."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import ClassVar

import numpy as np
from numpy.typing import NDArray

from beadworth.core import LEFT_OUT, named

Array = NDArray[np.float64]
TIE = 1e-9
"""Scores this close are one."""


@dataclass(frozen=True)
class LeadChange:
    """A share of the weights at which another option takes the lead."""

    weight: float
    before: str = field(metadata=named("from"))
    after: str = field(metadata=named("to"))


@dataclass(frozen=True)
class Ranking:
    """Scores as the weight of one criterion goes from nothing to all."""

    criterion: str
    weight: float
    """Its share of the weights now, 0 to 1."""
    at: tuple[float, ...]
    """Shares 0 … 1."""
    scores: Mapping[str, tuple[float, ...]]
    """By option."""
    changes: tuple[tuple[float, str, str], ...] = field(metadata=LEFT_OUT)
    """Shares at which another option takes the lead: (share, from, to)."""
    json_also: ClassVar = {"changes": "lead_changes"}

    @property
    def lead_changes(self) -> tuple[LeadChange, ...]:
        """The same as records."""
        return tuple(LeadChange(*change) for change in self.changes)


def ranking_of(
    name: str, now: float, options: Sequence[str], scored: Array, at: int, weight: Array
) -> Ranking:
    """Scores are straight lines in one criterion's share, the others keeping their proportions."""
    others = weight.copy()
    others[at] = 0.0
    others = others / others.sum() if others.sum() > 0 else others
    alone = np.zeros_like(weight)
    alone[at] = 1.0
    ends = np.asarray(scored @ others), np.asarray(scored @ alone)
    grid = np.linspace(0.0, 1.0, 21)
    known = [n for n in range(len(options)) if not np.isnan(ends[0][n])]
    lines = {
        options[n]: tuple(((1 - grid) * ends[0][n] + grid * ends[1][n]).tolist()) for n in known
    }
    return Ranking(name, float(now), tuple(grid.tolist()), lines, _changes(options, known, ends))


def _changes(
    options: Sequence[str], known: Sequence[int], ends: tuple[Array, Array]
) -> tuple[tuple[float, str, str], ...]:
    """Where the upper envelope of the score lines passes from one option to the next."""
    if not known:
        return ()
    start, end = ends
    lead = max(known, key=lambda n: (start[n], end[n]))
    share = 0.0
    found: list[tuple[float, str, str]] = []
    while True:
        gains = {n: (end[n] - start[n]) - (end[lead] - start[lead]) for n in known}
        meets = [((start[lead] - start[n]) / gain, n) for n, gain in gains.items() if gain > 1e-9]
        later = [(at, n) for at, n in meets if share - 1e-9 <= at < 1.0 - 1e-9]
        if not later:
            return tuple(found)
        at, following = min(later, key=lambda item: (item[0], -(end[item[1]] - start[item[1]])))
        share = float(max(at, share))
        found.append((share, options[lead], options[following]))
        lead = following


def first_shares(scores: Array) -> Array:
    """Share of draws in which each comes first; those that tie share the draw."""
    known = np.where(np.isnan(scores), -np.inf, scores)
    leads = known >= known.max(axis=1, keepdims=True) - TIE
    return np.asarray((leads / leads.sum(axis=1, keepdims=True)).mean(axis=0))


def scores_of(values: Array, worst: Array, best: Array, weight: Array) -> Array:
    """Weighted sums of each criterion's place between stated worst (0) and best (1).

    Beyond the scale a place goes on below 0 or above 1, so that better stays better. Options with
    an unknown effect get NaN.
    """
    return np.asarray(((values - worst) / (best - worst)) @ weight)
