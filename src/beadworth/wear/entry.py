"""One entry of a rig's wear log: hours printed, a change, a failure, a check, or a reminder.

Entries are dated by day. Hours are those added since the entry before, typed or taken from a
replay; a check is one reading of something that is measured the same way again and again.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Annotated, Any, Final, Literal

from pydantic import Field

from beadworth.core import Place, Problem, Record, RecordError, from_mapping

Kind = Literal["hours", "check", "adjustment", "replacement", "failure", "reminder"]
KINDS: Final[tuple[Kind, ...]] = (
    "hours", "check", "adjustment", "replacement", "failure", "reminder",
)  # fmt: skip
Because = Literal["failed", "precaution", "upgrade"]
LARGEST: Final = 1e9
"""Of a reading of any check, in its unit."""
EARLIEST: Final = date(1980, 1, 1)
Words = Annotated[str, Field(max_length=80)]


class WearEntry(Record):
    """One dated entry of a wear log."""

    on: date = Field(description="day it happened, as 2026-11-25")
    kind: Kind = Field(description="hours, check, adjustment, replacement, failure or reminder")
    what: Words = Field("", description="the check, or the part that was changed or failed")
    place: Words = Field("", description="where, or at which setting: y belt; 220 °C, 12 mm³/s")
    value: float | None = Field(None, description="what a check read")
    unit: Annotated[str, Field(max_length=12)] | None = Field(
        None, description="unit of that reading"
    )
    hours_h: float | None = Field(None, description="print hours since the entry before, h")
    from_print: Words | None = Field(None, description="print whose replay gave the hours")
    copies: int | None = Field(None, description="how often that print was printed")
    because: Because | None = Field(
        None, description="why it was replaced: failed, precaution or upgrade"
    )
    every_h: float | None = Field(None, description="remind every so many print hours, h")
    every_days: int | None = Field(None, description="remind every so many days")
    note: Annotated[str, Field(max_length=2000)] = Field("", description="anything else")
    simulated: bool = Field(False, description="true for invented entries")


@dataclass(frozen=True)
class CheckKind:
    """A check that is offered by name: its units and what a reading of it can be."""

    units: tuple[str, ...]
    low: float
    high: float
    how: str
    place_needed: str = ""
    """What the place says of it, where it makes no sense without."""


CHECKS: Final[dict[str, CheckKind]] = {
    "play at the bed": CheckKind(
        ("mm",), 0.0, 10.0,
        "Push and pull the carriage at one place with the same force, and read an indicator.",
    ),
    "belt tension": CheckKind(
        ("N", "Hz"), 0.5, 1000.0, "The same span, carriage in the same place, motors off.",
    ),
    "repeat coupon": CheckKind(
        ("g",), 0.001, 500.0, "The same coupon at one fixed setting, weighed.",
        "the setting: temperature, flow and length fed",
    ),
}  # fmt: skip
"""Any other name is a check of the user's own, in a unit of their own."""


def wear_entry(data: dict[str, Any], source: str) -> WearEntry:
    """Make an entry from plain data.

    Raises
    ------
    RecordError
        Everything that is wrong with it by itself, each with field, value and remedy.
    """
    entry = from_mapping(WearEntry, data, source)
    problems = faults(entry, source)
    if problems:
        raise RecordError(problems)
    return entry


