"""Seals: every row added is hashed, chained to the row before, so that a later change shows.

A database refuses changes made through it (see the migrations); a seal shows those made
around it: a bit that tipped on the disk, a file edited by hand.
"""

from __future__ import annotations

import hashlib
from collections.abc import Collection, Iterator, Mapping, Sequence
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
    session.execute(insert(SealRow), seals)  # as a list: its words are found again


def _number(key: str) -> int | None:
    """The number a row's key is; None for other keys, and for one the column has no room for."""
    number = int(key) if key.isascii() and key.isdigit() and len(key) <= 10 else None
    return None if number is None or number >= 2**31 else number


class _Met:
    """Keys of rows that were met, a byte for each number: a large bench has millions."""

    def __init__(self) -> None:
        self._numbers = bytearray()
        self._others: set[str] = set()

    def add(self, key: str) -> bool:
        """Note a key; False where it was met before."""
        if key in self:
            return False
        number = _number(key)
        if number is None or number >= MOST_NUMBERED:
            self._others.add(key)
        else:
            self._numbers.extend(bytes(max(0, number + 1 - len(self._numbers))))
            self._numbers[number] = 1
        return True

    def __contains__(self, key: str) -> bool:
        number = _number(key)
        if number is None or number >= MOST_NUMBERED:
            return key in self._others
        return number < len(self._numbers) and self._numbers[number] == 1


AT_ONCE = 1000
"""Seals, and rows of a table, that are looked at together: the rest need no memory."""
MOST_NUMBERED = 10**8
"""Numbers below this have a byte each; no bench has more rows."""
MOST_ADDED = 100
"""Rows of a table that are named where they were added around the bench."""


def broken_seals(session: Session) -> list[str]:
    """What was changed, taken away or added around the bench, a sentence each."""
    findings = []
    tables = {
        name: Base.metadata.tables[name] for name in APPEND_ONLY if name != SealRow.__tablename__
    }
    met = {name: _Met() for name in tables}
    before = START
    for entries in _seals(session):
        keys: dict[str, list[str]] = {name: [] for name in tables}
        for name, key, _ in entries:
            if name in keys:
                keys[name].append(key)
        rows = {name: _rows(session, tables[name], some) for name, some in keys.items() if some}
        for name, key, digest in entries:
            where = f"row {key} of {name}"
            if key not in rows.get(name, {}) or not met[name].add(key):
                findings.append(f"{where} is gone, or was sealed twice")
            elif (values := rows[name][key]) is None:
                findings.append(f"{where} cannot be read")
            elif digest != seal(before, name, values):
                findings.append(f"{where} is not what was stored, or a row before it is gone")
            before = digest
    for name, table in tables.items():
        findings += _added(session, name, table, met[name])
    return findings


def _seals(session: Session) -> Iterator[Sequence[tuple[str, str, str]]]:
    """Every seal in order, some at a time: table, key and digest."""
    last = 0
    query = select(SealRow.id, SealRow.kept_in, SealRow.row_key, SealRow.digest)
    while some := session.execute(
        query.where(SealRow.id > last).order_by(SealRow.id).limit(AT_ONCE)
    ).all():
        last = some[-1].id
        yield [row[1:] for row in some]


def _rows(
    session: Session, table: Table, keys: Collection[str]
) -> dict[str, dict[str, Any] | None]:
    """Rows of some keys by key; None for one that cannot be read."""
    known: Collection[str | int] = keys
    if not isinstance(table.c.id.type, String):
        known = [number for key in keys if (number := _number(key)) is not None]
    found: dict[str, dict[str, Any] | None] = {}
    try:
        for row in session.execute(select(table).where(table.c.id.in_(known))).mappings():
            found[str(row["id"])] = dict(row)
    except (ValueError, DBAPIError):  # one by one, to say which
        for key in session.scalars(select(table.c.id).where(table.c.id.in_(known))):
            try:
                found[str(key)] = dict(
                    session.execute(select(table).where(table.c.id == key)).mappings().one()
                )
            except (ValueError, DBAPIError):
                found[str(key)] = None
    return found


def _added(session: Session, name: str, table: Table, met: _Met) -> Iterator[str]:
    """Rows without a seal: the first of them by name, then how many more."""
    more = 0
    for key in session.scalars(select(table.c.id).execution_options(yield_per=AT_ONCE)):
        if str(key) not in met:
            more += 1
            if more <= MOST_ADDED:
                yield f"row {key} of {name} was added around the bench"
    if more > MOST_ADDED:
        yield f"{more - MOST_ADDED:,} more rows of {name} were added around the bench"
