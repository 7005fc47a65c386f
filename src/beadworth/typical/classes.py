"""Typical ceilings by class of hot end, never by maker: a short table, and trials pooled.

The table holds only what a source prints, or what is common practice and says so. Trials of
one's own and imported packages join it; three or more of a class are pooled, fewer cannot tell.
"""

from __future__ import annotations

import math
import re
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from beadworth.core import CONFIDENCE, coverage_factor
from beadworth.rig import Rig
from beadworth.typical.censored import pool_censored
from beadworth.typical.pooling import FEWEST, Pooled
from beadworth.typical.table import TABLE, Bore, TypicalRow, Zone

ZONE_BORDERS_MM = (16.0, 28.0)
"""Heated length from which a melt zone counts as long, and as very long (common practice, no
source; the borders are ours)."""
BORE_BORDERS_MM = (0.35, 0.5)
"""Nozzle bore below which it counts as fine, and above which as wide (ours)."""
_POLYMERS = ("PLA", "PETG", "ABS", "TPU", "PA", "PC")


@dataclass(frozen=True, order=True)
class HotEndClass:
    """Hot ends that are alike in what sets their ceiling: heated length and nozzle bore."""

    zone: Zone
    bore: Bore

    def __str__(self) -> str:
        return f"{self.zone} melt zone, {self.bore} bore"


def class_of(rig: Rig) -> HotEndClass | None:
    """The class of a rig's hot end; None where its melt zone is not known."""
    zone_mm, bore_mm = rig.hot_end.melt_zone_mm, rig.hot_end.nozzle_mm
    if zone_mm is None:
        return None
    long, very_long = ZONE_BORDERS_MM
    zone: Zone = "standard" if zone_mm < long else "long" if zone_mm < very_long else "very long"
    fine, wide = BORE_BORDERS_MM
    bore: Bore = "fine" if bore_mm < fine else "usual" if bore_mm <= wide else "wide"
    return HotEndClass(zone, bore)


def polymer_of(material: str) -> str:
    """The generic polymer a material's name says it is ("PLA, chalk white"), else the name."""
    words = set(re.findall(r"[A-Z]+", material.upper()))
    named = [p for p in _POLYMERS if p in words]
    return named[0] if len(named) == 1 else material


@dataclass(frozen=True)
class TrialCeiling:
    """One ceiling of one trial, with what it is of."""

    trial: str
    """Key of the trial: one trial counts once, own or imported."""
    label: str
    """What people call it."""
    rig: str
    material: str
    hot_end: HotEndClass | None
    temperature_c: float
    flow_mm3_s: float | None
    low: float | None
    high: float | None
    confidence: float
    simulated: bool
    source: Literal["this", "own", "package"] = "own"
    credit: str = ""
    """Whom to name for its data, with licence and package."""

    @property
    def polymer(self) -> str:
        """Generic polymer, as far as the name says."""
        return polymer_of(self.material)

    @property
    def poolable(self) -> bool:
        """Whether it is known from both sides."""
        return None not in (self.flow_mm3_s, self.low, self.high) and (self.low or 0.0) > 0


@dataclass(frozen=True)
class PooledCeiling:
    """The ceiling of a class at one temperature: a mean over trials on the scale of ratios."""

    flow_mm3_s: float
    low: float
    high: float
    prediction_low: float
    prediction_high: float
    """Where a further trial of the class is expected."""
    between: float
    """τ: how much trials differ beyond their own uncertainty, as a fraction of the ceiling."""
    pooled: Pooled
    """Of the natural logarithms."""


@dataclass(frozen=True)
class ClassPool:
    """All that is known of one class, polymer and temperature."""

    hot_end: HotEndClass
    polymer: str
    temperature_c: float
    trials: tuple[TrialCeiling, ...]
    """One per trial, known from both sides."""
    one_sided: int
    """Trials whose ceiling is known from one side only; they join the pool as bounds."""
    pooled: PooledCeiling | None
    """None with fewer than three trials: cannot tell."""
    sentence: str


