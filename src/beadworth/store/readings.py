"""Readings as rows: entered once; voided or superseded by an event, never changed."""

from __future__ import annotations

import math
from datetime import UTC, datetime

from sqlalchemy import delete, select
from sqlalchemy.exc import IntegrityError
from sqlalchemy.orm import Session

from beadworth.core import ConflictError, NotFoundError, Problem, ReadingsError
from beadworth.material import Material
from beadworth.rig import Rig
from beadworth.store.codecs import reading_from, reading_to
from beadworth.store.models import EventRow, ReadingRow, SlotRow
from beadworth.store.records import newest, not_found
from beadworth.store.trials import coupons, one
from beadworth.store.values import State, StoredReading
from beadworth.trial import Coupon, Reading, check_mass

TYPED = "typed"
MOST = 2**31 - 1
"""The largest number a reading can have."""


def every(session: Session, trial: str) -> list[StoredReading]:
    """All readings of a trial in order of entry."""
    one(session, trial)
    rows = session.execute(
        select(ReadingRow, EventRow)
        .outerjoin(EventRow, EventRow.reading_id == ReadingRow.id)
        .where(ReadingRow.trial_id == trial)
        .order_by(ReadingRow.id)
    ).all()
    replaced = {event.by_reading_id: row.id for row, event in rows if event and event.by_reading_id}
    return [_stored(row, event, replaced.get(row.id)) for row, event in rows]


def _stored(row: ReadingRow, event: EventRow | None, supersedes: int | None) -> StoredReading:
    state: State = "current"
    if event is not None:
        state = "void" if event.state == "void" else "superseded"
    return StoredReading(
        row.id, row.trial_id, reading_from(row.data), state, row.at,
        event.reason if event else None, supersedes, row.source,
    )  # fmt: skip


def _one(session: Session, reading_id: int) -> StoredReading:
    row = session.get(ReadingRow, reading_id) if 0 < reading_id <= MOST else None
    if row is None:
        raise NotFoundError(
            Problem(f"there is no reading {reading_id}.", "reading", reading_id,
                    "The numbers stand in the trial's readings.")
        )  # fmt: skip
    return next(s for s in every(session, row.trial_id) if s.reading_id == reading_id)


def record(
    session: Session,
    trial: str,
    coupon: str,
    mass_g: float,
    tare_g: float | None,
    diameter_mm: float | None,
    note: str | None,
) -> StoredReading:
    """Enter the weighing of a planned coupon."""
    sheet = {c.coupon: c for c in coupons(session, trial)}
    if coupon not in sheet:
        raise not_found("coupon", coupon, list(sheet))
    made = _reading(session, trial, sheet[coupon], mass_g, tare_g, diameter_mm, note)
    return add(session, trial, made, TYPED)


def _reading(
    session: Session,
    trial: str,
    coupon: Coupon,
    mass_g: float,
    tare_g: float | None,
    diameter_mm: float | None,
    note: str | None,
) -> Reading:
    """A planned coupon's reading, refused where it cannot be what was fed."""
    spec = one(session, trial).spec
    assert spec is not None
    made = Reading(
        rig=coupon.rig,
        material=spec.material,
        temperature_c=coupon.temperature_c,
        flow_mm3_s=coupon.flow_mm3_s,
        filament_mm=coupon.filament_mm,
        mass_g=mass_g,
        coupon=coupon.coupon,
        replicate=coupon.replicate,
        tare_g=tare_g,
        diameter_mm=diameter_mm,
        reference=coupon.reference,
        note=note,
    )
    problem = mass_problem(session, made, f"coupon {coupon.coupon}")
    if problem:
        raise ReadingsError(problem)
    return made


def mass_problem(session: Session, reading: Reading, where: str) -> Problem | None:
    """What is wrong with the masses of a reading, as far as the bench knows what was fed."""
    numbers = (reading.mass_g, reading.tare_g or 0.0, reading.diameter_mm or 1.0)
    if not all(map(math.isfinite, numbers)):
        return Problem("a mass or diameter is not a finite number.", f"{where}, mass", None,
                       "Type the mass in grams, the diameter in mm.")  # fmt: skip
    if reading.tare_g is not None and reading.tare_g < 0:
        return Problem(
            f"a tare of {reading.tare_g:g} g cannot be.",
            f"{where}, tare",
            reading.tare_g,
            "Zero the balance and weigh the container again.",
        )
    if reading.diameter_mm is not None and not 0.5 < reading.diameter_mm < 5:
        return Problem(f"filament is not {reading.diameter_mm:g} mm thick.", f"{where}, diameter",
                       reading.diameter_mm, "Give the diameter in mm, 0.5 to 5.")  # fmt: skip
    return check_mass(
        reading.net_g,
        reading.filament_mm,
        density_g_cm3=_density(session, reading.material),
        diameter_mm=reading.diameter_mm or _diameter(session, reading.rig),
        where=f"{where}, mass",
    )


