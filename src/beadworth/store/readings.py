"""Readings as rows: entered once; voided or superseded by an event, never changed."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime

from sqlalchemy import cast, delete, func, select
from sqlalchemy.dialects.postgresql import REGCLASS
from sqlalchemy.orm import Session

from beadworth.core import ConflictError, Problem, ReadingsError
from beadworth.store import snapshots
from beadworth.store.codecs import reading_to
from beadworth.store.models import EventRow, ReadingRow, SlotRow
from beadworth.store.records import another_entry
from beadworth.store.values import StoredReading, TrialSnapshot
from beadworth.trial import Coupon, Reading, check_reading

TYPED = "typed"
VOID = "void"
"""How a voided reading's state is stored; everywhere else it is called voided."""


@dataclass(frozen=True)
class Weighing:
    """What is read off the balance, and measured and noted beside it."""

    mass_g: float
    tare_g: float | None = None
    diameter_mm: float | None = None
    note: str | None = None
    entry_key: str | None = None


def sent_before(session: Session, trial: str, coupon: str, weighing: Weighing) -> StoredReading:
    """The reading that was stored under the weighing's key, whatever became of it since.

    Raises
    ------
    ConflictError
        The key stands for another entry.
    """
    query = select(ReadingRow.id).where(ReadingRow.entry_key == weighing.entry_key)
    stored, _ = snapshots.of_reading(session, session.scalars(query).one())
    was = stored.reading
    if (stored.trial, was.coupon) == (trial, coupon) and (was.mass_g, was.tare_g) == (
        weighing.mass_g, weighing.tare_g,
    ):  # fmt: skip
        return stored
    raise another_entry(weighing.entry_key or "")


def known_keys(session: Session, keys: Iterable[str | None]) -> set[str | None]:
    """Those of the keys under which a reading is stored."""
    asked = [key for key in keys if key]
    if not asked:
        return set()
    query = select(ReadingRow.entry_key).where(ReadingRow.entry_key.in_(asked))
    return set(session.scalars(query))


def planned_reading(snapshot: TrialSnapshot, coupon: Coupon, weighing: Weighing) -> Reading:
    """A planned coupon's reading, refused where it cannot be what was fed."""
    spec = snapshot.record.spec
    assert spec is not None
    made = Reading(
        rig=coupon.rig,
        material=spec.material,
        temperature_c=coupon.temperature_c,
        flow_mm3_s=coupon.flow_mm3_s,
        filament_mm=coupon.filament_mm,
        mass_g=weighing.mass_g,
        coupon=coupon.coupon,
        replicate=coupon.replicate,
        tare_g=weighing.tare_g,
        diameter_mm=weighing.diameter_mm,
        reference=coupon.reference,
        note=weighing.note,
    )
    problem = check_reading(
        made,
        snapshot.rigs.get(made.rig),
        snapshot.materials.get(made.material),
        f"coupon {coupon.coupon}",
    )
    if problem:
        raise ReadingsError(problem)
    return made


def add(
    session: Session,
    snapshot: TrialSnapshot,
    readings: Sequence[Reading],
    source: str,
    entry_key: str | None = None,
) -> list[StoredReading]:
    """Add readings that were checked; where a coupon has one that counts, refuse them all.

    A fixed number of statements, however many there are.
    """
    now = datetime.now(UTC)
    counted: dict[str | None, int | None] = {
        stored.reading.coupon: stored.reading_id
        for stored in snapshot.readings
        if stored.state == "current"
    }
    wrong = []
    for reading in readings:
        if reading.coupon and not reading.void:
            if reading.coupon in counted:
                wrong.append(taken(reading.coupon, counted[reading.coupon]))
            counted.setdefault(reading.coupon, None)
    if wrong:
        raise ConflictError(wrong)
    trial = snapshot.record.id
    rows = [
        ReadingRow(
            trial_id=trial, at=now, source=source, data=reading_to(reading), entry_key=entry_key
        )
        for reading in readings
    ]
    insert_numbered(session, ReadingRow, rows)
    events: dict[int, EventRow] = {}
    for row, reading in zip(rows, readings, strict=True):
        if reading.void:
            reason = reading.note or f"void in {source}"
            events[row.id] = EventRow(reading_id=row.id, at=now, state=VOID, reason=reason)
        elif reading.coupon:
            session.add(SlotRow(trial_id=trial, coupon=reading.coupon, reading_id=row.id))
    insert_numbered(session, EventRow, list(events.values()))
    return [snapshots.stored_reading(row, events.get(row.id)) for row in rows]