def faults(entry: WearEntry, source: str) -> list[Problem]:
    """What is wrong with an entry by itself."""
    found: list[Problem] = []

    def wrong(field: str, what: str, value: Any, remedy: str) -> None:
        found.append(Problem(what, Place.of_field(source, field), value, remedy))

    if entry.on < EARLIEST:
        wrong("on", f"{entry.on} is before any printer of this kind.", str(entry.on),
              "Correct the year.")  # fmt: skip
    if entry.hours_h is not None and entry.hours_h < 0:
        wrong("hours_h", f"{entry.hours_h:g} h is negative.", entry.hours_h,
              "Enter the hours added since the entry before; to take hours back, void the entry "
              "that was wrong.")  # fmt: skip
    if entry.kind == "hours" and entry.hours_h is None:
        wrong("hours_h", "an entry of hours has none.", None, "Enter print hours, or a print.")
    if entry.copies is not None and not 1 <= entry.copies <= 100_000:
        wrong("copies", f"{entry.copies} is not from 1 to 100000.", entry.copies,
              "Enter how often the print was printed.")  # fmt: skip
    if entry.kind != "hours" and not entry.what.strip():
        wrong("what", "what this is about is not named.", entry.what,
              "Name the check, or the part that was changed or failed.")  # fmt: skip
    if entry.kind == "replacement" and entry.because is None:
        wrong("because", "a replacement needs its reason.", None,
              "Say failed, precaution or upgrade: only failures count as such.")  # fmt: skip
    if entry.kind != "replacement" and entry.because is not None:
        wrong("because", f"a reason belongs to a replacement, not to an entry of {entry.kind}.",
              entry.because, "Leave it out, or make this a replacement.")  # fmt: skip
    _check_faults(entry, wrong)
    _reminder_faults(entry, wrong)
    return found


def _check_faults(entry: WearEntry, wrong: Any) -> None:
    if entry.kind != "check":
        if entry.value is not None:
            wrong("value", f"a reading belongs to a check, not to an entry of {entry.kind}.",
                  entry.value, "Make it an entry of its own, of kind check.")  # fmt: skip
        return
    known = CHECKS.get(entry.what.strip())
    unit = (entry.unit or "").strip()
    if entry.value is None:
        wrong("value", "a check has no reading.", None, "Enter what was read, and its unit.")
    if not unit:
        units = " or ".join(known.units) if known else "mm, N, g or what it is read in"
        wrong("unit", "a reading needs its unit.", None, f"Give {units}.")
    if known is None:
        if entry.value is not None and abs(entry.value) > LARGEST:
            wrong("value", f"{entry.value:g} is beyond {LARGEST:g}.", entry.value,
                  "Use a larger unit.")  # fmt: skip
        return
    if unit and unit not in known.units:
        units = " or ".join(known.units)
        wrong("unit", f"{entry.what} is recorded in {units}, not in {unit}.", unit,
              "Convert the reading, or give the check another name.")  # fmt: skip
    elif entry.value is not None and not known.low <= entry.value <= known.high:
        span = f"{known.low:g} to {known.high:g} {unit}"
        wrong("value", f"{entry.value:g} {unit} is not from {span}.", entry.value,
              "Check the unit and the decimal point.")  # fmt: skip
    if known.place_needed and not entry.place.strip():
        wrong("place", f"{entry.what} needs {known.place_needed}.", None,
              "Readings at different settings must not share a chart.")  # fmt: skip


def _reminder_faults(entry: WearEntry, wrong: Any) -> None:
    every = {"every_h": entry.every_h, "every_days": entry.every_days}
    if entry.kind != "reminder":
        for field, value in every.items():
            if value is not None:
                wrong(field, f"an interval belongs to a reminder, not to an entry of {entry.kind}.",
                      value, "Make it an entry of its own, of kind reminder.")  # fmt: skip
        return
    if entry.every_h is None and entry.every_days is None:
        wrong("every_h", "a reminder needs an interval.", None, "Give hours, days or both.")
    for field, value in every.items():
        if value is not None and not 0 < value <= 100_000:
            wrong(field, f"{value:g} is not above 0 and up to 100000.", value,
                  "Enter the interval between two checks.")  # fmt: skip


def describe_entry(entry: WearEntry) -> str:
    """An entry in a line."""
    words = [entry.what + (f" ({entry.place})" if entry.place else "")] if entry.what else []
    if entry.value is not None:
        words.append(f"{entry.value:g} {entry.unit}")
    if entry.because:
        words.append(f"because: {entry.because}")
    if entry.every_h is not None:
        words.append(f"every {entry.every_h:g} h")
    if entry.every_days is not None:
        words.append(f"every {entry.every_days} days")
    if entry.hours_h is not None:
        of = f" ({entry.copies or 1} × {entry.from_print})" if entry.from_print else ""
        words.append(f"{entry.hours_h:.4g} h{of}")
    return ", ".join(words)


