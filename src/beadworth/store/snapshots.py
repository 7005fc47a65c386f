"""A trial with all that belongs to it, in five statements however much that is."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Mapping, Sequence
from datetime import datetime

from sqlalchemy import select
from sqlalchemy.orm import Session

from beadworth.core import NotFoundError
from beadworth.rig import Rig, as_planned
from beadworth.store import live as live_rows
from beadworth.store.codecs import reading_from
from beadworth.store.models import EventRow, ReadingRow, RecordRow
from beadworth.store.records import parted, rig_of, versions_by_name
from beadworth.store.trials import amendments_by_trial, of_trial, plans, record_of, run_sheet
from beadworth.store.values import State, StoredReading, TrialSnapshot

MOST = 2**31 - 1
"""The largest number a reading can have."""


def one(session: Session, trial: str) -> TrialSnapshot:
    """One trial as it stands; NotFoundError names those there are."""
    return every(session, trial)[0]


def every(session: Session, trial: str | Collection[str] | None = None) -> list[TrialSnapshot]:
    """All trials (or one, or several) as they stand, newest first."""
    found = plans(session, trial)
    added = amendments_by_trial(session, trial)
    entered = readings(session, trial)
    live = live_rows.by_trial(session, trial)
    made = []
    planned_at: dict[str, datetime] = {}
    for row, plan in found:
        mine = entered[row.id]
        record = record_of(
            row,
            plan,
            added[row.id],
            mine[0].at if mine else None,
            sum(stored.state == "current" for stored in mine),
        )
        made.append((record, run_sheet(plan, added[row.id])))
        planned_at[row.id] = plan.at if plan else mine[0].at if mine else row.at
    named: set[str] = set()
    for record, _ in made:
        spec = record.spec
        named |= {spec.baseline, spec.candidate or "", spec.material} if spec else set()
        for stored in entered[record.id]:
            named |= {stored.reading.rig, stored.reading.material}
        for one in live.get(record.id, ()):
            named |= {one.rig.name, one.material.name}
    versions = versions_by_name(session, named)
    rigs, materials = parted([rows[-1] for rows in versions.values()])
    return [
        TrialSnapshot(
            record, tuple(sheet), tuple(entered[record.id]), tuple(added[record.id]),
            rigs, materials, _planned(rigs, versions, planned_at[record.id]),
            tuple(live.get(record.id, ())),
        )
        for record, sheet in made
    ]  # fmt: skip


def _planned(
    newest: Mapping[str, Rig],
    versions: Mapping[tuple[str, str], Sequence[RecordRow]],
    at: datetime,
) -> dict[str, Rig]:
    """The rigs whose record changed after a moment, as a trial was planned with them then."""
    found = {}
    for name, now in newest.items():
        rows = versions["rig", name]
        then = next((row for row in reversed(rows) if row.at <= at), rows[0])
        if then is not rows[-1]:
            found[name] = as_planned(rig_of(then), now)
    return found


def readings(
    session: Session, trial: str | Collection[str] | None = None
) -> defaultdict[str, list[StoredReading]]:
    """Readings of every trial (or of one, or several) in order of entry, in one statement."""
    query = (
        select(ReadingRow, EventRow)
        .outerjoin(EventRow, EventRow.reading_id == ReadingRow.id)
        .where(of_trial(ReadingRow.trial_id, trial))
        .order_by(ReadingRow.id)
    )
    rows = session.execute(query).all()
    replaced = {event.by_reading_id: row.id for row, event in rows if event and event.by_reading_id}
    found: defaultdict[str, list[StoredReading]] = defaultdict(list)
    for row, event in rows:
        found[row.trial_id].append(stored_reading(row, event, replaced.get(row.id)))
    return found


def stored_reading(
    row: ReadingRow, event: EventRow | None, supersedes: int | None = None
) -> StoredReading:
    """A reading from its rows."""
    state: State = "current"
    if event is not None:
        state = "voided" if event.state == "void" else "superseded"
    return StoredReading(
        row.id, row.trial_id, reading_from(row.data), state, row.at,
        event.reason if event else None, supersedes, row.source, row.author,
    )  # fmt: skip


def of_reading(session: Session, reading_id: int) -> tuple[StoredReading, TrialSnapshot]:
    """A reading by its number, and its trial.

    Raises
    ------
    NotFoundError
        There is none of that number.
    """
    row = session.get(ReadingRow, reading_id) if 0 < reading_id <= MOST else None
    if row is None:
        raise NotFoundError(
            f"there is no reading {reading_id}.",
            "reading",
            reading_id,
            "The numbers stand in the trial's readings.",
        )
    snapshot = one(session, row.trial_id)
    return next(s for s in snapshot.readings if s.reading_id == reading_id), snapshot
