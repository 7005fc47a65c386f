"""A second cause beside the main one, whose wave is taken out before the walls are read again."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from beadworth.cause.ranking import NOTHING, OTHER, RINGING, Ranking, normalised, rank
from beadworth.cause.sources import Source
from beadworth.cause.trying import Reading, Tried, read_wall

Array = NDArray[np.float64]
PRIOR: Final = 0.2
"""Chance that a second cause stands beside the main one, ringing apart; assumed."""
LEAST_MAIN: Final = 0.5
"""A main cause less probable is none to be taken out."""
_NEAR: Final = 0.35
"""Cycles over the wall by which its waves are taken out too: what drifts along it."""
APART: Final = 1.5
"""Sources whose waves lie nearer, in cycles over the wall, went with the main cause."""


@dataclass(frozen=True)
class Second:
    """What stands beside the main cause."""

    probabilities: dict[str, float]
    """By cause, 'nothing periodic' among them: nothing more. The most probable first; sum 1."""
    ranking: Ranking
    """Of the walls without the main cause."""


def second_cause(ranking: Ranking, sources: Sequence[Source]) -> Second | None:
    """What else makes the pattern, once the main cause is taken out.

    Parameters
    ----------
    ranking : Ranking
    sources : as they were ranked

    Returns
    -------
    Second or None
        None where no source is the main cause with :data:`LEAST_MAIN` or more.
    """
    name, p = next(iter(ranking.probabilities.items()))
    main = ranking.tried.get(name)
    if main is None or p < LEAST_MAIN:
        return None
    period = float(main.periods[main.best])
    readings = [_without(r, main, period) for r in ranking.readings]
    others = [s for s in sources if s.name != name and not _beside(s, main, period, readings)]
    again = rank(readings, others)
    # one or none: the weight of each source is its share of the chance that there is one
    ringing = again.probabilities.get(RINGING, 0.0)
    nothing = again.probabilities.get(NOTHING, 0.0) + ringing
    rest = {n: q for n, q in again.probabilities.items() if n not in (NOTHING, RINGING)}
    many = sum(0.5 if n == OTHER else 1.0 for n in rest) or 1.0
    weights = {n: q * PRIOR / many for n, q in rest.items()}
    weights[NOTHING] = nothing * (1 - PRIOR)
    return Second(normalised(weights), again)


def _without(reading: Reading, main: Tried, period: float) -> Reading:
    """A wall with the main cause's wave and its harmonics projected out."""
    kx, kz = main.source.spot_of(reading.wall, period)
    matrix = reading.matrix
    values = np.array(matrix.values)
    nk, nj = values.shape
    x, k = np.float64(matrix.step_mm) * np.arange(nj), np.arange(nk, dtype=np.float64)
    shared = main.source.kind == "place"
    for times in (1, 2, 3):
        along = _waves(x, times * kx, _NEAR / matrix.width_mm)
        up = np.ones((nk, 1)) / np.sqrt(nk) if shared else _waves(k, times * kz, _NEAR / nk)
        values -= up @ (up.T @ values @ along) @ along.T
    return read_wall(replace(matrix, values=values), reading.wall)


def _waves(at: Array, cycles: float, off: float) -> Array:
    """Orthonormal columns: waves of a frequency and of those just beside it."""
    angle = 2 * np.pi * at[:, None] * (cycles + off * np.array([-1.0, 0.0, 1.0]))
    u, sizes, _ = np.linalg.svd(np.hstack([np.cos(angle), np.sin(angle)]), full_matrices=False)
    return np.asarray(u[:, sizes > 1e-6 * sizes[0]])


def _beside(source: Source, main: Tried, period: float, readings: Sequence[Reading]) -> bool:
    """Whether a source's waves could lie where the main cause's were taken out, on every wall."""
    if source.kind == "ringing":
        return False
    edges = np.array(source.range)
    for r in readings:
        kx, kz = source.spot(r.wall, edges)
        own_x, own_z = main.source.spot_of(r.wall, period)
        width, layers = r.spectrum.width_mm, r.spectrum.layers
        shift = np.abs((kz - own_z + 0.5) % 1.0 - 0.5) * layers
        near_x = (kx.min() - own_x) * width < APART and (own_x - kx.max()) * width < APART
        if not (near_x and (shift.min() < APART or np.ptp(kz) > 1.0)):
            return False
    return True
