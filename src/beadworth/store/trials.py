"""Trials, plans and amendments as rows."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Sequence
from dataclasses import asdict
from datetime import UTC, datetime
from typing import Any

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from beadworth.core import ConflictError, Problem
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
from beadworth.store.values import Amendment, TrialRecord
from beadworth.trial import (
    Coupon,
    Plan,
    Reading,
    TrialSpec,
    plan_digest,
    plan_from_json,
    plan_to_json,
)

_SMALL_WORDS = re.compile(
    r"an?|and|at|by|can|do|does|for|from|how|in|is|its?|of|on|or|same|than|th(?:at|e|is)|to|"
    r"what|when|where|which|will|with"
)


def _slug(session: Session, question: str) -> str:
    """A short readable id from the question, made unique by a number."""
    plain = unicodedata.normalize("NFKD", question).encode("ascii", "ignore").decode().lower()
    words = [word for word in re.findall(r"[a-z0-9]+", plain) if not _SMALL_WORDS.fullmatch(word)]
    stem = "-".join(words[:4])[:40].strip("-") or "trial"
    taken = set(session.scalars(select(TrialRow.id).where(TrialRow.id.startswith(stem))))
    number = 1
    while f"{stem}-{number}" in taken:
        number += 1
    return f"{stem}-{number}"


def _row(session: Session, trial: str) -> TrialRow:
    row = session.get(TrialRow, trial)
    if row is None:
        raise not_found("trial", trial, sorted(session.scalars(select(TrialRow.id))))
    return row


def _simulated(session: Session, names: set[str]) -> bool:
    """True where a rig or the material of the trial is marked simulated."""
    rows = session.scalars(select(RecordRow).where(RecordRow.name.in_(names)))
    return any(row.data.get("simulated") for row in rows)


def create(session: Session, spec: TrialSpec, plan: Plan) -> TrialRecord:
    """A trial with the first version of its plan."""
    trial = _add_trial(session, spec.question, {spec.baseline, spec.candidate or "", spec.material})
    _add_plan(session, trial, 1, spec, plan)
    return one(session, trial)


def create_bare(session: Session, question: str, readings: Sequence[Reading]) -> str:
    """A trial without a plan; returns its id."""
    names = {name for reading in readings for name in (reading.rig, reading.material)}
    return _add_trial(session, question, names)


def _add_trial(session: Session, question: str, names: set[str]) -> str:
    row = TrialRow(
        id=_slug(session, question),
        question=question,
        at=datetime.now(UTC),
        simulated=_simulated(session, names),
    )
    session.add(row)
    session.flush()
    return row.id


def _add_plan(session: Session, trial: str, version: int, spec: TrialSpec, plan: Plan) -> None:
    if plan.spec != spec or plan.digest != plan_digest(spec, plan.coupons):
        raise ConflictError(
            Problem("the plan is not that of this spec, or not as its digest says.",
                    f"trial {trial}", remedy="Make the plan anew from its spec.")
        )  # fmt: skip
    session.add(
        PlanRow(
            trial_id=trial,
            version=version,
            at=datetime.now(UTC),
            digest=plan.digest,
            data=plan_to_json(plan),
        )
    )
    session.flush()


def _plan_row(session: Session, trial: str) -> PlanRow | None:
    return session.scalars(
        select(PlanRow).where(PlanRow.trial_id == trial).order_by(PlanRow.version.desc()).limit(1)
    ).first()


def _locked_at(session: Session, trial: str) -> datetime | None:
    return session.scalars(
        select(ReadingRow.at).where(ReadingRow.trial_id == trial).order_by(ReadingRow.id).limit(1)
    ).first()


def _amendment_rows(session: Session, trial: str) -> list[AmendmentRow]:
    return list(
        session.scalars(
            select(AmendmentRow).where(AmendmentRow.trial_id == trial).order_by(AmendmentRow.number)
        )
    )


def one(session: Session, trial: str) -> TrialRecord:
    """A trial as a record."""
    row = _row(session, trial)
    plan_row = _plan_row(session, trial)
    plan = plan_from_json(plan_row.data) if plan_row else None
    added = _amendment_rows(session, trial)
    counts = session.scalar(
        select(func.count(ReadingRow.id))
        .outerjoin(EventRow, EventRow.reading_id == ReadingRow.id)
        .where(ReadingRow.trial_id == trial, EventRow.id.is_(None))
    )
    digest = added[-1].digest if added else (plan_row.digest if plan_row else None)
    return TrialRecord(
        id=row.id,
        question=row.question,
        spec=plan.spec if plan else None,
        plan=plan,
        created_at=row.at,
        locked_at=_locked_at(session, trial),
        simulated=row.simulated,
        amendments=len(added),
        readings=counts or 0,
        digest=digest,
    )


def every(session: Session) -> list[TrialRecord]:
    """All trials, newest first."""
    ids = session.scalars(select(TrialRow.id).order_by(TrialRow.at.desc(), TrialRow.id))
    return [one(session, trial) for trial in list(ids)]


def replan(session: Session, trial: str, spec: TrialSpec, plan: Plan) -> TrialRecord:
    """The next version of a plan, until the first reading."""
    _row(session, trial)
    before = _plan_row(session, trial)
    locked = _locked_at(session, trial)
    refusal = None
    if before is None:
        refusal = "this trial has readings and no plan."
    elif locked is not None:
        refusal = f"the plan is locked since its first reading ({locked:%Y-%m-%d %H:%M} UTC)."
    elif _amendment_rows(session, trial):
        refusal = "the plan is locked since its first amendment, which builds on it."
    if before is None or refusal:
        raise ConflictError(
            Problem(
                refusal or "",
                f"trial {trial}",
                remedy="Add coupons as an amendment with a reason, or plan a new trial.",
            )
        )
    if plan.digest != before.digest:
        _add_plan(session, trial, before.version + 1, spec, plan)
    return one(session, trial)


def amend(
    session: Session, trial: str, reason: str, added: Sequence[Coupon], what: str
) -> Amendment:
    """Coupons added to a plan, with the digest chained to the one before."""
    record = one(session, trial)
    problems = []
    if record.plan is None:
        problems.append(
            Problem("this trial has no plan to amend.", f"trial {trial}",
                    remedy="Plan a new trial.")
        )  # fmt: skip
    if not reason.strip():
        problems.append(
            Problem("an amendment needs a reason.", f"trial {trial}, reason", reason,
                    "Say in a few words why the coupons are added.")
        )  # fmt: skip
    names = [coupon.coupon for coupon in coupons(session, trial)]
    for coupon in added:
        if coupon.coupon in names:
            problems.append(
                Problem(f"coupon {coupon.coupon} is in the plan already.", f"trial {trial}",
                        coupon.coupon, "Give it another name.")
            )  # fmt: skip
        names.append(coupon.coupon)
    if problems:
        raise ConflictError(problems)
    assert record.digest is not None
    data: list[dict[str, Any]] = [asdict(coupon) for coupon in added]
    row = AmendmentRow(
        trial_id=trial,
        number=record.amendments + 1,
        at=datetime.now(UTC),
        what=what,
        reason=reason.strip(),
        digest=chained_digest(record.digest, data, reason.strip()),
        data=data,
    )
    session.add(row)
    session.flush()
    return _amendment(row)


def _amendment(row: AmendmentRow) -> Amendment:
    added = tuple(coupon_from(item) for item in row.data)
    return Amendment(row.number, row.at, row.what, row.reason, added, row.digest)


def amendments(session: Session, trial: str) -> list[Amendment]:
    """Oldest first."""
    _row(session, trial)
    return [_amendment(row) for row in _amendment_rows(session, trial)]


def coupons(session: Session, trial: str) -> list[Coupon]:
    """The plan's coupons, then those of each amendment, in run order."""
    _row(session, trial)
    plan_row = _plan_row(session, trial)
    if plan_row is None:
        return []
    found = [coupon_from(item) for item in plan_row.data["coupons"]]
    for amendment in _amendment_rows(session, trial):
        found += [coupon_from(item) for item in amendment.data]
    return found