def _density(session: Session, material: str) -> float | None:
    try:
        return newest(session, "material", Material, material).density_g_cm3
    except NotFoundError:
        return None


def _diameter(session: Session, rig: str) -> float:
    try:
        return newest(session, "rig", Rig, rig).filament_diameter_mm
    except NotFoundError:
        return Rig(name=rig).filament_diameter_mm


def add(session: Session, trial: str, reading: Reading, source: str) -> StoredReading:
    """Add a row; where the coupon has a reading that counts, refuse."""
    row = ReadingRow(trial_id=trial, at=datetime.now(UTC), source=source, data=reading_to(reading))
    session.add(row)
    session.flush()
    if reading.coupon and not reading.void:
        taken = session.get(SlotRow, (trial, reading.coupon))
        if taken is not None:
            raise _taken(reading.coupon, taken.reading_id)
        session.add(SlotRow(trial_id=trial, coupon=reading.coupon, reading_id=row.id))
        try:
            session.flush()
        except IntegrityError:  # another door was quicker
            raise _taken(reading.coupon, None) from None
    if reading.void:
        _event(session, row.id, "void", reading.note or f"void in {source}", None)
        event = session.scalars(select(EventRow).where(EventRow.reading_id == row.id)).one()
        return _stored(row, event, None)
    return _stored(row, None, None)


def _taken(coupon: str, reading_id: int | None) -> ConflictError:
    number = f" (reading {reading_id})" if reading_id else ""
    return ConflictError(
        Problem(
            f"coupon {coupon} has a reading that counts already{number}.",
            f"coupon {coupon}",
            coupon,
            "Void it with a reason, or enter the new weighing in its place (weigh again).",
        )
    )


def _event(session: Session, reading_id: int, state: str, reason: str, by: int | None) -> None:
    session.add(
        EventRow(
            reading_id=reading_id,
            at=datetime.now(UTC),
            state=state,
            reason=reason,
            by_reading_id=by,
        )
    )
    session.flush()


def _current(session: Session, reading_id: int, reason: str) -> StoredReading:
    """A reading that counts, or the refusal to touch it again."""
    stored = _one(session, reading_id)
    if stored.state != "current":
        raise ConflictError(
            Problem(f"reading {reading_id} is {stored.state} already ({stored.reason}).",
                    f"reading {reading_id}", reading_id, "Pick the reading that counts now.")
        )  # fmt: skip
    if not reason.strip():
        raise ConflictError(
            Problem("a reason is needed.", f"reading {reading_id}, reason", reason,
                    "Say in a few words why it does not count.")
        )  # fmt: skip
    return stored


def void(session: Session, reading_id: int, reason: str) -> StoredReading:
    """Void a reading with a reason."""
    _current(session, reading_id, reason)
    _event(session, reading_id, "void", reason.strip(), None)
    session.execute(delete(SlotRow).where(SlotRow.reading_id == reading_id))
    return _one(session, reading_id)


def supersede(
    session: Session,
    reading_id: int,
    mass_g: float,
    tare_g: float | None,
    diameter_mm: float | None,
    note: str | None,
    reason: str,
) -> StoredReading:
    """Put a new weighing in a reading's place."""
    old = _current(session, reading_id, reason)
    sheet = {c.coupon: c for c in coupons(session, old.trial)}
    coupon = sheet.get(old.reading.coupon or "")
    if coupon is None:
        raise ConflictError(
            Problem("this reading belongs to no planned coupon.", f"reading {reading_id}",
                    reading_id, "Void it, and import the corrected row.")
        )  # fmt: skip
    made = _reading(session, old.trial, coupon, mass_g, tare_g, diameter_mm, note)
    session.execute(delete(SlotRow).where(SlotRow.reading_id == reading_id))
    new = add(session, old.trial, made, TYPED)
    _event(session, reading_id, "superseded", reason.strip(), new.reading_id)
    return _one(session, new.reading_id)
