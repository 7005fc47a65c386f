"""The trial page: what is next to do, or the answer, first; plan and programs where wanted."""

from __future__ import annotations

from dataclasses import dataclass

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import Response

from beadworth.web.responses import page
from beadworth.web.routes.common import BenchOf
from beadworth.web.sheet import Sheet, sheet_of
from beadworth.workflow import TrialRecord

router = APIRouter(include_in_schema=False)


@dataclass(frozen=True)
class Part:
    """A part of the page."""

    anchor: str
    words: str
    state: str = ""
    """What the list of parts says of it."""
    wait: str = ""
    """Said while it is fetched; empty: it stands in the page."""
    template: str = ""


def parts_of(record: TrialRecord, sheet: Sheet) -> list[Part]:
    """The parts in the order they are wanted: what is next to do, or the answer, first."""
    counted = sum(item.state == "current" for item in sheet.history)
    total = len(sheet.rows) or len(sheet.history)
    weighed = sheet.weighed if sheet.rows else len(sheet.history)
    weigh_in = Part(
        "weigh-in",
        "Weigh-in",
        f"{weighed}/{total}" if total else "",
        template="trial_weigh_in.html",
    )
    planned = []
    if record.plan:
        state = "locked" if record.locked_at else "open"
        planned = [
            Part("plan", "Plan", state, template="trial_plan.html"),
            Part("programs", "Programs", str(record.plan.plates), template="trial_programs.html"),
        ]
    if not counted:
        return [*planned, weigh_in, Part("capacity", "Capacity")]
    answer = [Part("capacity", "Capacity", wait=f"Fitting {counted} readings…")]
    if len({item.reading.rig for item in sheet.history if item.state == "current"}) > 1:
        answer.append(Part("compare", "Compare", wait="Comparing the rigs…"))
    answer.append(Part("speeds", "Speeds", wait="Turning ceilings into speeds…"))
    further = [
        Part("typical", "What is typical", wait="Looking at other trials of the class…"),
        Part("publish", "Publish", wait="Getting the dossier ready…"),
    ]
    if weighed < total:
        return [weigh_in, *answer, *planned, *further]
    return [*answer, weigh_in, *further, *planned]


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
        "parts": parts_of(record, sheet),
        "line": trial_line(record),
    }
    return page(request, "trial.html", context)
