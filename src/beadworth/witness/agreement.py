"""How well two sets of grades of the same things agree: weighted kappa with its interval."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from beadworth.core import CONFIDENCE, InputError, coverage_factor
from beadworth.witness.criteria import GRADES

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Agreement:
    """Weighted kappa: 1 full agreement, 0 what chance gives."""

    kappa: float | None
    """None where one of the two gave everything one grade: nothing to agree about."""
    u: float | None
    low: float | None
    high: float | None
    count: int


def weights_of(kind: Literal["linear", "quadratic"], grades: int) -> Array:
    """Agreement of each pair of grades, 1 on the diagonal, 0 in the far corners."""
    i, j = np.indices((grades, grades))
    apart = np.abs(i - j) / (grades - 1)
    alike: Array = 1.0 - (apart if kind == "linear" else apart**2)
    return alike


def table_of(first: Sequence[int], second: Sequence[int], grades: int = GRADES) -> Array:
    """How often each pair of grades was given.

    Raises
    ------
    InputError
        Lists of different length, or a grade that is none.
    """
    if len(first) != len(second):
        raise InputError(
            f"{len(first)} grades cannot be held against {len(second)}.", "grades",
            remedy="Give both for the same bands.",
        )  # fmt: skip
    table = np.zeros((grades, grades))
    for a, b in zip(first, second, strict=True):
        if not (0 <= a < grades and 0 <= b < grades):
            raise InputError(f"grades go from 0 to {grades - 1}.", "grades", (a, b))
        table[a, b] += 1
    return table


def weighted_kappa(
    table: ArrayLike,
    weights: ArrayLike | Literal["linear", "quadratic"] = "quadratic",
    confidence: float = CONFIDENCE,
) -> Agreement:
    """Weighted kappa with its large-sample standard error.

    Parameters
    ----------
    table : array, grades × grades
        Counts: row the first's grade, column the second's.
    weights : array of that shape, or a name
        Agreement of each pair, 0 to 1 (Cohen 1968, Psychol. Bull. 70, 213).

    Returns
    -------
    Agreement
        Standard error as Fleiss, Cohen and Everitt 1969 (Psychol. Bull. 72, 323, eq. 13),
        the one that holds away from zero.
    """
    counts = np.asarray(table, float)
    n = float(counts.sum())
    w = (
        np.asarray(weights, float)
        if not isinstance(weights, str)
        else weights_of("linear" if weights == "linear" else "quadratic", len(counts))
    )
    if not n:
        return Agreement(None, None, None, None, 0)
    p = counts / n
    row, column = p.sum(axis=1), p.sum(axis=0)
    by_row, by_column = w @ column, row @ w
    observed, chance = float((w * p).sum()), float(row @ w @ column)
    if 1 - chance < 1e-12:
        return Agreement(None, None, None, None, int(n))
    kappa = (observed - chance) / (1 - chance)
    inner = w * (1 - chance) - (by_row[:, None] + by_column[None, :]) * (1 - observed)
    spread = float((p * inner**2).sum()) - (observed * chance - 2 * chance + observed) ** 2
    u = float(np.sqrt(max(spread, 0.0) / n) / (1 - chance) ** 2)
    reach = coverage_factor(confidence=confidence) * u
    return Agreement(kappa, u, max(kappa - reach, -1.0), min(kappa + reach, 1.0), int(n))
