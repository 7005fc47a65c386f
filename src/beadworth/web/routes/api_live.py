"""Live weighings and balances by cable as JSON: the same data as ``ramp`` and ``balance``."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Query
from starlette.responses import Response

from beadworth.core import from_mapping
from beadworth.web.balance_desk import BalanceNow
from beadworth.web.routes.api_bodies import LiveTrace, Reason
from beadworth.web.routes.api_common import BodyOf, answer, reads, writes
from beadworth.web.routes.common import BalancesOf, BenchOf
from beadworth.workflow import (
    BalanceLine,
    BalanceLines,
    LiveLine,
    LiveLines,
    LiveView,
    describe_balance,
    live_line,
    live_view,
    live_weighing,
    live_weighings,
    ramp_of,
    store_trace,
    stored_balances,
    void_live,
)

router = APIRouter(prefix="/api", tags=["live weighing and balances"])


@router.get("/live-weighings", **reads(LiveLines, "The live weighings on the bench"))
def every(
    bench: BenchOf,
    trial: Annotated[
        str | None, Query(max_length=80, description="those of one trial alone")
    ] = None,
) -> Response:
    """As the command ``ramp list --json``."""
    return answer(LiveLines(tuple(live_line(one) for one in live_weighings(bench, trial))))


@router.get("/live-weighings/{number}", **reads(LiveView, "One live weighing"))
def one(bench: BenchOf, number: int) -> Response:
    """As the command ``ramp show --json``."""
    return answer(live_view(bench, live_weighing(bench, number)))


@router.post(
    "/trials/{trial}/live-weighings",
    **writes(LiveLine, "Store a trace with what it says", LiveTrace, created=True),
)
def store(bench: BenchOf, trial: str, body: BodyOf) -> Response:
    """As the command ``ramp read --store``; one that fails a check is stored, and not used."""
    asked = from_mapping(LiveTrace, body, "live weighing")
    ramp = ramp_of(bench, asked.ramp.model_dump())
    made = store_trace(bench, ramp, asked.trace, "trace", trial=trial, note=asked.note)
    return answer(live_line(made), 201)


@router.post("/live-weighings/{number}/void", **writes(LiveLine, "Let it no longer count", Reason))
def void(bench: BenchOf, number: int, body: BodyOf) -> Response:
    """As the command ``ramp void --json``."""
    reason = from_mapping(Reason, body, "reason").reason
    return answer(live_line(void_live(bench, number, reason)))


@router.get("/balances", **reads(BalanceLines, "The balances by cable on the bench"))
def balances(bench: BenchOf) -> Response:
    """As the command ``balance list --json``, each with its cable and lines in words."""
    found = (BalanceLine(b.name, b.cable.port, tuple(describe_balance(b)))
             for b in stored_balances(bench))  # fmt: skip
    return answer(BalanceLines(tuple(found)))


@router.get("/balances/now", **reads(BalanceNow, "What the balance in use says now"))
def now(desk: BalancesOf) -> Response:
    """The reading of the balance that is weighed with; its name is empty where none is in use."""
    return answer(desk.now())