def insert_numbered(
    session: Session,
    kind: type[ReadingRow] | type[EventRow],
    rows: Sequence[ReadingRow] | Sequence[EventRow],
) -> None:
    """Insert rows under numbers taken beforehand: one by one the database would have to say each.

    Writers take turns, so the numbers are nobody else's.
    """
    if len(rows) < 2:
        numbers: Iterable[int | None] = [None] * len(rows)  # the database says it of one
    elif session.get_bind().dialect.name == "sqlite":
        first = (session.scalar(select(func.max(kind.id))) or 0) + 1
        numbers = range(first, first + len(rows))
    else:
        counter = func.pg_get_serial_sequence(kind.__tablename__, "id")
        taken = select(func.nextval(cast(counter, REGCLASS)))
        numbers = session.scalars(taken.select_from(func.generate_series(1, len(rows))))
    for row, number in zip(rows, numbers, strict=True):
        row.id = number  # pyrefly: ignore[bad-argument-type] - none: the database numbers it
    session.add_all(rows)
    session.flush()


def taken(coupon: str, reading_id: int | None) -> Problem:
    """The refusal of a coupon that has a reading."""
    number = f" (reading {reading_id})" if reading_id else ""
    return Problem(
        f"coupon {coupon} has a reading that counts already{number}.",
        f"coupon {coupon}",
        coupon,
        "Void it with a reason, or enter the new weighing in its place (weigh again).",
    )


def _current(session: Session, reading_id: int, reason: str) -> tuple[StoredReading, TrialSnapshot]:
    """A reading that counts with its trial, or the refusal to touch it again."""
    stored, snapshot = snapshots.of_reading(session, reading_id)
    if stored.state != "current":
        raise ConflictError(
            f"reading {reading_id} is {stored.state} already ({stored.reason}).",
            f"reading {reading_id}",
            reading_id,
            "Pick the reading that counts now.",
        )
    if not reason.strip():
        raise ConflictError(
            "a reason is needed.",
            f"reading {reading_id}, reason",
            reason,
            "Say in a few words why it does not count.",
        )
    return stored, snapshot


def _end(session: Session, reading_id: int, state: str, reason: str, by: int | None = None) -> None:
    """Let a reading no longer count."""
    session.add(
        EventRow(
            reading_id=reading_id,
            at=datetime.now(UTC),
            state=state,
            reason=reason.strip(),
            by_reading_id=by,
        )
    )
    session.flush()


def void(session: Session, reading_id: int, reason: str) -> StoredReading:
    """Void a reading with a reason."""
    stored, _ = _current(session, reading_id, reason)
    _end(session, reading_id, VOID, reason)
    session.execute(delete(SlotRow).where(SlotRow.reading_id == reading_id))
    return replace(stored, state="voided", reason=reason.strip())


def supersede(session: Session, reading_id: int, weighing: Weighing, reason: str) -> StoredReading:
    """Put a new weighing in a reading's place."""
    if known_keys(session, [weighing.entry_key]):
        stored, _ = snapshots.of_reading(session, reading_id)
        return sent_before(session, stored.trial, stored.reading.coupon or "", weighing)
    old, snapshot = _current(session, reading_id, reason)
    coupon = next((c for c in snapshot.coupons if c.coupon == old.reading.coupon), None)
    if coupon is None:
        raise ConflictError(
            "this reading belongs to no planned coupon.",
            f"reading {reading_id}",
            reading_id,
            "Void it, and import the corrected row.",
        )
    made = planned_reading(snapshot, coupon, weighing)
    session.execute(delete(SlotRow).where(SlotRow.reading_id == reading_id))
    others = tuple(s for s in snapshot.readings if s.reading_id != reading_id)
    (new,) = add(session, replace(snapshot, readings=others), [made], TYPED, weighing.entry_key)
    _end(session, reading_id, "superseded", reason, new.reading_id)
    return replace(new, supersedes=reading_id)
