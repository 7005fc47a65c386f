"""Trials as JSON: plan, sheet, readings in and out."""

from __future__ import annotations

from dataclasses import asdict
from typing import Annotated, Any

from fastapi import APIRouter, Depends, Query
from starlette.requests import Request
from starlette.responses import Response

from beadworth.core import from_mapping, to_json, to_mapping
from beadworth.store import StoredReading, TrialRecord
from beadworth.trial import TrialSpec
from beadworth.web.routes import api_shapes as shapes
from beadworth.web.routes.api_common import READS, WRITES, BodyOf, answer, refusals, takes
from beadworth.web.routes.common import BenchOf
from beadworth.workflow import import_readings, make_plan, record_weighing, void_reading

router = APIRouter(prefix="/api", tags=["trials"])


def trial_json(record: TrialRecord) -> dict[str, Any]:
    """A trial as plain data."""
    return {
        "id": record.id,
        "question": record.question,
        "simulated": record.simulated,
        "created_at": record.created_at.isoformat(),
        "locked_at": record.locked_at.isoformat() if record.locked_at else None,
        "digest": record.digest,
        "spec": to_mapping(record.spec) if record.spec else None,
        "plan": to_json(record.plan) if record.plan else None,
    }


def stored_json(stored: StoredReading) -> dict[str, Any]:
    """A reading as the bench keeps it."""
    return {
        "reading_id": stored.reading_id,
        "state": stored.state,
        "at": stored.at.isoformat(),
        "reason": stored.reason,
        "supersedes": stored.supersedes,
        "source": stored.source,
        "reading": asdict(stored.reading),
    }


@router.get(
    "/trials",
    summary="Every trial, newest first",
    response_model=shapes.Trials,
    responses=refusals(),
)
def trials(bench: BenchOf) -> Response:
    """The list the command ``trial list --json`` gives."""
    rows = [
        {
            "id": record.id,
            "readings": record.readings,
            "simulated": record.simulated,
            "question": record.question,
        }
        for record in bench.trials()
    ]
    return answer({"trials": rows})


@router.post(
    "/plan",
    summary="Work out a plan; nothing is kept",
    response_model=shapes.PlanShape,
    responses=WRITES,
    openapi_extra=takes("TrialSpec"),
)
def plan(bench: BenchOf, body: BodyOf) -> Response:
    """Coupons, budget, power, grams and hours of a trial record."""
    spec = from_mapping(TrialSpec, body, "trial")
    return answer({"plan": to_json(make_plan(bench, spec))})


@router.post(
    "/trials",
    summary="Work out a plan and keep it as a trial",
    status_code=201,
    response_model=shapes.PlannedShape,
    responses=WRITES,
    openapi_extra=takes("TrialSpec"),
)
def create(bench: BenchOf, body: BodyOf) -> Response:
    """As the command ``trial plan --json``."""
    spec = from_mapping(TrialSpec, body, "trial")
    made = make_plan(bench, spec)
    record = bench.create_trial(spec, made)
    return answer({"trial": record.id, "plan": to_json(made)}, 201)


@router.get(
    "/trials/{trial}", summary="One trial", response_model=shapes.TrialShape, responses=READS
)
def one(bench: BenchOf, trial: str) -> Response:
    """Question, record, plan, lock state and amendments."""
    snapshot = bench.snapshot(trial)
    amendments = [
        {
            "number": item.number,
            "at": item.at.isoformat() if item.at else None,
            "what": item.what,
            "reason": item.reason,
            "digest": item.digest,
            "coupons": [asdict(coupon) for coupon in item.coupons],
        }
        for item in snapshot.amendments
    ]
    return answer(trial_json(snapshot.record) | {"amendments": amendments})


@router.get(
    "/trials/{trial}/sheet",
    summary="The run sheet, with what is weighed",
    response_model=shapes.SheetShape,
    responses=READS,
)
def sheet(bench: BenchOf, trial: str) -> Response:
    """As the command ``trial sheet --json``."""
    net = {reading.coupon: reading.net_g for reading in bench.current_readings(trial)}
    rows = [asdict(c) | {"net_g": net.get(c.coupon)} for c in bench.coupons(trial)]
    return answer({"coupons": rows})


@router.get(
    "/trials/{trial}/readings",
    summary="Every reading, void and superseded ones too",
    response_model=shapes.ReadingsShape,
    responses=READS,
)
def readings(bench: BenchOf, trial: str) -> Response:
    """In order of entry."""
    return answer({"readings": [stored_json(item) for item in bench.readings(trial)]})


@router.post(
    "/trials/{trial}/readings",
    summary="Enter a weighing; committed before it is answered",
    status_code=201,
    response_model=shapes.AnswerShape,
    responses=WRITES,
    openapi_extra=takes("Entry"),
)
def enter(bench: BenchOf, trial: str, body: BodyOf) -> Response:
    """As the command ``trial weigh --json``."""
    entry = from_mapping(shapes.Entry, body, "reading")
    said = record_weighing(
        bench,
        trial,
        entry.coupon,
        entry.mass_g,
        tare=entry.tare_g,
        diameter_mm=entry.diameter_mm,
        note=entry.note,
        supersedes=entry.supersedes,
        reason=entry.reason or "weighed again",
    )
    return answer(said, 201)


@router.post(
    "/trials/{trial}/readings/{reading}/void",
    summary="Void a reading; it stays in the history",
    response_model=shapes.StoredShape,
    responses=WRITES,
    openapi_extra=takes("Reason"),
)
def void(bench: BenchOf, trial: str, reading: int, body: BodyOf) -> Response:
    """As the command ``trial void --json``."""
    reason = from_mapping(shapes.Reason, body, "void").reason
    return answer(stored_json(void_reading(bench, trial, reading, reason)))


SOURCE = "request body"


async def _table(request: Request) -> bytes:
    return await request.body()


TableOf = Annotated[bytes, Depends(_table)]
CSV_BODY: dict[str, Any] = {
    "requestBody": {
        "required": True,
        "content": {"text/csv": {"schema": {"type": "string"}}},
    }
}


@router.post(
    "/trials/{trial}/import",
    summary="Take a readings table (CSV) into a trial: all of it, or nothing",
    response_model=shapes.ImportedShape,
    responses=WRITES,
    openapi_extra=CSV_BODY,
)
def import_into(bench: BenchOf, trial: str, table: TableOf) -> Response:
    """As the command ``trial import --trial ID --json``."""
    _, count = import_readings(bench, table, SOURCE, trial=trial)
    return answer({"trial": trial, "readings": count})


@router.post(
    "/import",
    summary="Take a readings table (CSV) in as a trial of its own",
    status_code=201,
    response_model=shapes.ImportedShape,
    responses=WRITES,
    openapi_extra=CSV_BODY,
)
def import_bare(
    bench: BenchOf,
    question: Annotated[str, Query(min_length=8, max_length=300)],
    table: TableOf,
) -> Response:
    """As the command ``trial import --question … --json``."""
    made, count = import_readings(bench, table, SOURCE, question=question)
    return answer({"trial": made, "readings": count}, 201)
