"""Trials, plans and amendments as rows."""

from __future__ import annotations

import re
import unicodedata
from collections import defaultdict
from collections.abc import Collection, Sequence
from dataclasses import asdict
from datetime import UTC, datetime
from typing import Any

from sqlalchemy import ColumnElement, func, select, true
from sqlalchemy.orm import InstrumentedAttribute, Session

from beadworth.core import ConflictError, Problem, from_json, to_json
from beadworth.store.codecs import chained_digest, coupon_from
from beadworth.store.models import (
    AmendmentRow,
    EventRow,
    PlanRow,
    ReadingRow,
    RecordRow,
    TrialRow,
)
from beadworth.store.records import not_found
from beadworth.store.values import TrialRecord
from beadworth.trial import (
    Amendment,
    Coupon,
    Plan,
    Reading,
    TrialSpec,
    plan_digest,
)

_SMALL_WORDS = re.compile(
    r"an?|and|at|by|can|do|does|for|from|how|in|is|its?|of|on|or|same|than|th(?:at|e|is)|to|"
    r"what|when|where|which|will|with"
)


def _trial_id(session: Session, question: str) -> str:
    """A short readable id from the question, made unique by a number."""
    ascii_only = unicodedata.normalize("NFKD", question).encode("ascii", "ignore").decode()
    words = re.findall(r"[a-z0-9]+", ascii_only.lower())
    telling = [word for word in words if not _SMALL_WORDS.fullmatch(word)]
    stem = "-".join(telling[:4])[:40].strip("-") or "trial"
    taken = set(session.scalars(select(TrialRow.id).where(TrialRow.id.startswith(stem))))
    number = 1
    while f"{stem}-{number}" in taken:
        number += 1
    return f"{stem}-{number}"


def of_trial(
    column: InstrumentedAttribute[str], trial: str | Collection[str] | None
) -> ColumnElement[bool]:
    """The condition that a row is of one trial, or of one of several; None: of any."""
    if trial is None:
        return true()
    return column == trial if isinstance(trial, str) else column.in_(trial)


def plans(
    session: Session, trial: str | Collection[str] | None = None
) -> list[tuple[TrialRow, PlanRow | None]]:
    """Trials with the newest version of their plan, newest trial first, in one statement.

    Raises
    ------
    NotFoundError
        No trial of that id.
    """
    newest = (
        select(func.max(PlanRow.version))
        .where(PlanRow.trial_id == TrialRow.id)
        .correlate(TrialRow)
        .scalar_subquery()
    )
    query = (
        select(TrialRow, PlanRow)
        .outerjoin(PlanRow, (PlanRow.trial_id == TrialRow.id) & (PlanRow.version == newest))
        .where(of_trial(TrialRow.id, trial))
        .order_by(TrialRow.at.desc(), TrialRow.id)
    )
    found: list[tuple[TrialRow, PlanRow | None]] = [(r, plan) for r, plan in session.execute(query)]
    if isinstance(trial, str) and not found:
        raise not_found("trial", trial, sorted(session.scalars(select(TrialRow.id))))
    return found


def amendments_by_trial(
    session: Session, trial: str | Collection[str] | None = None
) -> defaultdict[str, list[Amendment]]:
    """Amendments of every trial (or of one), oldest first, in one statement."""
    query = select(AmendmentRow).where(of_trial(AmendmentRow.trial_id, trial))
    found: defaultdict[str, list[Amendment]] = defaultdict(list)
    for row in session.scalars(query.order_by(AmendmentRow.number)):
        found[row.trial_id].append(_amendment(row))
    return found


def _amendment(row: AmendmentRow) -> Amendment:
    added = tuple(coupon_from(item) for item in row.data)
    return Amendment(row.at, row.what, row.reason, row.number, added, row.digest)


def record_of(
    row: TrialRow,
    plan: PlanRow | None,
    added: Sequence[Amendment],
    locked_at: datetime | None,
    count: int,
) -> TrialRecord:
    """A trial's record from its rows; ``count`` readings count."""
    made = from_json(Plan, plan.data, "plan") if plan else None
    return TrialRecord(
        id=row.id,
        question=row.question,
        spec=made.spec if made else None,
        plan=made,
        created_at=row.at,
        locked_at=locked_at,
        simulated=row.simulated,
        amendments=len(added),
        readings=count,
        digest=added[-1].digest if added else (plan.digest if plan else None),
    )


def every(session: Session, trial: str | None = None) -> list[TrialRecord]:
    """All trials (or one), newest first."""
    found = plans(session, trial)
    added = amendments_by_trial(session, trial)
    current: ColumnElement[int] = func.count(ReadingRow.id) - func.count(EventRow.id)
    query = (
        select(ReadingRow.trial_id, func.min(ReadingRow.at), current)
        .outerjoin(EventRow, EventRow.reading_id == ReadingRow.id)
        .where(of_trial(ReadingRow.trial_id, trial))
        .group_by(ReadingRow.trial_id)
    )
    counted = {name: (first, count) for name, first, count in session.execute(query)}
    return [
        record_of(row, plan, added[row.id], *counted.get(row.id, (None, 0))) for row, plan in found
    ]


