"""The level at which a wall stops being acceptable, from grades of a ladder of bands."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from beadworth.capacity import Ceiling, CeilingPosterior, Span
from beadworth.core import CONFIDENCE, SEVEN_DIGITS, InputError
from beadworth.witness.criteria import GRADES
from beadworth.witness.likelihood import MU, STEP, TENTHS, grader_likelihood, together

Array = NDArray[np.float64]
QUANTILES = 201


@dataclass(frozen=True)
class Look:
    """One grade a grader gave at one level."""

    level: float
    grade: int
    """0 to 4."""


@dataclass(frozen=True)
class Threshold:
    """Where half the looks give grade 2 or worse, with its interval, or a one-sided answer.

    Read, drawn and compared as a weighed ceiling is: see :meth:`ceiling`.
    """

    quantity: str
    """Name with unit, as flow_mm3_s."""
    value: float | None
    """None where the bands never cross it."""
    low: float | None
    high: float | None
    bound: str
    """'interval', 'at-least' (good to the end of the ladder), 'at-most', or 'unknown'."""
    confidence: float
    draws: Array = field(metadata=SEVEN_DIGITS)
    """201 levels; the threshold lies below the i-th with probability (i + ½)/201."""
    graders: int
    bands: int

    def ceiling(self, rig: str, material: str, temperature_c: float) -> Ceiling:
        """As a ceiling, where the level is a flow: what weighed and graded ones share.

        Raises
        ------
        InputError
            The ladder's level is no flow.
        """
        if self.quantity != "flow_mm3_s":
            raise InputError(
                f"a threshold of {self.quantity} is no ceiling of a flow.", "threshold",
                self.quantity, "Grade a ladder that climbs in flow.",
            )  # fmt: skip
        bound = self.bound if self.bound in ("at-least", "at-most") else "interval"
        return Ceiling(
            rig, material, temperature_c, 0.0, self.value, self.low, self.high,
            bound, self.confidence,
        )  # fmt: skip

    def posterior(self, temperature_c: float) -> CeilingPosterior:
        """Its quantiles, as those of a weighed ceiling."""
        return CeilingPosterior(temperature_c, self.draws)


def threshold(
    looks: Mapping[str, Sequence[Look]],
    quantity: str,
    *,
    worse: int = 1,
    confidence: float = CONFIDENCE,
) -> Threshold:
    """The threshold of a ladder.

    Parameters
    ----------
    looks : mapping of grader to their looks
        Repeat looks at a band stand in the list as often as they were taken; from them, and from
        how graders differ, the scatter is learnt.
    quantity : str
        What climbs, with its unit.
    worse : 1 or -1
        Whether walls worsen as the level rises or as it falls.

    Returns
    -------
    Threshold
        Interval by the likelihood ratio of the threshold, with width, spacing of grades, lapses
        and graders' own shifts integrated out. An end that would lie more than a band beyond
        the ladder is left open, and the other is then one-sided and never beyond the ladder: what
        was not graded is not claimed.

    Raises
    ------
    InputError
        No grades, levels that are all the same, or grades out of range.
    """
    levels = sorted({look.level for given in looks.values() for look in given})
    wrong = [k.grade for given in looks.values() for k in given if not 0 <= k.grade < GRADES]
    if len(levels) < 3 or wrong:
        raise InputError(
            f"grades go from 0 to {GRADES - 1}." if wrong else
            f"{len(levels)} levels make no ladder.",
            "grades", wrong[0] if wrong else len(levels),
            "Correct the grade." if wrong else "Grade three bands of different level at least.",
        )  # fmt: skip
    first, last = (levels[0], levels[-1]) if worse > 0 else (levels[-1], levels[0])
    x = (np.array(levels) - first) / (last - first)
    place = {level: n for n, level in enumerate(levels)}
    graders = []
    for given in looks.values():
        counts = np.zeros((len(levels), GRADES))
        for look in given:
            counts[place[look.level], look.grade] += 1
        graders.append(grader_likelihood(x, counts))
    log = together(graders)
    return _read(log, quantity, first, last, confidence, len(looks), len(levels))


def _read(
    log: Array,
    quantity: str,
    first: float,
    last: float,
    confidence: float,
    graders: int,
    bands: int,
) -> Threshold:
    from scipy.special import chdtri, ndtri

    step = 1 / (bands - 1)
    low_end, high_end = _ends(log, float(chdtri(1, 1 - confidence)) / 2)
    open_below, open_above = low_end < -step, high_end > 1 + step
    if open_below != open_above:
        low_end, high_end = _ends(log, float(ndtri(confidence)) ** 2 / 2)
    peak = float(log.max())
    weight = np.exp(log - peak)
    share = (np.cumsum(weight) - weight / 2) / weight.sum()
    at = np.interp((np.arange(QUANTILES) + 0.5) / QUANTILES, share, MU)

    def level(x: float | Array) -> float | Array:
        return first + (last - first) * x

    near = None if open_below else float(level(min(low_end, 1.0)))
    far = None if open_above else float(level(max(high_end, 0.0)))
    rising = last > first
    low, high = (near, far) if rising else (far, near)
    bound = {
        (False, False): "unknown", (True, False): "at-least", (False, True): "at-most",
        (True, True): "interval",
    }[(low is not None, high is not None)]  # fmt: skip
    value = float(level(float(MU[int(log.argmax())]))) if bound == "interval" else None
    draws = np.sort(np.asarray(level(at), float))
    return Threshold(quantity, value, low, high, bound, confidence, draws, graders, bands)


def _ends(log: Array, drop: float) -> tuple[float, float]:
    """Where the likelihood has fallen by ``drop`` from its peak, on either side."""
    inside = np.flatnonzero(log >= float(log.max()) - drop)
    return float(MU[inside[0]] - STEP / 2), float(MU[inside[-1]] + STEP / 2)


def difference(base: Threshold, other: Threshold, confidence: float = CONFIDENCE) -> Span:
    """Other less base over all pairs of their quantiles, as two weighed ceilings are compared.

    One-sided where either is known from one side only.
    """
    if base.bound == "interval" == other.bound:
        gap = (other.draws[:, None] - base.draws[None, :]).ravel()
        tail = 0.5 - confidence / 2
        low, value, high = (float(v) for v in np.quantile(gap, [tail, 0.5, 1 - tail]))
        return Span(value, low, high)
    low_end = None if other.low is None or base.high is None else other.low - base.high
    high_end = None if other.high is None or base.low is None else other.high - base.low
    return Span(None, low_end, high_end)


def expected_width(
    bands: int, graders: int, looks: int = 1, runs: int = 60, seed: int = 1
) -> float:
    """Median width of the interval that a design gives, in bands; by simulation.

    Thresholds lie anywhere within the ladder, grades change over a fifth of it, graders differ by a
    twentieth (standard deviation), and one look in fifty is a lapse.
    """
    rng = np.random.default_rng(seed)
    x = (np.arange(bands) + 0.5) / bands
    widths = []
    for _ in range(runs):
        mu = rng.uniform(0.1, 0.9)
        given = {
            str(g): simulated_looks(rng, x, mu + 0.05 * rng.normal(), 0.2, 0.1, 0.02, looks)
            for g in range(graders)
        }
        found = threshold(given, "level")
        low = -1.0 if found.low is None else found.low
        high = 2.0 if found.high is None else found.high
        widths.append((high - low) * bands)
    return float(np.median(widths))


def simulated_looks(
    rng: np.random.Generator,
    levels: Array,
    mu: float,
    width: float,
    spacing: float,
    lapse: float,
    looks: int,
) -> list[Look]:
    """Grades that a grader of the model gives; for forecasts and for tests."""
    scale = width / TENTHS
    found = []
    for level in np.repeat(levels, looks).tolist():
        felt = level - mu + scale * rng.logistic()
        grade = int(np.clip(np.floor(felt / spacing + 2), 0, GRADES - 1))
        found.append(Look(level, int(rng.integers(GRADES)) if rng.random() < lapse else grade))
    return found
