"""What a wear log adds up to: hours, series of checks, lives of parts, what is due next."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from beadworth.text import count
from beadworth.wear.entry import WearEntry, in_order

PACE_DAYS = 60
"""Days back over which the pace of printing is taken."""


@dataclass(frozen=True)
class HoursAt:
    """Hours printed up to the end of a day."""

    on: date
    total_h: float


@dataclass(frozen=True)
class Series:
    """Readings of one check at one place, oldest first."""

    what: str
    place: str
    unit: str
    dates: tuple[date, ...]
    values: tuple[float, ...]
    hours: tuple[float, ...]
    """Hours of the rig at each."""

    @property
    def name(self) -> str:
        """Check and place."""
        return f"{self.what}, {self.place}" if self.place else self.what


@dataclass(frozen=True)
class Lives:
    """Lives of one kind of part, the last still running unless it failed at the very end."""

    part: str
    hours: tuple[float, ...]
    failed: tuple[bool, ...]


@dataclass(frozen=True)
class Due:
    """When a check or a part is due next."""

    what: str
    place: str
    every_h: float | None
    every_days: int | None
    last: date | None
    """When it was last done; None: not since the reminder was set."""
    since_h: float
    since_days: int
    left_h: float | None
    """Negative: overdue by so much."""
    left_days: int | None
    overdue: bool
    words: str


def hours_by_day(entries: Sequence[WearEntry]) -> tuple[HoursAt, ...]:
    """The running total at the end of every day on which hours were entered."""
    totals: dict[date, float] = {}
    total = 0.0
    for entry in in_order(entries):
        if entry.hours_h is not None:
            total += entry.hours_h
            totals[entry.on] = total
    return tuple(HoursAt(on, value) for on, value in totals.items())


def hours_at(days: Sequence[HoursAt], on: date) -> float:
    """Hours entered for days up to and including ``on``, from :func:`hours_by_day`."""
    place = bisect_right(days, on, key=lambda day: day.on)
    return days[place - 1].total_h if place else 0.0


def series_of(entries: Sequence[WearEntry]) -> tuple[Series, ...]:
    """Every check as a series, by name and place."""
    days = hours_by_day(entries)
    found: dict[tuple[str, str], list[WearEntry]] = {}
    for entry in in_order(entries):
        if entry.kind == "check" and entry.value is not None:
            found.setdefault(_key(entry.what, entry.place), []).append(entry)
    return tuple(
        Series(
            own[0].what.strip(), own[0].place.strip(), own[0].unit or "",
            tuple(entry.on for entry in own),
            tuple(entry.value or 0.0 for entry in own),
            tuple(hours_at(days, entry.on) for entry in own),
        )
        for _, own in sorted(found.items())
    )  # fmt: skip


def failures_of(entries: Sequence[WearEntry], what: str | None = None) -> int:
    """Failures of the rig, or of one part; one logged twice on a day counts once."""
    failed = {
        (entry.on, entry.what.strip().casefold())
        for entry in entries
        if entry.kind == "failure" or entry.because == "failed"
    }
    return sum(what is None or name == what.strip().casefold() for _, name in failed)


def failing_parts(entries: Sequence[WearEntry]) -> tuple[str, ...]:
    """Names of everything that failed or was replaced, each once, in order."""
    names = {
        entry.what.strip().casefold(): entry.what.strip()
        for entry in reversed(in_order(entries))
        if entry.kind in ("failure", "replacement")
    }
    return tuple(names[key] for key in sorted(names))


def lives_of(entries: Sequence[WearEntry], part: str) -> Lives:
    """Hours each part of a kind ran, from the log's start or the replacement before.

    A life that ended in a replacement for another reason than failure, and the one still
    running, are right-censored: they lasted at least so long. A part replaced twice without an
    hour between has no life there and is left out.
    """
    days = hours_by_day(entries)
    total = days[-1].total_h if days else 0.0
    hours, failed, start = [], [], 0.0
    for entry in in_order(entries):
        if entry.kind != "replacement" or entry.what.strip().casefold() != part.strip().casefold():
            continue
        at = hours_at(days, entry.on)
        if at > start:
            hours.append(round(at - start, 6))
            failed.append(entry.because == "failed")
        start = at
    if total > start:
        hours.append(round(total - start, 6))
        failed.append(False)
    return Lives(part, tuple(hours), tuple(failed))


def pace_h_per_day(entries: Sequence[WearEntry], today: date) -> float | None:
    """Hours a day over the last :data:`PACE_DAYS` days, or since the log began."""
    days = hours_by_day(entries)
    if len(days) < 2:
        return None
    first = max(days[0].on, today - timedelta(days=PACE_DAYS))
    span = (today - first) / timedelta(days=1)
    if span <= 0:
        return None
    return (days[-1].total_h - hours_at(days, first)) / span


def due_checks(entries: Sequence[WearEntry], today: date) -> tuple[Due, ...]:
    """Every reminder and how far off it is, the most pressing first.

    The last reminder of a check and place counts. It runs from the last check, adjustment or
    replacement of that name (at that place, where it names one), else from its own day.
    """
    reminders: dict[tuple[str, str], WearEntry] = {}
    for entry in in_order(entries):
        if entry.kind == "reminder":
            reminders[_key(entry.what, entry.place)] = entry
    pace = pace_h_per_day(entries, today)
    found = [_due(reminder, entries, today, pace) for reminder in reminders.values()]
    return tuple(sorted(found, key=_pressing))


def _due(reminder: WearEntry, entries: Sequence[WearEntry], today: date, pace: float | None) -> Due:
    last = max((entry.on for entry in entries if _does(entry, reminder)), default=None)
    start = last or reminder.on
    days = hours_by_day(entries)
    since_h = hours_at(days, today) - hours_at(days, start)
    since_days = (today - start).days
    left_h = None if reminder.every_h is None else reminder.every_h - since_h
    left_days = None if reminder.every_days is None else reminder.every_days - since_days
    overdue = (left_h is not None and left_h <= 0) or (left_days is not None and left_days <= 0)
    return Due(
        reminder.what.strip(), reminder.place.strip(), reminder.every_h, reminder.every_days,
        last, since_h, since_days, left_h, left_days, overdue,
        _due_words(left_h, left_days, pace),
    )  # fmt: skip


def _does(entry: WearEntry, reminder: WearEntry) -> bool:
    """Whether an entry is the doing of what a reminder asks for."""
    if entry.kind not in ("check", "adjustment", "replacement"):
        return False
    same_what = entry.what.strip().casefold() == reminder.what.strip().casefold()
    place = reminder.place.strip().casefold()
    return same_what and (not place or entry.place.strip().casefold() == place)


def _due_words(left_h: float | None, left_days: int | None, pace: float | None) -> str:
    over = []
    if left_h is not None and left_h <= 0:
        over.append(f"{-left_h:.0f} h")
    if left_days is not None and left_days <= 0:
        over.append(count(-left_days, "day"))
    if over:
        return f"due now, over by {' and '.join(over)}"
    ahead = []
    if left_h is not None:
        days = count(round(left_h / pace), "day") if pace else ""
        at_pace = f" (about {days} at the recent pace)" if pace else ""
        ahead.append(f"in {left_h:.0f} h{at_pace}")
    if left_days is not None:
        ahead.append(f"in {count(left_days, 'day')}")
    return " or ".join(ahead)


def _pressing(due: Due) -> tuple[float, str, str]:
    """Share of the interval that is left, the smaller of hours and days."""
    shares = []
    if due.left_h is not None and due.every_h:
        shares.append(due.left_h / due.every_h)
    if due.left_days is not None and due.every_days:
        shares.append(due.left_days / due.every_days)
    return (min(shares), due.what, due.place)


def _key(what: str, place: str) -> tuple[str, str]:
    return what.strip().casefold(), place.strip().casefold()
