"""Back up, restore, check."""

from __future__ import annotations

import sqlite3
from datetime import UTC, datetime
from pathlib import Path

from sqlalchemy import Engine, func, select, text
from sqlalchemy.orm import Session

from beadworth.bench.models import AmendmentRow, EventRow, PlanRow, ReadingRow, SlotRow, TrialRow
from beadworth.bench.plain import chained_digest
from beadworth.bench.trials import coupons
from beadworth.bench.values import BackupReport, CheckReport
from beadworth.errors import BenchError, ConflictError, Problem
from beadworth.trial import plan_from_json
from beadworth.trial.digest import plan_digest


def backup(engine: Engine, name: str, to: Path) -> BackupReport:
    """Copy a bench file with SQLite's online backup, never over another file."""
    if engine.dialect.name != "sqlite":
        raise BenchError(
            Problem("this bench is on a database server.", name,
                    remedy="Back it up with the server's own dump tool.")
        )  # fmt: skip
    if to.exists():
        raise ConflictError(
            Problem("this file is there already.", str(to), remedy="Name a new file.")
        )
    to.parent.mkdir(parents=True, exist_ok=True)
    source = engine.raw_connection()
    try:
        copy = sqlite3.connect(to)
        try:
            driver = source.driver_connection
            assert isinstance(driver, sqlite3.Connection)
            driver.backup(copy)
            copy.execute("PRAGMA journal_mode=DELETE")  # one file, ready to carry away
            damage = copy.execute("PRAGMA integrity_check").fetchone()[0]
            count = copy.execute("SELECT count(*) FROM readings").fetchone()[0]
        finally:
            copy.close()
    finally:
        source.close()
    if damage != "ok":
        to.unlink()
        raise BenchError(
            Problem(f"the copy is damaged: {damage}.", str(to),
                    remedy="Check the disk, then run: beadworth bench check.")
        )  # fmt: skip
    return BackupReport(to, to.stat().st_size, count)


def restore_bench(copy: Path, where: Path, *, replace: bool = False) -> CheckReport:
    """Put a backup in a bench's place; a bench that was there is kept beside it.

    Raises
    ------
    BenchError
        The backup is missing, damaged, or no bench.
    ConflictError
        A bench is there and ``replace`` is not given.
    """
    from beadworth.bench.store import Bench

    if not copy.is_file():
        raise BenchError(Problem("there is no such backup.", str(copy), remedy="Check its name."))
    if where.exists() and not replace:
        raise ConflictError(
            Problem("a bench is there already.", str(where),
                    remedy="Say --replace: the one there is then kept beside it.")
        )  # fmt: skip
    fresh = where.with_name(where.name + ".restoring")
    where.parent.mkdir(parents=True, exist_ok=True)
    fresh.write_bytes(copy.read_bytes())
    try:
        with Bench(fresh) as bench:
            report = bench.check()
        if not report.sound:
            raise BenchError(
                [Problem(finding, str(copy), remedy="Take another backup; nothing was replaced.")
                 for finding in report.findings]
            )  # fmt: skip
        if where.exists():
            stamp = datetime.now(UTC).strftime("%Y%m%dT%H%M%SZ")
            with Bench(where) as old:  # its write-ahead log goes into the file first
                old.check()
            where.rename(where.with_name(f"{where.name}.before-{stamp}"))
        fresh.rename(where)
    finally:
        for leftover in (fresh, *(fresh.with_name(fresh.name + end) for end in ("-wal", "-shm"))):
            leftover.unlink(missing_ok=True)
    return report


def check(session: Session) -> CheckReport:
    """Everything that can be told to be wrong, as sentences."""
    findings: list[str] = []
    if session.get_bind().dialect.name == "sqlite":
        damage = session.execute(text("PRAGMA integrity_check")).scalars().all()
        findings += [f"the file is damaged: {line}" for line in damage if line != "ok"]
        for row in session.execute(text("PRAGMA foreign_key_check")).all():
            findings.append(f"a row of {row[0]} points at nothing")
    trials = list(session.scalars(select(TrialRow.id)))
    for trial in trials:
        findings += _check_plans(session, trial) + _check_readings(session, trial)
    count = session.scalar(select(func.count(ReadingRow.id))) or 0
    return CheckReport(len(trials), count, tuple(findings))


def _check_plans(session: Session, trial: str) -> list[str]:
    findings = []
    rows = session.scalars(select(PlanRow).where(PlanRow.trial_id == trial).order_by(PlanRow.id))
    digest = None
    for row in rows:
        plan = plan_from_json(row.data)
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
    )
    for row, event in rows:
        coupon = row.data.get("coupon")
        if planned and coupon not in planned:
            findings.append(f"trial {trial}: reading {row.id} is of no planned coupon")
        if coupon and (event is None) != (slots.get(coupon) == row.id):
            findings.append(f"trial {trial}: reading {row.id} and its coupon's place disagree")
    return findings
