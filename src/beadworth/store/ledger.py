"""Dated records that are only ever added to: a correction takes a record's place, both stay.

Wear logs and journals are stored so, as notes of one kind about one subject. A note holds a
record; or a record and which note it takes the place of; or only which note no longer counts.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import TYPE_CHECKING, Any, Generic, Literal, TypeVar

from beadworth.core import (
    LEFT_OUT,
    ConflictError,
    InputError,
    NotFoundError,
    Record,
    from_mapping,
    named,
    to_mapping,
)

if TYPE_CHECKING:
    from beadworth.store.store import Bench
    from beadworth.store.values import Note

R = TypeVar("R", bound=Record)
T = TypeVar("T")
State = Literal["current", "voided", "superseded"]
TOO_LATE = "another correction of the same entry came first"
"""Of two corrections made at once only the first counts, or both would be added up."""
_EVENTS: tuple[tuple[str, State], ...] = (("voids", "voided"), ("supersedes", "superseded"))


@dataclass(frozen=True)
class StoredEntry(Generic[R]):
    """A record as it was entered, and what became of it."""

    id: int
    subject: str = field(metadata=LEFT_OUT)
    at: datetime = field(metadata=named("entered"))
    """When it was entered, UTC."""
    record: R = field(metadata=named("entry"))
    state: State
    reason: str
    """Why it no longer counts."""
    supersedes: int | None
    author: str | None = None
    """Who entered it; null: whoever worked at the machine itself, or an earlier release."""


def every(bench: Bench, kind: str, subject: str, model: type[R]) -> list[StoredEntry[R]]:
    """All records about a subject in the order entered, those that do not count too."""
    return entries(bench.notes(kind, subject), model)


def entries(notes: Iterable[Note], model: type[R]) -> list[StoredEntry[R]]:
    """The records that notes hold, in the order entered, those that do not count too."""
    found: dict[int, StoredEntry[R]] = {}
    for note in notes:
        data = note.data
        late = False
        for event, state in _EVENTS:
            if event not in data:
                continue
            old = found.get(data[event])
            late = old is None or old.state != "current"
            if old is not None and not late:
                found[old.id] = replace(old, state=state, reason=data.get("reason", ""))
        if "entry" in data:
            record = from_mapping(model, data["entry"], f"{note.kind} entry {note.id}")
            found[note.id] = StoredEntry(
                note.id, note.subject, note.at, record, "voided" if late else "current",
                TOO_LATE if late else "", data.get("supersedes"), note.author,
            )  # fmt: skip
    return list(found.values())


def one(bench: Bench, kind: str, subject: str, model: type[R], entry_id: int) -> StoredEntry[R]:
    """One record.

    Raises
    ------
    NotFoundError
        None of that number about this subject.
    """
    for entry in every(bench, kind, subject, model):
        if entry.id == entry_id:
            return entry
    raise NotFoundError(
        f"there is no {kind} entry {entry_id} of {subject}.",
        f"{kind} entry",
        entry_id,
        "Its number stands beside each entry in the list.",
    )


def by_number(found: Mapping[int, T], number: int, name: str, first: str, where: str = "") -> T:
    """One of what is on the bench, by its number.

    Parameters
    ----------
    found : mapping of int to T
        All there are, in the order that they are named in.
    number : int
    name : str
        What each is called.
    first : str
        What to do where there is none yet.
    where : str
        What the refusal is about; left out: ``name``.

    Raises
    ------
    NotFoundError
        None of that number; those there are are named.
    """
    if number in found:
        return found[number]
    there = ", ".join(map(str, found))
    raise NotFoundError(
        f"there is no {name} {number} on the bench.", where or name, number,
        f"Those there are: {there}." if there else first,
    )  # fmt: skip


def add(
    bench: Bench, kind: str, subject: str, record: Record, instead_of: int | None = None,
    reason: str = "", entry_key: str | None = None,
) -> int:  # fmt: skip
    """Store a record, in another's place where one is named; its number."""
    data: dict[str, Any] = {"entry": to_mapping(record)}
    if instead_of is not None:
        data |= {"supersedes": instead_of, "reason": reason}
    return bench.add_note(kind, subject, data, entry_key).id


def void(bench: Bench, kind: str, subject: str, model: type[R], entry_id: int, reason: str) -> None:
    """Let a record no longer count; it stays, with the reason.

    Raises
    ------
    InputError
        No reason.
    ConflictError
        It does not count already.
    """
    require_current(one(bench, kind, subject, model, entry_id), reason)
    bench.add_note(kind, subject, {"voids": entry_id, "reason": reason.strip()})


def require_current(entry: StoredEntry[R], reason: str) -> StoredEntry[R]:
    """The record, if it counts and a reason is given for changing that."""
    if not reason.strip():
        raise InputError(
            "no reason is given.",
            "reason",
            reason,
            "Say why the entry no longer counts; it stays in the list with it.",
        )
    if entry.state != "current":
        raise ConflictError(
            f"entry {entry.id} does not count already ({entry.state}: {entry.reason}).",
            "entry",
            entry.id,
            "Look at the list for the one that counts.",
        )
    return entry
