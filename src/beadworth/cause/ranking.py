"""Ranked causes of the pattern on one wall or several, each with its probability.

Exactly one of these holds as the main cause: a source of the rig, something periodic that is none
of these, or nothing periodic. Ringing may stand beside any of them. Each gets its log evidence
against noise alone, averaged over what the rig leaves open and summed over the walls.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from beadworth.cause.evidence import log_mean, log_ratio
from beadworth.cause.profile import DAMPING, HERTZ, profile
from beadworth.cause.ringing import Ringing, refine_ringing
from beadworth.cause.sources import Source
from beadworth.cause.trying import (
    Reading,
    Tables,
    Tried,
    best_steady,
    other_logs,
    steady_tables,
    try_source,
)

OTHER, NOTHING, RINGING = "none of these", "nothing periodic", "ringing"
PRIOR_OTHER, PRIOR_NOTHING, PRIOR_RINGING = 0.5, 1.0, 0.4
"""Weight of the first two beside 1 for each source, and the chance of ringing; assumed."""
PLAIN = 6.0
"""Log evidence from which ringing is plain: the noise is then found again without it."""


def ringing_logs(
    readings: Sequence[Reading], beside: Sequence[np.ndarray] | None = None
) -> np.ndarray:
    """Log evidence of ringing (frequency, damping), summed over the walls."""
    columns: Sequence[np.ndarray | None] = [None for _ in readings] if beside is None else beside
    return np.asarray(sum(
        log_ratio(r.profile.ringing_power(b)) for r, b in zip(readings, columns, strict=True)
    ))  # fmt: skip


def ringing_weights(readings: Sequence[Reading], source: Source | None) -> np.ndarray:
    """Log weights of ringing frequencies and dampings before the photo is seen."""
    weights = np.zeros((HERTZ.size, DAMPING.size))
    if source is not None:
        weights += source.log_prior(HERTZ)[:, None]
    return weights


@dataclass(frozen=True)
class Ranking:
    """Probabilities of the main cause, and of ringing beside it."""

    probabilities: dict[str, float]
    """By name; ringing alone, none of these and nothing periodic are among them. Sums to 1."""
    ringing: float
    """Probability that there is ringing, alone or beside another cause."""
    tried: dict[str, Tried]
    ringing_estimate: Ringing
    readings: Sequence[Reading]
    """The walls, their noise found without the ringing where that is plain."""


def normalised(weights: Mapping[str, float]) -> dict[str, float]:
    """Weights of causes as probabilities: the most probable first, their sum 1."""
    total = sum(weights.values())
    return {n: w / total for n, w in sorted(weights.items(), key=lambda item: -item[1])}


def rank(readings: Sequence[Reading], sources: Sequence[Source]) -> Ranking:
    """Rank the causes that a rig can have.

    Parameters
    ----------
    readings : one Reading per wall
    sources : of the rig; of several that ring the first counts
    """
    ring_source = next((s for s in sources if s.kind == "ringing"), None)
    weights = ringing_weights(readings, ring_source)
    stronger = _strongest(readings, weights)
    if stronger is None:  # ringing: noise is found again without it
        readings, estimate = _without_ringing(readings, weights)
    else:
        estimate = _guess_ringing(readings, weights, stronger)
    ring = log_mean(ringing_logs(readings), weights)
    alone = beside = steady_tables(readings, None)
    ring_beside = ring
    if stronger is None:
        columns = [estimate.columns(r.profile, i) for i, r in enumerate(readings)]
        beside = steady_tables(readings, columns)
    else:
        ring_beside = log_mean(ringing_logs(readings, stronger), weights)
    tried: dict[str, Tried] = {}
    joint: dict[str, tuple[float, float]] = {NOTHING: (0.0, ring)}
    for source in sources:
        if source.kind == "ringing":
            continue
        found = try_source(source, readings, alone)
        if found is None:
            continue
        tried[source.name] = found
        again = try_source(source, readings, beside) if stronger is None else found
        both = ring_beside + (again.log_evidence if again else 0.0)
        joint[source.name] = (found.log_evidence, both)
    without = _any_source(readings, alone)
    again_without = _any_source(readings, beside) if stronger is None else without
    joint[OTHER] = (without, ring_beside + again_without)
    return _posterior(joint, tried, estimate, readings)


def _any_source(readings: Sequence[Reading], tables: Tables) -> float:
    """Log evidence of something periodic of no known source, shared by all layers or slanted."""
    return float(np.logaddexp(*other_logs(readings, tables)) - np.log(2))


def _strongest(readings: Sequence[Reading], weights: np.ndarray) -> list[np.ndarray] | None:
    """Columns of the strongest steady wave; None where ringing is stronger.

    Either looks a little like the other: the stronger is taken out before the weaker is judged.
    """
    power = sum(r.profile.ringing_power() for r in readings)
    steady, k = best_steady(readings)
    if float(np.max(np.asarray(power) + weights)) > steady:
        return None
    return [r.profile.steady_columns(one) for r, one in zip(readings, k, strict=True)]


def _guess_ringing(
    readings: Sequence[Reading], weights: np.ndarray, beside: Sequence[np.ndarray] | None
) -> Ringing:
    logs = ringing_logs(readings, beside) + weights
    i, j = np.unravel_index(int(np.argmax(logs)), logs.shape)
    first = Ringing(float(HERTZ[i]), float(DAMPING[j]))
    return refine_ringing([r.profile for r in readings], first, beside)


def _without_ringing(
    readings: Sequence[Reading], weights: np.ndarray
) -> tuple[Sequence[Reading], Ringing]:
    """Readings whose noise is found without the ringing, where that is plain; and its estimate."""
    estimate = _guess_ringing(readings, weights, None)
    if float(np.max(ringing_logs(readings))) > PLAIN:
        readings = [
            replace(r, profile=profile(r.matrix, r.wall, estimate.waveform(r.profile, i)))
            for i, r in enumerate(readings)
        ]
        estimate = refine_ringing([r.profile for r in readings], estimate, restarts=False)
    return readings, estimate


def _posterior(
    joint: dict[str, tuple[float, float]],
    tried: dict[str, Tried],
    estimate: Ringing,
    readings: Sequence[Reading],
) -> Ranking:
    prior = {OTHER: PRIOR_OTHER, NOTHING: PRIOR_NOTHING}
    names = list(joint)
    logs = np.array([
        [np.log(prior.get(n, 1.0)) + np.log(1 - PRIOR_RINGING) + joint[n][0],
         np.log(prior.get(n, 1.0)) + np.log(PRIOR_RINGING) + joint[n][1]]
        for n in names
    ])  # fmt: skip
    p = np.exp(logs - logs.max())
    p /= p.sum()
    by_name = {name: float(p[i].sum()) for i, name in enumerate(names) if name != NOTHING}
    i = names.index(NOTHING)
    by_name[RINGING], by_name[NOTHING] = float(p[i, 1]), float(p[i, 0])
    return Ranking(normalised(by_name), float(p[:, 1].sum()), tried, estimate, readings)
