"""A wear log summed up: what page, command and dossier show of it."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import ClassVar

from beadworth.core import FitError, InputError, NotFoundError, display_step
from beadworth.text import capital
from beadworth.wear.before_after import Change, paired_change, unpaired_change
from beadworth.wear.control import (
    FEWEST as FEWEST_BASELINE,
)
from beadworth.wear.control import (
    USUAL_WEIGHT,
    Ewma,
    Individuals,
    Signal,
    ewma_chart,
    individuals_chart,
)
from beadworth.wear.course import FEWEST, Course, course_of
from beadworth.wear.describe import CHART_LEVEL, course_words, finding
from beadworth.wear.entry import WearEntry, in_order
from beadworth.wear.life import Life, Survival, product_limit, weibull_life
from beadworth.wear.limits import limit_width
from beadworth.wear.log import (
    Due,
    HoursAt,
    Lives,
    Series,
    due_checks,
    failing_parts,
    failures_of,
    hours_by_day,
    lives_of,
    series_of,
)
from beadworth.wear.reliability import Rate, failure_rate

USUAL_BASELINE = 10
"""Readings a baseline takes unless it is stated, or all where there are fewer."""


@dataclass(frozen=True)
class ChartSettings:
    """How a series is held against its limits."""

    baseline: int | None = None
    """How many of the first readings; None: ten, or all where there are fewer."""
    target: float | None = None
    since: date | None = None
    """Readings before this day are left out: after an adjustment a series starts anew."""
    weight: float = USUAL_WEIGHT
    more_rules: bool = False
    """Whether steps and runs are signals too."""


@dataclass(frozen=True)
class SeriesReport:
    """A series and its charts, or why there are none yet."""

    series: Series
    settings: ChartSettings
    individuals: Individuals | None
    ewma: Ewma | None
    cannot_tell: str
    finding: str
    """What the charts say, without the name of the check."""
    course: Course | None = None
    """Whether the whole series rose, fell or stepped; None of too few readings."""
    json_also: ClassVar = {"sentence": "sentence"}

    @property
    def sentence(self) -> str:
        """The finding with the name of the check."""
        name = self.series.name
        return f"{capital(name)}: {self.finding}"

    @property
    def signals(self) -> tuple[Signal, ...]:
        """Those of both charts, in the order of the readings; none where the whole series moved."""
        both = [chart.signals for chart in (self.individuals, self.ewma) if chart is not None]
        return tuple(sorted((s for own in both for s in own), key=lambda s: s.index))


@dataclass(frozen=True)
class PartReport:
    """How one kind of part has lasted."""

    lives: Lives
    rate: Rate | None
    survival: Survival | None
    life: Life | None
    cannot_tell: str


@dataclass(frozen=True)
class WearSummary:
    """All that a wear log says."""

    total_h: float
    since: date | None
    until: date | None
    entries: int
    hours: tuple[HoursAt, ...]
    rate: Rate | None
    """Of any failure of the rig; None before the first hour."""
    series: tuple[SeriesReport, ...]
    parts: tuple[PartReport, ...]
    due: tuple[Due, ...]
    changes: tuple[WearEntry, ...]
    """Adjustments, replacements and failures, oldest first."""
    simulated: bool


def wear_summary(
    entries: Sequence[WearEntry],
    today: date,
    settings: Mapping[str, ChartSettings] | None = None,
) -> WearSummary:
    """Sum up the entries that count.

    Parameters
    ----------
    entries : sequence of WearEntry
        In the order entered.
    today : date
        For what is due.
    settings : mapping, optional
        By the name of a series (:attr:`Series.name`).
    """
    hours = hours_by_day(entries)
    total = hours[-1].total_h if hours else 0.0
    days = [entry.on for entry in entries]
    chosen = settings or {}
    series = series_of(entries)
    # only what has readings enough for a chart can give a false signal
    checks = sum(len(one.values) >= FEWEST_BASELINE for one in series)
    return WearSummary(
        total,
        min(days, default=None),
        max(days, default=None),
        len(entries),
        hours,
        failure_rate(failures_of(entries), total) if total > 0 else None,
        tuple(series_report(one, chosen.get(one.name, ChartSettings()), checks) for one in series),
        tuple(_part(entries, part, total) for part in failing_parts(entries)),
        due_checks(entries, today),
        tuple(
            entry
            for entry in sorted(entries, key=lambda e: e.on)
            if entry.kind in ("adjustment", "replacement", "failure")
        ),
        any(entry.simulated for entry in entries),
    )


def series_report(series: Series, settings: ChartSettings, checks: int = 1) -> SeriesReport:
    """Whether a series moved as a whole, and its charts, or the reason why there are none yet.

    ``checks``: series of the log with readings enough, which share the chance of a false signal.
    """
    kept = [n for n, on in enumerate(series.dates) if not settings.since or on >= settings.since]
    used = Series(
        series.what, series.place, series.unit,
        tuple(series.dates[n] for n in kept),
        tuple(series.values[n] for n in kept),
        tuple(series.hours[n] for n in kept),
    )  # fmt: skip
    count = settings.baseline or min(USUAL_BASELINE, len(kept))
    course = None
    if len(kept) >= FEWEST:
        course = course_of([on.toordinal() for on in used.dates], used.values, checks)
    known = max(count, FEWEST_BASELINE)
    after = max(len(kept) - count, known)
    step = display_step(used.values) if used.values else 0.0
    level = CHART_LEVEL / max(checks, 1)
    # where a target is stated the baseline's own readings may be off it
    first = 0 if settings.target is not None else count
    if course is not None and course.changed:
        first = len(kept)  # told as a whole: a level of the first readings means nothing then
    try:
        single = individuals_chart(
            used.values, baseline=count, target=settings.target, more_rules=settings.more_rules,
            width=limit_width(known, after, level), first=first, display=step,
        )  # fmt: skip
        base = single.baseline
        average = ewma_chart(
            used.values, center=base.center, sigma=math.hypot(base.sigma, step / math.sqrt(12.0)),
            weight=settings.weight, first=first,
            width=limit_width(known, after, level, settings.weight),
        )  # fmt: skip
    except (FitError, InputError) as error:
        reason = " ".join(f"{p.what} {p.remedy}" for p in error.problems)
        moved = course_words(course, used) if course is not None and course.changed else reason
        return SeriesReport(used, settings, None, None, reason, moved, course)
    report = SeriesReport(used, settings, single, average, "", "", course)
    return replace(report, finding=finding(report))


def _part(entries: Sequence[WearEntry], part: str, total: float) -> PartReport:
    lives = lives_of(entries, part)
    rate = failure_rate(failures_of(entries, part), total) if total > 0 else None
    if not any(lives.failed):  # it was mended or changed early: there is a rate, and no life
        return PartReport(lives, rate, None, None, "")
    survival = product_limit(lives.hours, lives.failed)
    try:
        return PartReport(lives, rate, survival, weibull_life(lives.hours, lives.failed), "")
    except FitError as error:
        return PartReport(lives, rate, survival, None, error.problems[0].what)


def change_at(
    entries: Sequence[WearEntry], what: str, when: date | WearEntry
) -> tuple[str, Change]:
    """A check before a change against the same check after it.

    Where it was read at three or more places both before and after, the last reading before
    and the first after are paired by place; else all readings of the one place are compared.

    Parameters
    ----------
    what : str
        Name of the check, or name and place as :attr:`Series.name` has them.
    when : date or WearEntry
        A day (readings of that day come after), or an entry of the log: readings of its day
        come before or after it as they were entered.

    Returns
    -------
    tuple
        The unit, and the change.

    Raises
    ------
    NotFoundError
        No such check in the log.
    InputError
        Two places on both sides: too few to pair, and not to be mixed.
    FitError
        Too few readings on a side.
    """
    asked = what.strip().casefold()
    own = [s for s in series_of(entries) if asked in (s.what.casefold(), s.name.casefold())]
    if not own:
        names = ", ".join(dict.fromkeys(s.name for s in series_of(entries))) or "none yet"
        raise NotFoundError(
            f"there is no check {what!r} in this log.", "check", what, f"Those there are: {names}."
        )
    ordered = in_order(entries)
    if isinstance(when, WearEntry):
        cut = next(n for n, entry in enumerate(ordered) if entry is when)
    else:
        cut = sum(entry.on < when for entry in ordered)
    earlier = {(s.what, s.place): s.values for s in series_of(ordered[:cut])}
    split = []
    for series in own:
        before = earlier.get((series.what, series.place), ())
        split.append((before, series.values[len(before) :]))
    both = [(before, after) for before, after in split if before and after]
    if len(both) >= 3 and len({s.unit for s in own}) == 1:
        return own[0].unit, paired_change(
            [before[-1] for before, _ in both], [after[0] for _, after in both]
        )
    if len(own) > 1:
        raise InputError(
            f"{what} was read at {len(own)} places, {len(both)} of them before and after: "
            "three are needed to pair them, and places must not be mixed.",
            "check",
            what,
            f"Name one place: {', '.join(s.name for s in own)}.",
        )
    days = [float(on.toordinal()) for on in own[0].dates]
    return own[0].unit, unpaired_change(*split[0], days=days)
