"""Melt or motion: what the grades of the two chains of bands, and of the two sides, say together.

Where the melt falls short, walls worsen along the chain that climbs in flow and stay as they are
along the one that climbs in speed; where motion does it, the other way round, and in the folds
first. Each is a model of the same grades; their likelihoods are compared.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray
from scipy.special import gammaln

from beadworth.core import InputError
from beadworth.text import join_words, percent
from beadworth.witness.criteria import GRADES
from beadworth.witness.likelihood import MU, grader_likelihood, together

Array = NDArray[np.float64]
Cause = Literal["melt", "motion", "both", "neither"]
CAUSES: Final[tuple[Cause, ...]] = ("melt", "motion", "both", "neither")
PRIOR: Final = {"melt": 0.3, "motion": 0.3, "both": 0.1, "neither": 0.3}
SURE = 0.9
"""Probability from which a cause is named."""
MOST_SURE = 0.99
"""Highest probability that is written out: more digits than simulated graders can bear out."""
_CROSSES = (MU >= 0.0) & (MU <= 1.0)
_BEYOND, _BELOW = MU >= 1.25, MU <= -0.25
_MELT_SHOWS_IN_FOLDS, _MOTION_SHOWS_IN_FRONT = 0.7, 0.5
"""How often the side that is not the first to show a cause shows it all the same."""


@dataclass(frozen=True)
class BandGrade:
    """One look at one side of one band."""

    flow_mm3_s: float
    speed_mm_s: float
    side: str
    """'front' or 'folded'."""
    grade: int


@dataclass(frozen=True)
class Separation:
    """How probable each cause is."""

    probability: Mapping[Cause, float]
    cause: Cause | None
    """Named where it is more probable than :data:`SURE`; None: cannot tell."""
    sentence: str


def separate(looks: Mapping[str, Sequence[BandGrade]]) -> Separation:
    """Which cause the grades speak for.

    Parameters
    ----------
    looks : mapping of grader to their looks, at both sides of the bands

    Raises
    ------
    InputError
        No grades of both sides, or bands that differ in nothing.
    """
    every = [one for given in looks.values() for one in given]
    flows = sorted({one.flow_mm3_s for one in every})
    speeds = sorted({one.speed_mm_s for one in every})
    sides = {one.side for one in every}
    if not {"front", "folded"} <= sides or len(flows) < 3 or len(speeds) < 3:
        raise InputError(
            "melt and motion are told apart by both sides of bands that differ in flow and speed.",
            "grades", len(every), "Grade front and folds of every band.",
        )  # fmt: skip
    log: dict[tuple[str, str], float] = {}
    for side in ("front", "folded"):
        own = [[one for one in given if one.side == side] for given in looks.values()]
        log[side, "flow"] = _rising(own, "flow_mm3_s", flows)
        log[side, "speed"] = _rising(own, "speed_mm_s", speeds)
        alike = [_rising(own, "flow_mm3_s", flows, where) for where in (_BEYOND, _BELOW)]
        log[side, "flat"] = float(np.logaddexp.reduce([_flat(own), *alike])) - np.log(3.0)
    models = {
        "melt": log["front", "flow"] + _mixed(log, "folded", "flow", _MELT_SHOWS_IN_FOLDS),
        "motion": log["folded", "speed"] + _mixed(log, "front", "speed", _MOTION_SHOWS_IN_FRONT),
        "both": log["front", "flow"] + log["folded", "speed"],
        "neither": log["front", "flat"] + log["folded", "flat"],
    }
    weight = np.array([models[c] + np.log(PRIOR[c]) for c in CAUSES])
    share = np.exp(weight - weight.max())
    share /= share.sum()
    found: dict[Cause, float] = dict(zip(CAUSES, share.tolist(), strict=True))
    best = max(found, key=lambda c: found[c])
    cause = best if found[best] > SURE else None
    return Separation(found, cause, describe_cause(cause, found))


def _rising(
    own: Sequence[Sequence[BandGrade]],
    axis: str,
    levels: Sequence[float],
    where: NDArray[np.bool_] = _CROSSES,
) -> float:
    """Log evidence that grades worsen along one axis, somewhere within what was laid.

    With ``where`` beyond it on either hand: that all of it is good, or bad, but for lapses.
    """
    low, span = levels[0], levels[-1] - levels[0]
    graders = []
    for given in own:
        x = np.array([(getattr(one, axis) - low) / span for one in given])
        at, place = np.unique(x.round(6), return_inverse=True)
        counts = np.zeros((len(at), GRADES))
        for n, one in zip(place, given, strict=True):
            counts[n, one.grade] += 1
        graders.append(grader_likelihood(at, counts))
    inside = together(graders)[where]
    peak = float(inside.max())
    return peak + float(np.log(np.exp(inside - peak).mean()))


def _flat(own: Sequence[Sequence[BandGrade]]) -> float:
    """Log evidence of grades that have nothing to do with the band: a Dirichlet-multinomial."""
    total = 0.0
    for given in own:
        counts = np.bincount([one.grade for one in given], minlength=GRADES)
        a = np.full(GRADES, 0.5)
        total += float(
            gammaln(a.sum()) - gammaln(a.sum() + counts.sum())
            + (gammaln(a + counts) - gammaln(a)).sum()
        )  # fmt: skip
    return total


def _mixed(log: Mapping[tuple[str, str], float], side: str, axis: str, share: float) -> float:
    """A side that shows the cause with this chance, and else nothing."""
    return float(
        np.logaddexp(np.log(share) + log[side, axis], np.log(1 - share) + log[side, "flat"])
    )


def describe_cause(cause: Cause | None, found: Mapping[Cause, float]) -> str:
    """What is named, how probable it is beside the others; or the two to choose between."""
    said = {
        "melt": "The hot end: walls worsen with flow at one speed, not with speed at one flow.",
        "motion": "The motion: walls worsen with speed at one flow, not with flow at one speed.",
        "both": "Both: the front worsens with flow, the folds with speed.",
        "neither": "Neither: walls do not change with flow or speed over these bands.",
    }
    if cause is not None:
        sure = found[cause]
        share = f"above {MOST_SURE:g}" if sure >= MOST_SURE else f"{math.floor(100 * sure) / 100:g}"
        others = join_words([other for other in CAUSES if other != cause], "or")
        return f"{said[cause]} Probability {share}, compared with {others}."
    order = sorted(found, key=lambda c: -found[c])[:2]
    return (
        f"Cannot tell yet: {', '.join(f'{cause} {percent(found[cause], 0)}' for cause in order)}. "
        "The weighed pair decides: melt loses mass, motion does not."
    )
