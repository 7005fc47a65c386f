"""Trials as JSON: plan, sheet, readings in and out."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Depends, Header, Query
from starlette.requests import Request
from starlette.responses import Response

from beadworth.core import from_mapping
from beadworth.trial import TrialSpec
from beadworth.web.routes.api_bodies import Entry, Reason
from beadworth.web.routes.api_common import TABLE, BodyOf, answer, reads, refusals, writes
from beadworth.web.routes.common import BenchOf
from beadworth.workflow import (
    Imported,
    Planned,
    Readings,
    RunSheet,
    StoredPlan,
    StoredReading,
    TrialAnswer,
    TrialLine,
    Trials,
    Weighing,
    import_readings,
    make_plan,
    record_weighing,
    run_sheet,
    void_reading,
)

router = APIRouter(prefix="/api", tags=["trials"])
PreferOf = Annotated[
    str,
    Header(
        description="`return=minimal` (RFC 7240): stored and answered without a comparison, which "
        "takes a fit; for many clients at once"
    ),
]


@router.get("/trials", **reads(Trials, "Every trial, newest first") | {"responses": refusals()})
def trials(bench: BenchOf) -> Response:
    """The list the command ``trial list --json`` gives."""
    return answer(Trials(tuple(TrialLine(record) for record in bench.outlines())))


@router.post("/plan", **writes(Planned, "Calculate a plan; nothing is stored", TrialSpec))
def plan(bench: BenchOf, body: BodyOf) -> Response:
    """Coupons, budget, power, grams and hours of a trial record."""
    return answer(Planned(make_plan(bench, from_mapping(TrialSpec, body, "trial"))))


@router.post(
    "/trials",
    **writes(StoredPlan, "Calculate a plan and store it as a trial", TrialSpec, created=True),
)
def create(bench: BenchOf, body: BodyOf) -> Response:
    """As the command ``trial plan --json``."""
    spec = from_mapping(TrialSpec, body, "trial")
    made = make_plan(bench, spec)
    return answer(StoredPlan(bench.create_trial(spec, made).id, made), 201)


@router.get("/trials/{trial}", **reads(TrialAnswer, "One trial"))
def one(bench: BenchOf, trial: str) -> Response:
    """Question, record, plan, lock state and amendments."""
    found = bench.snapshot(trial)
    return answer(TrialAnswer(found.record, found.amendments))


@router.get("/trials/{trial}/sheet", **reads(RunSheet, "The run sheet, with what is weighed"))
def sheet(bench: BenchOf, trial: str) -> Response:
    """As the command ``trial sheet --json``."""
    return answer(run_sheet(bench.snapshot(trial)))


@router.get(
    "/trials/{trial}/readings",
    **reads(Readings, "Every reading, voided and superseded ones too"),
)
def readings(bench: BenchOf, trial: str) -> Response:
    """In order of entry."""
    return answer(Readings(bench.snapshot(trial).readings))


@router.post(
    "/trials/{trial}/readings",
    **writes(Weighing, "Enter a weighing; committed before it is answered", Entry, created=True),
)
def enter(bench: BenchOf, trial: str, body: BodyOf, prefer: PreferOf = "") -> Response:
    """As the command ``trial weigh --json``."""
    entry = from_mapping(Entry, body, "reading")
    minimal = "return=minimal" in prefer.replace(" ", "").lower().split(",")
    found = record_weighing(
        bench,
        trial,
        entry.coupon,
        entry.mass_g,
        tare=entry.tare_g,
        diameter_mm=entry.diameter_mm,
        note=entry.note,
        supersedes=entry.supersedes,
        reason=entry.reason or "weighed again",
        entry_key=entry.entry_key,
        judge=not minimal,
    )
    said = answer(found, 201)
    if minimal:
        said.headers["Preference-Applied"] = "return=minimal"
    return said


@router.post(
    "/trials/{trial}/readings/{reading}/void",
    **writes(StoredReading, "Void a reading; it stays in the history", Reason),
)
def void(bench: BenchOf, trial: str, reading: int, body: BodyOf) -> Response:
    """As the command ``trial void --json``."""
    return answer(void_reading(bench, trial, reading, from_mapping(Reason, body, "void").reason))


SOURCE = "request body"


async def _table(request: Request) -> bytes:
    return await request.body()


TableOf = Annotated[bytes, Depends(_table)]


@router.post(
    "/trials/{trial}/import",
    **writes(Imported, "Import a readings table (CSV) into a trial: all of it, or nothing", TABLE),
)
def import_into(bench: BenchOf, trial: str, table: TableOf) -> Response:
    """As the command ``trial import --trial ID --json``."""
    return answer(Imported(*import_readings(bench, table, SOURCE, trial=trial)))


@router.post(
    "/import",
    **writes(Imported, "Import a readings table (CSV) as a trial of its own", TABLE, created=True),
)
def import_bare(
    bench: BenchOf,
    question: Annotated[str, Query(min_length=8, max_length=300)],
    table: TableOf,
) -> Response:
    """As the command ``trial import --question … --json``."""
    return answer(Imported(*import_readings(bench, table, SOURCE, question=question)), 201)