def one(session: Session, trial: str) -> TrialRecord:
    """A trial as a record."""
    return every(session, trial)[0]


def amendments(session: Session, trial: str) -> list[Amendment]:
    """Amendments of a trial, oldest first."""
    plans(session, trial)
    return amendments_by_trial(session, trial)[trial]


def coupons(session: Session, trial: str) -> list[Coupon]:
    """The plan's coupons, then those of each amendment, in run order."""
    ((_, plan),) = plans(session, trial)
    return run_sheet(plan, amendments_by_trial(session, trial)[trial])


def run_sheet(plan: PlanRow | None, added: Sequence[Amendment]) -> list[Coupon]:
    """The coupons of a plan, then those of its amendments."""
    if plan is None:
        return []
    found = [coupon_from(item) for item in plan.data["coupons"]]
    return found + [coupon for amendment in added for coupon in amendment.coupons]


def create(session: Session, spec: TrialSpec, plan: Plan) -> TrialRecord:
    """A trial with the first version of its plan."""
    trial = _add_trial(session, spec.question, {spec.baseline, spec.candidate or "", spec.material})
    _add_plan(session, trial, 1, spec, plan)
    return one(session, trial)


def create_bare(session: Session, question: str, readings: Sequence[Reading]) -> str:
    """A trial without a plan; returns its id."""
    names = {name for reading in readings for name in (reading.rig, reading.material)}
    return create_empty(session, question, names)


def create_empty(session: Session, question: str, names: set[str]) -> str:
    """A trial with neither plan nor readings, of records of some names; returns its id."""
    return _add_trial(session, question, names)


def _add_trial(session: Session, question: str, names: set[str]) -> str:
    # simulated where a rig or the material is marked so
    rows = session.scalars(select(RecordRow).where(RecordRow.name.in_(names)))
    row = TrialRow(
        id=_trial_id(session, question),
        question=question,
        at=datetime.now(UTC),
        simulated=any(found.data.get("simulated") for found in rows),
    )
    session.add(row)
    session.flush()
    return row.id


def _add_plan(session: Session, trial: str, version: int, spec: TrialSpec, plan: Plan) -> None:
    if plan.spec != spec or plan.digest != plan_digest(spec, plan.coupons):
        raise ConflictError(
            "the plan is not that of this spec, or not as its digest says.",
            f"trial {trial}",
            remedy="Make the plan again from its spec.",
        )
    session.add(
        PlanRow(
            trial_id=trial,
            version=version,
            at=datetime.now(UTC),
            digest=plan.digest,
            data=to_json(plan),
        )
    )
    session.flush()


def replan(session: Session, trial: str, spec: TrialSpec, plan: Plan) -> TrialRecord:
    """The next version of a plan, until the first reading."""
    ((_, before),) = plans(session, trial)
    record = one(session, trial)
    refusal = None
    if before is None:
        refusal = "this trial has readings and no plan."
    elif record.locked_at is not None:
        refusal = (
            f"the plan is locked since its first reading ({record.locked_at:%Y-%m-%d %H:%M} UTC)."
        )
    elif record.amendments:
        refusal = "the plan is locked since its first amendment, which builds on it."
    if before is None or refusal:
        raise ConflictError(
            refusal or "",
            f"trial {trial}",
            remedy="Add coupons as an amendment with a reason, or plan a new trial.",
        )
    if plan.digest == before.digest:
        return record
    _add_plan(session, trial, before.version + 1, spec, plan)
    return one(session, trial)


def amend(
    session: Session, trial: str, reason: str, added: Sequence[Coupon], what: str
) -> Amendment:
    """Coupons added to a plan, with the digest chained to the one before."""
    ((_, plan),) = plans(session, trial)
    before = amendments_by_trial(session, trial)[trial]
    problems = []
    if plan is None:
        problems.append(
            Problem("this trial has no plan to amend.", f"trial {trial}",
                    remedy="Plan a new trial.")
        )  # fmt: skip
    if not reason.strip():
        problems.append(
            Problem("an amendment needs a reason.", f"trial {trial}, reason", reason,
                    "Say in a few words why the coupons are added.")
        )  # fmt: skip
    names = [coupon.coupon for coupon in run_sheet(plan, before)]
    for coupon in added:
        if coupon.coupon in names:
            problems.append(
                Problem(f"coupon {coupon.coupon} is in the plan already.", f"trial {trial}",
                        coupon.coupon, "Give it another name.")
            )  # fmt: skip
        names.append(coupon.coupon)
    if plan is None or problems:
        raise ConflictError(problems)
    data: list[dict[str, Any]] = [asdict(coupon) for coupon in added]
    digest = before[-1].digest if before else plan.digest
    row = AmendmentRow(
        trial_id=trial,
        number=len(before) + 1,
        at=datetime.now(UTC),
        what=what,
        reason=reason.strip(),
        digest=chained_digest(digest, data, reason.strip()),
        data=data,
    )
    session.add(row)
    session.flush()
    return _amendment(row)
