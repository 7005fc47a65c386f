"""What the readings of a trial say, as JSON."""

from __future__ import annotations

from dataclasses import asdict
from typing import Annotated

from fastapi import APIRouter, Query
from starlette.responses import Response

from beadworth.capacity import fit_to_json
from beadworth.core import RESERVE, from_mapping
from beadworth.web.routes import api_shapes as shapes
from beadworth.web.routes.api_common import READS, WRITES, BodyOf, LossOf, answer, takes
from beadworth.web.routes.common import BenchOf
from beadworth.workflow import (
    add_coupons,
    trial_comparison,
    trial_fit,
    trial_next_coupons,
    trial_speeds,
)

router = APIRouter(prefix="/api", tags=["capacity"])


@router.get(
    "/trials/{trial}/fit",
    summary="Ceilings with their intervals, delivery, law, and the fit",
    response_model=shapes.FitShape,
    responses=READS,
)
def fit(bench: BenchOf, trial: str, loss: LossOf = None) -> Response:
    """As the command ``capacity fit --json``."""
    return answer(fit_to_json(trial_fit(bench.snapshot(trial), loss)))


@router.get(
    "/trials/{trial}/next",
    summary="The coupons that would narrow the ceilings most",
    response_model=shapes.NextShape,
    responses=READS,
)
def next_coupons(
    bench: BenchOf,
    trial: str,
    count: Annotated[int, Query(ge=1, le=60, description="coupons to choose")] = 6,
    loss: LossOf = None,
) -> Response:
    """With the width of each interval now, and as expected after."""
    return answer(asdict(trial_next_coupons(bench.snapshot(trial), count, loss)))


@router.post(
    "/trials/{trial}/amendments",
    summary="Choose the next coupons and add them to the sheet",
    status_code=201,
    response_model=shapes.AmendedShape,
    responses=WRITES,
    openapi_extra=takes("NextAsked"),
)
def amend(bench: BenchOf, trial: str, body: BodyOf) -> Response:
    """Each block gets its reference coupons too."""
    asked = from_mapping(shapes.NextAsked, body, "amendment")
    chosen = trial_next_coupons(bench.snapshot(trial), asked.count, asked.loss)
    settings = [
        (c.rig, c.temperature_c, c.flow_mm3_s) for c in chosen.coupons for _ in range(c.count)
    ]
    made = add_coupons(bench, trial, settings, asked.reason)
    coupons = [asdict(coupon) for coupon in made.coupons]
    return answer({"number": made.number, "digest": made.digest, "coupons": coupons}, 201)


@router.get(
    "/trials/{trial}/speeds",
    summary="Top speeds by line width and layer height, feed, and heater power",
    response_model=shapes.SpeedsShape,
    responses=READS,
)
def speeds(
    bench: BenchOf,
    trial: str,
    reserve: Annotated[
        float, Query(ge=0, lt=1, description="fraction kept below the ceiling")
    ] = RESERVE,
    loss: LossOf = None,
) -> Response:
    """With what width × height as the section would say."""
    return answer(asdict(trial_speeds(bench.snapshot(trial), loss, reserve=reserve)))


@router.get(
    "/trials/{trial}/compare",
    summary="What the candidate gains at each temperature both were weighed at",
    response_model=shapes.CompareShape,
    responses=READS,
)
def compare(
    bench: BenchOf,
    trial: str,
    baseline: Annotated[str | None, Query(description="left out: the plan's")] = None,
    candidate: Annotated[str | None, Query(description="left out: the plan's")] = None,
    loss: LossOf = None,
) -> Response:
    """As the command ``capacity compare --json``."""
    return answer(asdict(trial_comparison(bench.snapshot(trial), baseline, candidate, loss)))
