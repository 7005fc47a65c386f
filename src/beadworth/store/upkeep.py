"""Look a bench through: everything that is wrong, as sentences."""

from __future__ import annotations

from collections.abc import Callable

from sqlalchemy import func, select, text
from sqlalchemy.exc import DBAPIError
from sqlalchemy.orm import Session

from beadworth.core import from_json, from_mapping
from beadworth.store.codecs import chained_digest, reading_from
from beadworth.store.hash_chain import broken_seals
from beadworth.store.models import (
    APPEND_ONLY,
    AmendmentRow,
    EventRow,
    PlanRow,
    ReadingRow,
    RecordRow,
    SlotRow,
    TrialRow,
)
from beadworth.store.records import KINDS, REMOVED
from beadworth.store.trials import coupons
from beadworth.store.values import CheckReport
from beadworth.trial import Plan, plan_digest


def check(session: Session) -> CheckReport:
    """Everything that is found wrong."""
    findings: list[str] = []

    def look(what: str, find: Callable[[], list[str]]) -> None:
        """A part that cannot be read is a finding, and the rest is still looked at."""
        try:
            findings.extend(find())
        except (DBAPIError, ValueError, LookupError, TypeError, AttributeError) as error:
            cause = getattr(error, "orig", None) or error
            findings.append(f"{what} cannot be read: {str(cause).strip().splitlines()[0]}")

    look("the file", lambda: _check_file(session))
    look("the list of triggers", lambda: _check_triggers(session))
    look("the seals", lambda: broken_seals(session))
    look("a rig, material or part", lambda: _check_records(session))
    trials: list[str] = []

    def find_trials() -> list[str]:
        trials.extend(session.scalars(select(TrialRow.id)))
        return []

    look("the list of trials", find_trials)
    for trial in trials:
        look(f"the plan of trial {trial}", lambda: _check_plans(session, trial))  # noqa: B023
        look(f"a reading of trial {trial}", lambda: _check_readings(session, trial))  # noqa: B023
    counted: list[int] = []

    def count() -> list[str]:
        counted.append(session.scalar(select(func.count()).select_from(ReadingRow)) or 0)
        return []

    look("the number of readings", count)
    return CheckReport(len(trials), sum(counted), tuple(findings))


def _check_file(session: Session) -> list[str]:
    if session.get_bind().dialect.name != "sqlite":
        return []
    damage = session.execute(text("PRAGMA integrity_check")).scalars().all()
    astray = session.execute(text("PRAGMA foreign_key_check")).all()
    return [f"the file is damaged: {line}" for line in damage if line != "ok"] + [
        f"a row of {row[0]} points at nothing" for row in astray
    ]


def _check_triggers(session: Session) -> list[str]:
    """That the database still refuses to change what was measured."""
    if session.get_bind().dialect.name == "sqlite":
        query = "SELECT name FROM sqlite_master WHERE type = 'trigger'"
        verbs = ["_update", "_delete", "_replace"]
    else:
        query = "SELECT tgname FROM pg_trigger WHERE tgenabled IN ('O', 'A')"
        verbs = ["", "_truncate"]
    there = set(session.execute(text(query)).scalars())
    return [
        f"the database no longer refuses changes to {table} (trigger {table}{verb}_kept is off)"
        for table in APPEND_ONLY
        for verb in verbs
        if f"{table}{verb}_kept" not in there
    ]


def _check_records(session: Session) -> list[str]:
    for row in session.scalars(select(RecordRow)):
        if row.data == REMOVED:
            continue
        from_mapping(KINDS[row.kind], row.data, f"{row.kind} {row.name}, version {row.version}")
    return []


def _check_plans(session: Session, trial: str) -> list[str]:
    findings = []
    rows = session.scalars(select(PlanRow).where(PlanRow.trial_id == trial).order_by(PlanRow.id))
    digest = None
    for row in rows:
        plan = from_json(Plan, row.data, "plan")
        digest = row.digest
        if not plan.digest == row.digest == plan_digest(plan.spec, plan.coupons):
            findings.append(f"trial {trial}: plan {row.version} is not what its digest says")
    added = session.scalars(
        select(AmendmentRow).where(AmendmentRow.trial_id == trial).order_by(AmendmentRow.number)
    )
    for amendment in added:
        if digest is None or amendment.digest != chained_digest(
            digest, amendment.data, amendment.reason
        ):
            findings.append(
                f"trial {trial}: amendment {amendment.number} is not what its digest says"
            )
        digest = amendment.digest
    return findings


def _check_readings(session: Session, trial: str) -> list[str]:
    """Every reading of a planned coupon; what counts, and what became of the others, agree."""
    findings = []
    planned = {coupon.coupon for coupon in coupons(session, trial)}
    slots = {
        slot.coupon: slot.reading_id
        for slot in session.scalars(select(SlotRow).where(SlotRow.trial_id == trial))
    }
    rows = session.execute(
        select(ReadingRow, EventRow)
        .outerjoin(EventRow, EventRow.reading_id == ReadingRow.id)
        .where(ReadingRow.trial_id == trial)
    ).all()
    of = {row.id: reading_from(row.data).coupon for row, _ in rows}
    for row, event in rows:
        coupon = of[row.id]
        if planned and coupon not in planned:
            findings.append(f"trial {trial}: reading {row.id} is of no planned coupon")
        if coupon and (event is None) != (slots.get(coupon) == row.id):
            findings.append(f"trial {trial}: reading {row.id} and its coupon's place disagree")
        if event is not None and event.state == "superseded":
            by = event.by_reading_id
            if by is None or by <= row.id or of.get(by) != coupon:
                findings.append(
                    f"trial {trial}: reading {row.id} was superseded by none of its own"
                )
    return findings
