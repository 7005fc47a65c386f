"""Rights as rows: given once, used or withdrawn by an event, never changed."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from typing import Literal, cast

from sqlalchemy import select
from sqlalchemy.orm import Session

from beadworth.core import ConflictError, NotFoundError
from beadworth.store.connection import OpenBench
from beadworth.store.models import GrantEventRow, GrantRow
from beadworth.store.values import Grant

State = Literal["open", "used", "withdrawn"]
MOST = 2**31 - 1
"""The largest number a grant can have."""


@dataclass(frozen=True)
class NewGrant:
    """A right that is about to be given; ``digest`` is the SHA-256 of its secret."""

    kind: str
    name: str
    role: str
    digest: str
    until: datetime | None = None
    trial: str | None = None


class AccessOfBench(OpenBench):
    """The rights of a bench."""

    def give(self, new: NewGrant) -> Grant:
        """Store a right."""
        with self._write() as session:
            return _give(session, new)

    def exchange(self, grant_id: int, name_new: Callable[[Sequence[Grant]], NewGrant]) -> Grant:
        """Use a right that serves once, and store another in its place; both or neither.

        ``name_new`` is given all rights there are, and nobody else can store one meanwhile.

        Raises
        ------
        ConflictError
            It was used or withdrawn before.
        """
        with self._write() as session:
            _end(session, grant_id, "used")
            return _give(session, name_new(_grants(session)))

    def withdraw(self, grant_id: int) -> Grant:
        """Withdraw a right: whoever shows its secret from now on is refused."""
        with self._write() as session:
            return _end(session, grant_id, "withdrawn")

    def grants(self, kind: str | None = None, begins: str = "") -> list[Grant]:
        """Rights in the order given; ``begins``: only those whose digest begins so."""
        with self._read_once() as session:
            return _grants(session, kind, begins)


_COLUMNS = (
    GrantRow.id, GrantRow.kind, GrantRow.name, GrantRow.role, GrantRow.trial_id, GrantRow.at,
    GrantRow.until, GrantRow.digest,
)  # fmt: skip


def _grants(session: Session, kind: str | None = None, begins: str = "") -> list[Grant]:
    """Asked at every request of a served bench, so columns, not objects of the mapper."""
    query = (
        select(*_COLUMNS, GrantEventRow.state, GrantEventRow.at, GrantRow.author)
        .outerjoin(GrantEventRow, GrantEventRow.grant_id == GrantRow.id)
        .order_by(GrantRow.id)
    )
    if kind is not None:
        query = query.where(GrantRow.kind == kind)
    if begins:
        query = query.where(GrantRow.digest.startswith(begins, autoescape=True))
    return [
        Grant(*row[:8], cast(State, row[8] or "open"), *row[9:]) for row in session.execute(query)
    ]


def _grant(row: GrantRow) -> Grant:
    return Grant(
        row.id, row.kind, row.name, row.role, row.trial_id, row.at, row.until, row.digest,
        author=row.author,
    )  # fmt: skip


def _give(session: Session, new: NewGrant) -> Grant:
    row = GrantRow(
        kind=new.kind, name=new.name, role=new.role, trial_id=new.trial,
        at=datetime.now(UTC), until=new.until, digest=new.digest,
    )  # fmt: skip
    session.add(row)
    session.flush()
    return _grant(row)


def _end(session: Session, grant_id: int, state: Literal["used", "withdrawn"]) -> Grant:
    row = session.get(GrantRow, grant_id) if 0 < grant_id <= MOST else None
    if row is None:
        raise NotFoundError(
            f"nothing of the number {grant_id} was ever given.",
            "access",
            grant_id,
            "The numbers stand in the list: beadworth bench phones.",
        )
    before = session.scalar(select(GrantEventRow).where(GrantEventRow.grant_id == grant_id))
    if before is not None:
        raise ConflictError(
            f"{row.name} was {before.state} already.",
            "access",
            grant_id,
            "There is nothing left to end.",
        )
    event = GrantEventRow(grant_id=grant_id, at=datetime.now(UTC), state=state)
    session.add(event)
    session.flush()
    return replace(_grant(row), state=state, ended=event.at)
