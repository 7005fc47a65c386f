"""Bring-up results stored with the rig: page and command store, list and apply them here.

Each is a note of the bench (sealed, dated, never changed) under the rig's name. Nothing goes
into the rig's record by itself; :func:`apply_bring_up` writes it there as the record's next
version.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING, Any

from beadworth.bringup import BringUpResult, applied, describe_result, refuse_gross, together
from beadworth.core import NotFoundError, from_mapping, to_mapping
from beadworth.report import BroughtUp
from beadworth.rig import Rig
from beadworth.store import Bench, Note

if TYPE_CHECKING:
    from beadworth.workflow.sections import SectionInputs

BRINGUP_KIND = "bringup"


@dataclass(frozen=True)
class StoredBringUp:
    """One stored bring-up."""

    number: int
    """Its number on the bench, by which it is taken into the record."""
    at: datetime
    """When it was stored, UTC."""
    result: BringUpResult
    given: Mapping[str, Any]
    """The readings it was calculated from, as they were given."""
    not_done: tuple[str, ...]
    """What could not be calculated, and why."""


def store_bring_up(
    bench: Bench, result: BringUpResult, given: Mapping[str, Any], not_done: Sequence[str] = ()
) -> StoredBringUp:
    """Store a result with the rig it names.

    Raises
    ------
    NotFoundError
        No such rig on the bench.
    InputError
        Errors of more than 3 %, which are a slip and no setting.
    """
    bench.rig(result.rig)
    refuse_gross(result)
    data = {"result": to_mapping(result), "given": dict(given), "not_done": list(not_done)}
    return _read(bench.add_note(BRINGUP_KIND, result.rig, data))


def stored_bring_ups(bench: Bench, rig: str) -> list[StoredBringUp]:
    """Every bring-up stored with a rig, oldest first."""
    return bring_ups_of(bench.notes(BRINGUP_KIND, rig))


def bring_ups_of(notes: Sequence[Note]) -> list[StoredBringUp]:
    """The bring-ups that notes hold."""
    return [_read(note) for note in notes]


def apply_bring_up(bench: Bench, rig: str, number: int | None = None) -> Rig:
    """Write what was measured into the rig's record, as its next version.

    Parameters
    ----------
    number : int or None
        The stored bring-up to apply; left out: the newest of every measurement.

    Raises
    ------
    NotFoundError
        No such rig, or no such bring-up of it.
    InputError
        It holds errors of more than 3 %, which are a slip and no setting.
    """
    record = bench.rig(rig)
    changed = applied(record, pick_bring_up(bench, rig, number))
    bench.save_rig(changed)
    return changed


def pick_bring_up(bench: Bench, rig: str, number: int | None = None) -> BringUpResult:
    """One stored result by its number, or the newest of every measurement.

    Raises
    ------
    NotFoundError
        Nothing of that number, or nothing at all, is stored with the rig.
    """
    there = stored_bring_ups(bench, rig)
    picked = [one for one in there if number in (None, one.number)]
    if picked:
        return together([one.result for one in picked])
    numbers = ", ".join(str(one.number) for one in there)
    what = "no bring-up" if number is None else f"no bring-up of number {number}"
    raise NotFoundError(
        f"{rig} has {what}.",
        "bring-up",
        number,
        f"Stored with it: {numbers}." if numbers else "Calculate one and store it first.",
    )


def _read(note: Note) -> StoredBringUp:
    return StoredBringUp(
        note.id,
        note.at,
        from_mapping(BringUpResult, note.data["result"], f"stored bring-up {note.id}"),
        note.data.get("given", {}),
        tuple(note.data.get("not_done", ())),
    )


def gather_bringup(inputs: SectionInputs) -> tuple[BroughtUp, ...] | None:
    """The newest bring-up results stored with the rigs of a trial."""
    made = []
    for rig in inputs.rigs:
        there = [_read(note) for note in inputs.notes(BRINGUP_KIND, [rig.name])]
        if there:
            findings = tuple(describe_result(together([one.result for one in there])))
            made.append(BroughtUp(rig.name, there[-1].at.date().isoformat(), findings))
    return tuple(made) or None