def in_order(entries: Sequence[WearEntry]) -> list[WearEntry]:
    """By day; those of one day as they were entered."""
    return sorted(entries, key=lambda entry: entry.on)


def clashes(entry: WearEntry, log: Sequence[WearEntry], today: date, source: str) -> list[Problem]:
    """What is wrong with an entry beside those the log holds already.

    Refused are a day that has not come, a unit other than that of the same check before, and
    more hours than there were: between two days d₁ and d₂ no more than 24·(d₂ − d₁ + 1) hours
    can have been added, whatever the time of day of either.
    """
    found = []
    if entry.on > today:
        found.append(
            Problem(
                f"{entry.on} has not come yet (today is {today}).", Place.of_field(source, "on"),
                str(entry.on), "Enter what has happened, dated when it did.",
            )
        )  # fmt: skip
    if entry.kind == "check":
        found += _unit_clash(entry, log, source)
    if entry.hours_h is not None:
        found += _hours_clash(entry, log, source)
    return found


def same_check(one: WearEntry, other: WearEntry) -> bool:
    """Whether two checks belong to one series."""
    return (one.what.strip().casefold(), one.place.strip().casefold()) == (
        other.what.strip().casefold(), other.place.strip().casefold(),
    )  # fmt: skip


def _unit_clash(entry: WearEntry, log: Sequence[WearEntry], source: str) -> list[Problem]:
    for before in log:
        if before.kind == "check" and same_check(before, entry) and before.unit != entry.unit:
            where = f" ({entry.place})" if entry.place else ""
            return [
                Problem(
                    f"{entry.what}{where} has been recorded in {before.unit} since {before.on}; "
                    f"this reading is in {entry.unit}.",
                    Place.of_field(source, "unit"), entry.unit,
                    f"Convert it to {before.unit}, or give the check or its place another name.",
                )
            ]  # fmt: skip
    return []


def _hours_clash(entry: WearEntry, log: Sequence[WearEntry], source: str) -> list[Problem]:
    """Whether the log with this entry holds more hours than the calendar between two entries.

    Hours of an entry were added since the entry before it, so those of the first may come from
    before the log, however many. With S the hours run up and d the day, S − 24·d must not rise
    by more than 24 from any entry to any later one; pairs around this entry are looked at.
    """
    hours = entry.hours_h or 0.0
    dated = [(e.on, e.hours_h) for e in in_order(log) if e.hours_h is not None]
    place = sum(on <= entry.on for on, _ in dated)
    dated.insert(place, (entry.on, hours))
    run_up, total = [], 0.0
    for on, more in dated:
        total += more
        run_up.append((total - 24.0 * on.toordinal(), on, total))
    pairs = []
    if run_up[:place]:
        pairs.append((min(run_up[:place]), max(run_up[place:])))
    if run_up[place + 1 :]:
        pairs.append((run_up[place], max(run_up[place + 1 :])))
    if not pairs:
        return []
    start, end = max(pairs, key=lambda pair: pair[1][0] - pair[0][0])
    if end[0] - start[0] <= 24.0:
        return []
    added, most = end[2] - start[2], _room(start[1], end[1])
    if end is run_up[place]:
        already = f" (with {added - hours:g} h already logged)" if added > hours else ""
        said = f"{hours:g} h{already} is more than the {most:g} h from the entry of {start[1]} "
        said += f"to the end of {entry.on}."
    else:
        said = f"with this entry {added:g} h are logged from the entry of {start[1]} to the end "
        said += f"of {end[1]}, which hold {most:g} h."
    return [
        Problem(
            said, Place.of_field(source, "hours_h"), hours,
            "Enter the hours since the entry before, not a counter's total; or correct the day, "
            "or first the entry that is wrong.",
        )
    ]  # fmt: skip


def _room(start: date, end: date) -> float:
    """The most hours between two days, whatever the time of day of either."""
    return 24.0 * ((end - start) / timedelta(days=1) + 1.0)
