"""The trial page: one long page, read top to bottom like a lab notebook."""

from __future__ import annotations

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import Response

from beadworth.web.responses import page
from beadworth.web.routes.common import BenchOf
from beadworth.web.sheet import Sheet, sheet_of
from beadworth.workflow import TrialRecord

router = APIRouter(include_in_schema=False)


def lazy_parts(record: TrialRecord, sheet: Sheet) -> tuple[tuple[str, str, str], ...]:
    """The parts that take computing, each fetched when it comes into sight."""
    counted = sum(item.state == "current" for item in sheet.history)
    if not counted:
        return ()
    rigs = {item.reading.rig for item in sheet.history if item.state == "current"}
    parts = [
        ("capacity", "Capacity", f"Fitting {counted} readings…"),
        ("speeds", "Speeds", "Turning ceilings into speeds…"),
    ]
    if len(rigs) > 1:
        parts.append(("compare", "Compare", "Comparing the rigs…"))
    parts.append(("typical", "What is typical", "Looking at other trials of the class…"))
    parts.append(("publish", "Publish", "Getting the dossier ready…"))
    return tuple(parts)


def contents(record: TrialRecord, sheet: Sheet) -> list[tuple[str, str, str]]:
    """The small table of contents: anchor, words, state."""
    made: list[tuple[str, str, str]] = [("question", "Question", "")]
    if record.plan:
        made.append(("plan", "Plan", "locked" if record.locked_at else "open"))
        made.append(("programs", "Programs", str(record.plan.plates)))
    total = len(sheet.rows) or len(sheet.history)
    counted = sheet.weighed if sheet.rows else len(sheet.history)
    made.append(("weigh-in", "Weigh-in", f"{counted}/{total}" if total else ""))
    lazy = lazy_parts(record, sheet)
    return made + [(anchor, words, "") for anchor, words, _ in lazy] or [
        ("capacity", "Capacity", "")
    ]


def trial_line(record: TrialRecord) -> str:
    """Where a trial stands, in a sentence."""
    readings = f"{record.readings} readings"
    if record.plan is None:
        return f"Brought in from a table: {readings}."
    planned = f"{len(record.plan.coupons)} coupons planned"
    if not record.readings:
        return f"{planned}, nothing weighed yet."
    return f"{planned}, {readings}."


@router.get("/trials/{trial}")
def one(request: Request, bench: BenchOf, trial: str) -> Response:
    """The page of a trial."""
    snapshot = bench.snapshot(trial)
    record, sheet = snapshot.record, sheet_of(snapshot)
    context = {
        "record": record,
        "plan": record.plan,
        "sheet": sheet,
        "amendments": snapshot.amendments,
        "contents": contents(record, sheet),
        "lazy": lazy_parts(record, sheet),
        "line": trial_line(record),
    }
    return page(request, "trial.html", context)
