"""The tables of a bench. What was measured is only ever added to; states come from events."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

from sqlalchemy import (
    JSON,
    DateTime,
    Dialect,
    ForeignKey,
    Integer,
    MetaData,
    String,
    Text,
    TypeDecorator,
    UniqueConstraint,
)
from sqlalchemy.orm import DeclarativeBase, Mapped, mapped_column


class UtcTime(TypeDecorator[datetime]):
    """Aware UTC in, aware UTC out; SQLite hands naive values back."""

    impl = DateTime(timezone=True)
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        """Store as UTC."""
        return value.astimezone(UTC) if value is not None else None

    def process_result_value(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        """Give back aware UTC."""
        if value is None:
            return None
        return value.replace(tzinfo=UTC) if value.tzinfo is None else value.astimezone(UTC)


class Base(DeclarativeBase):
    """Naming convention: constraints have names, so that later migrations can change them."""

    metadata = MetaData(
        naming_convention={
            "ix": "ix_%(column_0_label)s",
            "uq": "uq_%(table_name)s_%(column_0_name)s",
            "fk": "fk_%(table_name)s_%(column_0_name)s",
            "pk": "pk_%(table_name)s",
        }
    )


class Authored:
    """Who made the row; empty: whoever worked at the machine itself, or an earlier release."""

    author: Mapped[str | None] = mapped_column(String(80))


class RecordRow(Authored, Base):
    """One version of a rig, a material or a part card; a change adds a version, a removal too."""

    __tablename__ = "records"
    __table_args__ = (UniqueConstraint("kind", "name", "version"),)

    id: Mapped[int] = mapped_column(Integer, primary_key=True)
    kind: Mapped[str] = mapped_column(String(20))
    name: Mapped[str] = mapped_column(String(80))
    version: Mapped[int]
    at: Mapped[datetime] = mapped_column(UtcTime)
    data: Mapped[dict[str, Any]] = mapped_column(JSON)


class TrialRow(Authored, Base):
    """One trial: its question and when it was made."""

    __tablename__ = "trials"

    id: Mapped[str] = mapped_column(String(80), primary_key=True)
    question: Mapped[str] = mapped_column(Text)
    at: Mapped[datetime] = mapped_column(UtcTime)
    simulated: Mapped[bool]


class PlanRow(Authored, Base):
    """One version of a trial's plan; the last one before the first reading is locked."""

    __tablename__ = "plans"
    __table_args__ = (UniqueConstraint("trial_id", "version"),)

    id: Mapped[int] = mapped_column(Integer, primary_key=True)
    trial_id: Mapped[str] = mapped_column(ForeignKey("trials.id"), index=True)
    version: Mapped[int]
    at: Mapped[datetime] = mapped_column(UtcTime)
    digest: Mapped[str] = mapped_column(String(64))
    data: Mapped[dict[str, Any]] = mapped_column(JSON)


class AmendmentRow(Authored, Base):
    """Coupons added to a locked plan, with the reason; digests are chained."""

    __tablename__ = "amendments"
    __table_args__ = (UniqueConstraint("trial_id", "number"),)

    id: Mapped[int] = mapped_column(Integer, primary_key=True)
    trial_id: Mapped[str] = mapped_column(ForeignKey("trials.id"), index=True)
    number: Mapped[int]
    at: Mapped[datetime] = mapped_column(UtcTime)
    what: Mapped[str] = mapped_column(Text)
    reason: Mapped[str] = mapped_column(Text)
    digest: Mapped[str] = mapped_column(String(64))
    data: Mapped[list[dict[str, Any]]] = mapped_column(JSON)


class ReadingRow(Authored, Base):
    """One weighing as it was entered."""

    __tablename__ = "readings"

    id: Mapped[int] = mapped_column(Integer, primary_key=True)
    trial_id: Mapped[str] = mapped_column(ForeignKey("trials.id"), index=True)
    at: Mapped[datetime] = mapped_column(UtcTime)
    source: Mapped[str] = mapped_column(String(300))
    data: Mapped[dict[str, Any]] = mapped_column(JSON)
    entry_key: Mapped[str | None] = mapped_column(String(64), index=True, unique=True)
    """Chosen by who sends it, so that an entry sent twice is stored once."""


class EventRow(Authored, Base):
    """What became of a reading: voided, or superseded by another. At most one each."""

    __tablename__ = "reading_events"

    id: Mapped[int] = mapped_column(Integer, primary_key=True)
    reading_id: Mapped[int] = mapped_column(ForeignKey("readings.id"), unique=True)
    at: Mapped[datetime] = mapped_column(UtcTime)
    state: Mapped[str] = mapped_column(String(12))
    reason: Mapped[str] = mapped_column(Text)
    by_reading_id: Mapped[int | None] = mapped_column(ForeignKey("readings.id"))


class SlotRow(Base):
    """The current reading of a coupon: one row at most, so two writers cannot both be current."""

    __tablename__ = "slots"

    trial_id: Mapped[str] = mapped_column(ForeignKey("trials.id"), primary_key=True)
    coupon: Mapped[str] = mapped_column(String(40), primary_key=True)
    reading_id: Mapped[int] = mapped_column(ForeignKey("readings.id"))


class NoteRow(Authored, Base):
    """A dated document about something: a bring-up result, a wear entry, a journal page."""

    __tablename__ = "notes"

    id: Mapped[int] = mapped_column(Integer, primary_key=True)
    kind: Mapped[str] = mapped_column(String(40), index=True)
    subject: Mapped[str] = mapped_column(String(120), index=True)
    at: Mapped[datetime] = mapped_column(UtcTime)
    data: Mapped[dict[str, Any]] = mapped_column(JSON)
    entry_key: Mapped[str | None] = mapped_column(String(64), index=True, unique=True)


class GrantRow(Authored, Base):
    """A right given to whoever shows a secret: only its hash is stored."""

    __tablename__ = "grants"

    id: Mapped[int] = mapped_column(Integer, primary_key=True)
    kind: Mapped[str] = mapped_column(String(12))
    name: Mapped[str] = mapped_column(String(80))
    role: Mapped[str] = mapped_column(String(12))
    trial_id: Mapped[str | None] = mapped_column(ForeignKey("trials.id"))
    at: Mapped[datetime] = mapped_column(UtcTime)
    until: Mapped[datetime | None] = mapped_column(UtcTime)
    digest: Mapped[str] = mapped_column(String(64), unique=True)


class GrantEventRow(Authored, Base):
    """What became of a right: a code that was used, or a right withdrawn. At most one each."""

    __tablename__ = "grant_events"

    id: Mapped[int] = mapped_column(Integer, primary_key=True)
    grant_id: Mapped[int] = mapped_column(ForeignKey("grants.id"), unique=True)
    at: Mapped[datetime] = mapped_column(UtcTime)
    state: Mapped[str] = mapped_column(String(12))


class SealRow(Base):
    """The hash of one row added to any table below, chained to the seal before it."""

    __tablename__ = "seals"

    id: Mapped[int] = mapped_column(Integer, primary_key=True)
    kept_in: Mapped[str] = mapped_column(String(20))
    row_key: Mapped[str] = mapped_column(String(80))
    digest: Mapped[str] = mapped_column(String(64))


APPEND_ONLY = (
    "records", "trials", "plans", "amendments", "readings", "reading_events", "notes", "grants",
    "grant_events", "seals",
)  # fmt: skip
"""Tables whose rows the database itself refuses to change or delete."""