@dataclass(frozen=True)
class Typical:
    """A trial's ceilings beside what is typical for its class."""

    own: tuple[TrialCeiling, ...]
    others: tuple[TrialCeiling, ...]
    """Trials of the same classes and polymers; simulated ones only beside simulated ones."""
    rows: tuple[TypicalRow, ...]
    pools: tuple[ClassPool, ...]
    """One per class, polymer and temperature of ``own``, this trial itself not in it."""
    notes: tuple[str, ...]

    @property
    def credits(self) -> tuple[str, ...]:
        """Whom to name for the data of packages among ``others``, as their licences ask."""
        return tuple(sorted({c.credit for c in self.others if c.credit}))


def typical(own: Sequence[TrialCeiling], others: Iterable[TrialCeiling]) -> Typical:
    """What is typical of the classes a trial tested, and its ceilings beside it.

    Parameters
    ----------
    own : sequence of TrialCeiling
        Of the trial in question.
    others : iterable of TrialCeiling
        Of any other trials, at the same loss; what does not fit is left aside.
    """
    simulated = any(c.simulated for c in own)
    keys = {(c.hot_end, c.polymer) for c in own if c.hot_end is not None}
    near = [c for c in others if (c.hot_end, c.polymer) in keys and not _same(c, own)]
    like = tuple(_once(c for c in near if c.simulated == simulated))
    wanted = sorted(
        (*key, t)
        for key in keys
        for t in {c.temperature_c for c in own if (c.hot_end, c.polymer) == key}
    )
    pools = tuple(
        class_pool(
            hot_end,
            polymer,
            t,
            [c for c in like if (c.hot_end, c.polymer, c.temperature_c) == (hot_end, polymer, t)],
        )
        for hot_end, polymer, t in wanted
    )
    return Typical(tuple(own), like, _rows(keys), pools, _notes(own, near, simulated))


def _same(other: TrialCeiling, own: Sequence[TrialCeiling]) -> bool:
    """Whether another trial is this one, or one of the same rig: that tells nothing of a class."""
    return any(
        other.trial == c.trial or (other.source == "own" and other.rig == c.rig) for c in own
    )


def _once(ceilings: Iterable[TrialCeiling]) -> Iterable[TrialCeiling]:
    """Each trial's ceilings once, should it be here as one's own and as a package too."""
    seen: dict[tuple[str, str, str, float], TrialCeiling] = {}
    for c in ceilings:
        seen.setdefault((c.trial, c.rig, c.material, c.temperature_c), c)
    return seen.values()


def _rows(keys: set[tuple[HotEndClass, str]]) -> tuple[TypicalRow, ...]:
    """The rows of the table for these classes; one that states no melt zone fits any."""
    return tuple(
        row
        for row in TABLE
        if any(
            row.polymer == polymer and row.bore == hot_end.bore and row.zone in (None, hot_end.zone)
            for hot_end, polymer in keys
        )
    )


def _notes(
    own: Sequence[TrialCeiling], near: Sequence[TrialCeiling], simulated: bool
) -> tuple[str, ...]:
    notes = []
    unknown = sorted({c.rig for c in own if c.hot_end is None})
    if unknown:
        notes.append(
            f"No class for {', '.join(unknown)}: enter the heated length (melt_zone_mm) of the "
            "hot end in the rig's record."
        )
    left = {c.trial for c in near if c.simulated != simulated}
    if left:
        kind = "simulated" if not simulated else "measured"
        notes.append(
            f"{len(left)} {kind} {'trial is' if len(left) == 1 else 'trials are'} left out: "
            "simulated and measured ceilings are never put together."
        )
    return tuple(notes)


def class_pool(
    hot_end: HotEndClass, polymer: str, temperature_c: float, ceilings: Sequence[TrialCeiling]
) -> ClassPool:
    """Trials of one class, polymer and temperature, pooled where there are three or more."""
    trials = tuple(one_per_trial([c for c in ceilings if c.poolable]))
    bounds = one_sided_of(ceilings)
    one_sided = len(bounds)
    pooled = pool_ceilings(trials, bounds) if len(trials) >= FEWEST else None
    return ClassPool(
        hot_end, polymer, temperature_c, trials, one_sided, pooled,
        _sentence(hot_end, polymer, temperature_c, len(trials), one_sided, pooled),
    )  # fmt: skip


