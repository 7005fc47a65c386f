"""What the readings of a trial say, as JSON."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Query
from starlette.responses import Response

from beadworth.core import RESERVE, from_mapping
from beadworth.web.routes.api_bodies import AmendmentRequest
from beadworth.web.routes.api_common import BodyOf, LossOf, answer, reads, writes
from beadworth.web.routes.common import BenchOf
from beadworth.workflow import (
    Amended,
    Comparison,
    FitDocument,
    NextCoupons,
    SpeedSheet,
    Typical,
    add_coupons,
    fit_document,
    trial_comparison,
    trial_fit,
    trial_next_coupons,
    trial_speeds,
    trial_typical,
)

router = APIRouter(prefix="/api/trials/{trial}", tags=["capacity"])


@router.get(
    "/fit", **reads(FitDocument, "Ceilings with their intervals, delivery, law, and the fit")
)
def fit(bench: BenchOf, trial: str, loss: LossOf = None) -> Response:
    """As the command ``capacity fit --json``."""
    return answer(fit_document(trial_fit(bench.snapshot(trial), loss)))


@router.get("/next", **reads(NextCoupons, "The coupons that would narrow the ceilings most"))
def next_coupons(
    bench: BenchOf,
    trial: str,
    count: Annotated[int, Query(ge=1, le=60, description="coupons to choose")] = 6,
    loss: LossOf = None,
) -> Response:
    """With the width of each interval now, and as expected after."""
    return answer(trial_next_coupons(bench.snapshot(trial), count, loss))


@router.post(
    "/amendments",
    **writes(Amended, "Choose the next coupons and add them to the sheet", AmendmentRequest,
             created=True),
)  # fmt: skip
def amend(bench: BenchOf, trial: str, body: BodyOf) -> Response:
    """Each block gets its reference coupons too."""
    request = from_mapping(AmendmentRequest, body, "amendment")
    chosen = trial_next_coupons(bench.snapshot(trial), request.count, request.loss)
    settings = [
        (c.rig, c.temperature_c, c.flow_mm3_s) for c in chosen.coupons for _ in range(c.count)
    ]
    return answer(Amended(add_coupons(bench, trial, settings, request.reason)), 201)


@router.get(
    "/speeds",
    **reads(SpeedSheet, "Top speeds by line width and layer height, feed, and heater power"),
)
def speeds(
    bench: BenchOf,
    trial: str,
    reserve: Annotated[
        float, Query(ge=0, lt=1, description="reserve below the ceiling, a fraction")
    ] = RESERVE,
    loss: LossOf = None,
) -> Response:
    """With what width × height as the section would say."""
    return answer(trial_speeds(bench.snapshot(trial), loss, reserve=reserve))


@router.get(
    "/compare",
    **reads(Comparison, "What the candidate gains at each temperature both were weighed at"),
)
def compare(
    bench: BenchOf,
    trial: str,
    baseline: Annotated[str | None, Query(description="left out: the plan's")] = None,
    candidate: Annotated[str | None, Query(description="left out: the plan's")] = None,
    loss: LossOf = None,
) -> Response:
    """As the command ``capacity compare --json``."""
    return answer(trial_comparison(bench.snapshot(trial), baseline, candidate, loss))


@router.get(
    "/typical",
    **reads(Typical, "A trial's ceilings beside what is typical of their class of hot end"),
)
def typical(bench: BenchOf, trial: str, loss: LossOf = None) -> Response:
    """As the command ``package typical --json``."""
    return answer(trial_typical(bench, trial, loss))
