"""The wear log of a rig on the bench."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from typing import TYPE_CHECKING, Any, Final

from beadworth.core import ConflictError, NotFoundError, Place, RecordError
from beadworth.store import PrintShelf, StoredEntry, ledger
from beadworth.wear import (
    ChartSettings,
    Due,
    WearEntry,
    WearSummary,
    change_at,
    clashes,
    due_checks,
    wear_entry,
    wear_summary,
)

if TYPE_CHECKING:
    from beadworth.rig import Rig
    from beadworth.store import Bench, Note
    from beadworth.wear import Change
    from beadworth.workflow.sections import SectionInputs

WEAR_KIND: Final = "wear"
SOURCE: Final = "wear entry"


def wear_log(bench: Bench, rig: str) -> list[StoredEntry[WearEntry]]:
    """Every entry of a rig's log in the order entered, those that do not count too.

    Raises
    ------
    NotFoundError
        No such rig.
    """
    bench.rig(rig)
    return ledger.every(bench, WEAR_KIND, rig, WearEntry)


def wear_entries(bench: Bench, rig: str) -> list[WearEntry]:
    """The entries that count."""
    return _counting(wear_log(bench, rig))


def add_wear(
    bench: Bench, rig: str, data: Mapping[str, Any], today: date | None = None
) -> StoredEntry[WearEntry]:
    """Put an entry into a rig's log.

    Parameters
    ----------
    data : mapping
        Fields of :class:`~beadworth.wear.entry.WearEntry`. With ``from_print``, the id of a
        print that was replayed, and no hours, its time times ``copies`` is taken.
    today : date, optional
        Left out: by this machine's clock.

    Raises
    ------
    NotFoundError
        No such rig or print.
    RecordError
        What is wrong with the entry by itself or beside the others, all at once.
    ConflictError
        A print whose last replay was not on this rig.
    """
    log = wear_entries(bench, rig)
    entry = _checked(bench, rig, data, log, today)
    return ledger.one(bench, WEAR_KIND, rig, WearEntry, ledger.add(bench, WEAR_KIND, rig, entry))


def supersede_wear(
    bench: Bench, rig: str, entry_id: int, data: Mapping[str, Any], reason: str,
    today: date | None = None,
) -> StoredEntry[WearEntry]:  # fmt: skip
    """Put a corrected entry in another's place; the old one stays, with the reason."""
    log = wear_log(bench, rig)
    ledger.require_current(ledger.one(bench, WEAR_KIND, rig, WearEntry, entry_id), reason)
    others = [
        stored.record for stored in log if stored.state == "current" and stored.id != entry_id
    ]
    entry = _checked(bench, rig, data, others, today)
    made = ledger.add(bench, WEAR_KIND, rig, entry, entry_id, reason.strip())
    return ledger.one(bench, WEAR_KIND, rig, WearEntry, made)


def void_wear(bench: Bench, rig: str, entry_id: int, reason: str) -> None:
    """Let an entry no longer count; it stays in the log with the reason."""
    bench.rig(rig)
    ledger.void(bench, WEAR_KIND, rig, WearEntry, entry_id, reason)


def rig_wear(
    bench: Bench, rig: str, settings: Mapping[str, ChartSettings] | None = None,
    today: date | None = None,
) -> WearSummary:  # fmt: skip
    """What a rig's log says today."""
    return wear_summary(wear_entries(bench, rig), today or date.today(), settings)


def compare_wear(bench: Bench, rig: str, check: str, when: date | int) -> tuple[str, Change]:
    """A check before a day, or before an entry of that number, against the same check after it.

    Raises
    ------
    NotFoundError
        No such rig, check or entry that counts.
    InputError, FitError
        As :func:`~beadworth.wear.summary.change_at`.
    """
    log = [stored for stored in wear_log(bench, rig) if stored.state == "current"]
    entries = [stored.record for stored in log]
    if not isinstance(when, int):
        return change_at(entries, check, when)
    change = next((stored.record for stored in log if stored.id == when), None)
    if change is None:
        raise NotFoundError(
            f"no entry {when} counts in the log of {rig}.",
            "entry",
            when,
            "Its number stands beside each entry in the list.",
        )
    return change_at(entries, check, change)


def overdue_checks(
    rigs: Iterable[Rig], notes: Sequence[Note], today: date | None = None
) -> list[tuple[str, Due]]:
    """What is due now on any of some rigs that has a log, by rig.

    A simulated rig is nobody's to look after: the demo's log ends on the day it was written, and
    would be overdue ever after.

    Parameters
    ----------
    rigs : those on the bench
    notes : the bench's notes of the kind :data:`WEAR_KIND`
    """
    simulated = {rig.name for rig in rigs if rig.simulated}
    day = today or date.today()
    return [
        (rig, due)
        for rig in sorted({note.subject for note in notes} - simulated)
        for due in due_checks(wear_entries_of([n for n in notes if n.subject == rig]), day)
        if due.overdue
    ]


def wear_entries_of(notes: Sequence[Note]) -> list[WearEntry]:
    """The entries that count, of notes about one rig."""
    return _counting(ledger.entries(notes, WearEntry))


def gather_wear(inputs: SectionInputs) -> dict[str, WearSummary] | None:
    """The logs of a trial's rigs, for its dossier."""
    found = {}
    for name in inputs.rig_names:
        entries = wear_entries_of(inputs.notes(WEAR_KIND, [name]))
        if entries:
            found[name] = wear_summary(entries, date.today())
    return found or None


def _counting(log: list[StoredEntry[WearEntry]]) -> list[WearEntry]:
    return [stored.record for stored in log if stored.state == "current"]


def _checked(
    bench: Bench, rig: str, data: Mapping[str, Any], log: list[WearEntry], today: date | None
) -> WearEntry:
    entry = wear_entry(_with_replayed_hours(bench, rig, data), SOURCE)
    problems = clashes(entry, log, today or date.today(), SOURCE)
    if problems:
        raise RecordError(problems)
    return entry


def _with_replayed_hours(bench: Bench, rig: str, data: Mapping[str, Any]) -> dict[str, Any]:
    """The entry with the hours of its print's last replay, where it names one and no hours."""
    made = dict(data)
    print_id = made.get("from_print")
    if not print_id:
        return made
    if made.get("hours_h") is not None:
        raise RecordError(
            "hours are typed and a print is named too.",
            Place.of_field(SOURCE, "from_print"),
            str(print_id),
            "Leave one of them out.",
        )
    stored = PrintShelf(bench).one(str(print_id))
    if stored.last is None or stored.last.get("rig") != rig:
        on = f"its last replay was on {stored.last['rig'] or 'no rig'}" if stored.last else (
            "it was not replayed yet"
        )  # fmt: skip
        raise ConflictError(
            f"the time of {stored.name} on {rig} is not known: {on}.",
            Place.of_field(SOURCE, "from_print"),
            stored.id,
            "Replay it on this rig on its page first, or type the hours.",
        )
    copies = made.setdefault("copies", 1)
    if isinstance(copies, int):
        made["hours_h"] = stored.last["time_s"] / 3600.0 * copies
    made["from_print"] = stored.name[:80]
    return made
