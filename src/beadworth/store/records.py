"""Rigs, materials, part cards and notes as rows: each change a version, nothing taken away."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from datetime import UTC, datetime
from difflib import get_close_matches
from typing import Any

from sqlalchemy import Select, func, select
from sqlalchemy.orm import Session

from beadworth.core import (
    ConflictError,
    InputError,
    NotFoundError,
    Place,
    R,
    from_mapping,
    to_mapping,
)
from beadworth.material import Material
from beadworth.rig import PartCard, Rig
from beadworth.store.models import NoteRow, RecordRow
from beadworth.store.values import Note, RecordVersion
from beadworth.text import name_problem

KINDS: dict[str, type[Rig] | type[Material] | type[PartCard]] = {
    "rig": Rig,
    "material": Material,
    "part": PartCard,
}
REMOVED: dict[str, Any] = {"removed": True}
"""What the last version of a record holds once it was removed; its name is free again."""


def not_found(what: str, name: str, known: list[str]) -> NotFoundError:
    """The refusal that names what is nearest, or all there is."""
    near = get_close_matches(name, known, n=3, cutoff=0.4) or known[:8]
    remedy = f"On the bench: {', '.join(near)}." if near else f"The bench holds no {what} yet."
    return NotFoundError(f"there is no {what} {name!r} on the bench.", what, name, remedy)


def save(session: Session, kind: str, record: Any) -> None:
    """Add a version where the record differs from the newest."""
    newest_row = _newest_row(session, kind, record.name)
    fresh = newest_row is None or newest_row.data == REMOVED
    if fresh and (problem := name_problem(record.name)):  # older ones keep theirs
        raise InputError(
            f"{problem}.",
            f"{kind} {record.name!a}",
            record.name,
            "Give it another name; nothing was stored.",
            Place(kind, field=("name",)),
        )
    data = to_mapping(record)
    if newest_row is not None and newest_row.data == data:
        return
    session.add(
        RecordRow(
            kind=kind,
            name=record.name,
            version=newest_row.version + 1 if newest_row else 1,
            at=datetime.now(UTC),
            data=data,
        )
    )


def _newest_row(session: Session, kind: str, name: str) -> RecordRow | None:
    return session.scalars(
        select(RecordRow)
        .where(RecordRow.kind == kind, RecordRow.name == name)
        .order_by(RecordRow.version.desc())
        .limit(1)
    ).first()


def newest(session: Session, kind: str, record: type[R], name: str) -> R:
    """The newest version by name."""
    row = _newest_row(session, kind, name)
    if row is None or row.data == REMOVED:
        known = [row.name for row in session.scalars(_newest_rows(kind)) if row.data != REMOVED]
        raise not_found(kind, name, known)
    return from_mapping(record, row.data, f"{kind} {name}")


def remove(session: Session, kind: str, name: str) -> None:
    """Take a record out of sight: its versions stay, the last says that it was removed."""
    newest(session, kind, KINDS[kind], name)
    row = _newest_row(session, kind, name)
    assert row is not None
    session.add(
        RecordRow(kind=kind, name=name, version=row.version + 1, at=datetime.now(UTC), data=REMOVED)
    )


def every(session: Session, kind: str, record: type[R]) -> list[R]:
    """The newest version of every record of a kind, by name."""
    return [
        from_mapping(record, row.data, f"{kind} {row.name}")
        for row in session.scalars(_newest_rows(kind))
        if row.data != REMOVED
    ]


def _newest_rows(*kinds: str) -> Select[RecordRow]:
    """The newest version of every record of some kinds, by name; removed ones too."""
    last = (
        select(RecordRow.kind, RecordRow.name, func.max(RecordRow.version).label("version"))
        .where(RecordRow.kind.in_(kinds))
        .group_by(RecordRow.kind, RecordRow.name)
        .subquery()
    )
    return (
        select(RecordRow)
        .join(
            last,
            (RecordRow.kind == last.c.kind)
            & (RecordRow.name == last.c.name)
            & (RecordRow.version == last.c.version),
        )
        .order_by(RecordRow.name)
    )


def versions_by_name(
    session: Session, names: Collection[str]
) -> dict[tuple[str, str], list[RecordRow]]:
    """Every version of the rigs and materials of some names by (kind, name), in one statement."""
    rows = session.scalars(
        select(RecordRow)
        .where(RecordRow.name.in_(names), RecordRow.kind.in_(("rig", "material")))
        .order_by(RecordRow.name, RecordRow.version)
    )
    found: dict[tuple[str, str], list[RecordRow]] = {}
    for row in rows:
        if row.data == REMOVED:  # what comes after it is another record of the same name
            found.pop((row.kind, row.name), None)
        else:
            found.setdefault((row.kind, row.name), []).append(row)
    return found


def newest_by_name(session: Session) -> tuple[dict[str, Rig], dict[str, Material]]:
    """The newest version of every rig and material, in one statement."""
    rows = session.scalars(_newest_rows("rig", "material"))
    return parted([row for row in rows if row.data != REMOVED])


def parted(rows: Sequence[RecordRow]) -> tuple[dict[str, Rig], dict[str, Material]]:
    """The rigs and the materials among some rows, by name."""
    rigs: dict[str, Rig] = {}
    materials: dict[str, Material] = {}
    for row in rows:
        if row.kind == "rig":
            rigs[row.name] = rig_of(row)
        else:
            materials[row.name] = from_mapping(Material, row.data, f"material {row.name}")
    return rigs, materials


def rig_of(row: RecordRow) -> Rig:
    """The rig in a row."""
    return from_mapping(Rig, row.data, f"rig {row.name}")


def history(session: Session, kind: str, record: type[R], name: str) -> list[RecordVersion]:
    """Every version, oldest first."""
    newest(session, kind, record, name)
    rows = session.scalars(
        select(RecordRow)
        .where(RecordRow.kind == kind, RecordRow.name == name)
        .order_by(RecordRow.version)
    ).all()
    gone = [place for place, row in enumerate(rows) if row.data == REMOVED]
    since = rows[gone[-1] + 1 :] if gone else rows
    return [
        RecordVersion(row.at, from_mapping(record, row.data, f"{kind} {name}")) for row in since
    ]


def add_note(
    session: Session, kind: str, subject: str, data: dict[str, Any], entry_key: str | None = None
) -> Note:
    """Keep a document; one that came under the same key before is given back instead."""
    if entry_key is not None:
        there = session.scalar(select(NoteRow).where(NoteRow.entry_key == entry_key))
        if there is not None:
            if (there.kind, there.subject) != (kind, subject):
                raise another_entry(entry_key)
            return _note(there)
    row = NoteRow(kind=kind, subject=subject, at=datetime.now(UTC), data=data, entry_key=entry_key)
    session.add(row)
    session.flush()
    return _note(row)


def _note(row: NoteRow) -> Note:
    return Note(row.id, row.kind, row.subject, row.at, row.data, row.author)


def another_entry(entry_key: str) -> ConflictError:
    """The refusal of a key that stands for something else already."""
    return ConflictError(
        "this entry's key stands for another entry already.",
        "entry key",
        entry_key,
        "Enter it again; nothing was stored.",
    )


def notes(
    session: Session, kinds: Collection[str], subjects: Collection[str] | None, after: int = 0
) -> list[Note]:
    """Documents of some kinds with a number above ``after``, oldest first."""
    query = select(NoteRow).where(NoteRow.kind.in_(kinds)).order_by(NoteRow.id)
    if after:
        query = query.where(NoteRow.id > after)
    if subjects is not None:
        query = query.where(NoteRow.subject.in_(subjects))
    return [_note(row) for row in session.scalars(query)]