def one_sided_of(ceilings: Sequence[TrialCeiling]) -> list[TrialCeiling]:
    """The bound of each trial that has no ceiling known from both sides, the tightest it gives."""
    settled = {c.trial for c in ceilings if c.poolable}
    found: dict[str, TrialCeiling] = {}
    for c in ceilings:
        if c.trial in settled or not (c.low or c.high):
            continue
        before = found.get(c.trial)
        if before is None or (c.low or 0.0) > (before.low or 0.0):
            found[c.trial] = c
    return list(found.values())


def one_per_trial(ceilings: Sequence[TrialCeiling]) -> list[TrialCeiling]:
    """Several rigs of one package, or trials of one rig here, as one: the mean of logarithms.

    They share a balance or a hot end, so their uncertainties are taken as wholly common and do
    not shrink.
    """
    grouped: dict[str, list[TrialCeiling]] = defaultdict(list)
    for c in ceilings:
        grouped[f"rig {c.rig}" if c.source == "own" else c.trial].append(c)
    made = []
    for group in grouped.values():
        if len(group) == 1:
            made.append(group[0])
            continue
        logs = [
            sum(math.log(getattr(c, name)) for c in group) / len(group)
            for name in ("flow_mm3_s", "low", "high")
        ]
        flow, low, high = map(math.exp, logs)
        rigs = ", ".join(dict.fromkeys(c.rig for c in group))
        made.append(replace(group[0], rig=rigs, flow_mm3_s=flow, low=low, high=high))
    return made


def pool_ceilings(
    trials: Sequence[TrialCeiling],
    bounds: Sequence[TrialCeiling] = (),
    confidence: float = CONFIDENCE,
) -> PooledCeiling:
    """Ceilings of three or more trials pooled on the logarithmic scale.

    ``bounds``: of trials that say 'at least' or 'at most'; leaving them out would bias the mean
    (:func:`~beadworth.typical.censored.pool_censored`).

    The standard uncertainty of ln(ceiling) is half the width of the interval's logarithms over
    the normal quantile of its coverage.

    Raises
    ------
    FitError
        Fewer than three trials.
    """
    pooled = pool_censored(
        [math.log(c.flow_mm3_s or math.nan) for c in trials],
        [log_u(c) for c in trials],
        [math.log(c.low) for c in bounds if c.low],
        [math.log(c.high) for c in bounds if c.high and not c.low],
        confidence=confidence,
    )
    return PooledCeiling(
        flow_mm3_s=math.exp(pooled.mean),
        low=math.exp(pooled.low),
        high=math.exp(pooled.high),
        prediction_low=math.exp(pooled.prediction_low),
        prediction_high=math.exp(pooled.prediction_high),
        between=math.sqrt(pooled.tau2),
        pooled=pooled,
    )


def log_u(ceiling: TrialCeiling) -> float:
    """Standard uncertainty of the natural logarithm of a ceiling known from both sides."""
    assert ceiling.low is not None
    assert ceiling.high is not None
    width = math.log(ceiling.high) - math.log(ceiling.low)
    return width / (2 * coverage_factor(confidence=ceiling.confidence))


def _sentence(
    hot_end: HotEndClass,
    polymer: str,
    temperature: float,
    count: int,
    one_sided: int,
    pooled: PooledCeiling | None,
) -> str:
    at = f"{str(hot_end).capitalize()}, {polymer} at {temperature:g} °C"
    aside = ""
    if one_sided and pooled is None:
        aside = f" {one_sided} more {'is' if one_sided == 1 else 'are'} known from one side only."
    elif one_sided:
        verb = "is" if one_sided == 1 else "are"
        aside = f" {one_sided} more, known from one side only, {verb} in it as bounds."
    if pooled is None:
        there = (
            "no other trial of this class is"
            if count == 0
            else f"only {count} other trial{'s' * (count > 1)} of this class "
            f"{'is' if count == 1 else 'are'}"
        )
        return f"{at}: what is typical is not known; {there} here, {FEWEST} are needed.{aside}"
    return (
        f"{at}: {count} trials give {pooled.flow_mm3_s:.1f} mm³/s on the whole "
        f"({pooled.low:.1f} to {pooled.high:.1f}), and a further one is expected between "
        f"{pooled.prediction_low:.1f} and {pooled.prediction_high:.1f} (nominally "
        f"{100 * pooled.pooled.confidence:g} %).{aside}"
    )
