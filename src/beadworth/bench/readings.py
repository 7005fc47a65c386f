"""Readings as rows: entered once; voided or superseded by an event, never changed."""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import UTC, datetime

from sqlalchemy import delete, select
from sqlalchemy.exc import IntegrityError
from sqlalchemy.orm import Session

from beadworth.bench.models import EventRow, ReadingRow, SlotRow
from beadworth.bench.plain import reading_from, reading_to
from beadworth.bench.records import newest, not_found
from beadworth.bench.trials import coupons, one
from beadworth.bench.values import State, StoredReading
from beadworth.errors import ConflictError, NotFoundError, Problem, ReadingsError
from beadworth.material import Material
from beadworth.rig import Rig
from beadworth.trial import Coupon, Reading, check_mass

TYPED = "typed"


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
    row = session.get(ReadingRow, reading_id)
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
    return _add(session, trial, made, TYPED)


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
    problem = check_mass(
        made.net_g,
        made.filament_mm,
        density_g_cm3=_density(session, spec.material),
        diameter_mm=_diameter(session, coupon.rig),
        where=f"coupon {coupon.coupon}, mass",
    )
    if not math.isfinite(made.net_g):
        problem = Problem("this is no finite mass.", f"coupon {coupon.coupon}, mass", None,
                          "Type the mass in grams.")  # fmt: skip
    if problem:
        raise ReadingsError(problem)
    return made


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


def _add(session: Session, trial: str, reading: Reading, source: str) -> StoredReading:
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
    new = _add(session, old.trial, made, TYPED)
    _event(session, reading_id, "superseded", reason.strip(), new.reading_id)
    return _one(session, new.reading_id)


def take(
    session: Session, trial: str, table: Sequence[Reading], source: str
) -> list[StoredReading]:
    """Take a table of readings whole; a row without a coupon finds one by its setting."""
    record_of = one(session, trial)
    sheet = coupons(session, trial)
    if record_of.plan is None:
        return [_add(session, trial, reading, source) for reading in table]
    filled = {s.coupon for s in session.scalars(select(SlotRow).where(SlotRow.trial_id == trial))}
    problems: list[Problem] = []
    made = []
    for number, reading in enumerate(table, start=1):
        where = f"{source}, reading {number}"
        coupon = _coupon_for(reading, sheet, filled)
        if isinstance(coupon, str):
            remedy = "Correct the row and import again; nothing was imported."
            problems.append(Problem(coupon, where, reading.coupon, remedy))
            continue
        if not reading.void:
            filled.add(coupon.coupon)
        made.append(_completed(reading, coupon))
    if problems:
        raise ReadingsError(problems)
    return [_add(session, trial, reading, source) for reading in made]


def _completed(reading: Reading, coupon: Coupon) -> Reading:
    """The row with what the plan knows of its coupon."""
    from dataclasses import replace

    return replace(
        reading, coupon=coupon.coupon, replicate=coupon.replicate, reference=coupon.reference
    )


def _coupon_for(reading: Reading, sheet: list[Coupon], filled: set[str]) -> Coupon | str:
    """The planned coupon a row is of, or what is wrong with it."""

    def same(coupon: Coupon) -> bool:
        return (
            coupon.rig == reading.rig
            and math.isclose(coupon.temperature_c, reading.temperature_c, rel_tol=1e-6)
            and math.isclose(coupon.flow_mm3_s, reading.flow_mm3_s, rel_tol=1e-6)
        )

    if reading.coupon:
        named = next((c for c in sheet if c.coupon == reading.coupon), None)
        if named is None:
            return f"coupon {reading.coupon} is not in the plan."
        if named.coupon in filled and not reading.void:
            return f"coupon {named.coupon} has a reading that counts already."
        return (
            named
            if same(named)
            else f"coupon {named.coupon} is planned for {named.rig} at {named.temperature_c:g} °C "
            f"and {named.flow_mm3_s:g} mm³/s, but the row says {reading.rig} at "
            f"{reading.temperature_c:g} °C and {reading.flow_mm3_s:g} mm³/s."
        )
    fitting = [c for c in sheet if same(c) and c.reference == reading.reference]
    free = next((c for c in fitting if c.coupon not in filled), None)
    if free is not None:
        return free
    setting = f"{reading.rig} at {reading.temperature_c:g} °C and {reading.flow_mm3_s:g} mm³/s"
    if fitting:
        return f"every planned coupon of {setting} has a reading that counts already."
    return f"there is no planned coupon of {setting}."
