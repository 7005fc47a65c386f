"""Seals: every row added is hashed, chained to the row before, so that a later change shows.

A database refuses changes made through it (see the migrations); a seal shows those made
around it: a bit that tipped on the disk, a file edited by hand.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from datetime import UTC, datetime
from typing import Any

from sqlalchemy import Connection, String, Table, event, insert, select
from sqlalchemy.exc import DBAPIError
from sqlalchemy.orm import Mapper, Session, object_mapper

from beadworth.core import InputError
from beadworth.store.authorship import author
from beadworth.store.models import APPEND_ONLY, Authored, Base, SealRow
from beadworth.trial import canonical_json

START = "0" * 64
"""What the first seal is chained to."""


def seal(before: str, table: str, values: Mapping[str, Any]) -> str:
    """SHA-256 (hex) over the seal before, the table's name and the row.

    Empty columns are left out, so that a column added later leaves old seals as they are.
    Seals are stored, and a migration makes some: this function never changes its answer.
    """
    plain = {name: _plain(value) for name, value in values.items() if value is not None}
    return hashlib.sha256(canonical_json([before, table, plain]).encode()).hexdigest()


def _plain(value: Any) -> Any:
    if not isinstance(value, datetime):
        return value
    aware = value.replace(tzinfo=UTC) if value.tzinfo is None else value.astimezone(UTC)
    return aware.isoformat(timespec="microseconds")


@event.listens_for(Base, "before_insert", propagate=True)
def _refuse_what_cannot_be_stored(mapper: Mapper[Any], _: Connection, target: Any) -> None:
    """Both databases take the same: text they can encode and have room for, finite numbers.

    Every row says who made it.
    """
    if isinstance(target, Authored) and target.author is None:
        target.author = author()
    for column in mapper.columns:
        value = getattr(target, mapper.get_property_by_column(column).key)
        what = _not_storable(value)
        length = column.type.length if isinstance(column.type, String) else None
        if what is None and length is not None and isinstance(value, str) and len(value) > length:
            what = f"{len(value)} characters are more than the {length} that are stored"
        if what:
            raise InputError(
                f"{what}.",
                f"{target.__tablename__}, {column.name}",
                remedy="Change it and try again; nothing was stored.",
            )


def _not_storable(value: Any) -> str | None:
    """What is wrong with a value, searched to its leaves."""
    if isinstance(value, str):
        if "\0" in value or any("\ud800" <= letter <= "\udfff" for letter in value):
            return "this text holds characters that cannot be stored"
    elif isinstance(value, float) and not -float("inf") < value < float("inf"):
        return f"{value} is not a finite number"
    elif isinstance(value, Mapping):
        return next(filter(None, (_not_storable(x) for pair in value.items() for x in pair)), None)
    elif isinstance(value, (list, tuple)):
        return next(filter(None, map(_not_storable, value)), None)
    return None


@event.listens_for(Session, "after_flush")
def _seal_rows(session: Session, _: object) -> None:
    """Seal all rows of a flush at once, in the order in which they were added."""
    new = [
        row for row in session.new
        if row.__tablename__ in APPEND_ONLY and row.__tablename__ != SealRow.__tablename__
    ]  # fmt: skip
    if not new:
        return
    last = select(SealRow.digest).order_by(SealRow.id.desc()).limit(1)
    before = session.scalar(last) or START
    seals = []
    for row in new:
        mapper = object_mapper(row)
        values = {
            c.name: getattr(row, mapper.get_property_by_column(c).key) for c in mapper.columns
        }
        before = seal(before, row.__tablename__, values)
        seals.append({"kept_in": row.__tablename__, "row_key": str(values["id"]), "digest": before})
    session.execute(insert(SealRow).values(seals))


def broken_seals(session: Session) -> list[str]:
    """What was changed, taken away or added around the bench, a sentence each."""
    findings = []
    rows = {
        name: _rows(session, Base.metadata.tables[name])
        for name in APPEND_ONLY
        if name != SealRow.__tablename__
    }
    before = START
    for entry in session.scalars(select(SealRow).order_by(SealRow.id)):
        where = f"row {entry.row_key} of {entry.kept_in}"
        if entry.row_key not in rows.get(entry.kept_in, {}):
            findings.append(f"{where} is gone, or was sealed twice")
        else:
            values = rows[entry.kept_in].pop(entry.row_key)
            if values is None:
                findings.append(f"{where} cannot be read")
            elif entry.digest != seal(before, entry.kept_in, values):
                findings.append(f"{where} is not what was stored, or a row before it is gone")
        before = entry.digest
    findings += [f"row {key} of {name} was added around the bench" for name in rows
                 for key in rows[name]]  # fmt: skip
    return findings


def _rows(session: Session, table: Table) -> dict[str, dict[str, Any] | None]:
    """Rows by key; None for one that cannot be read."""
    found: dict[str, dict[str, Any] | None] = {}
    try:
        for row in session.execute(select(table)).mappings():
            found[str(row["id"])] = dict(row)
    except (ValueError, DBAPIError):  # one by one, to say which
        for key in session.scalars(select(table.c.id)):
            try:
                found[str(key)] = dict(
                    session.execute(select(table).where(table.c.id == key)).mappings().one()
                )
            except (ValueError, DBAPIError):
                found[str(key)] = None
    return found
