"""What the readings of a trial say, as JSON."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Query
from starlette.responses import Response

from beadworth.bench.assemble import trial_fit
from beadworth.web.routes import api_shapes as shapes
from beadworth.web.routes.api_common import READS, answer
from beadworth.web.routes.common import BenchOf

router = APIRouter(prefix="/api", tags=["capacity"])
LossOf = Annotated[
    float | None,
    Query(ge=0.005, le=0.2, description="loss at which ceilings are read; left out: the trial's"),
]


@router.get(
    "/trials/{trial}/fit",
    summary="Ceilings with their intervals, delivery, law, and the fit",
    response_model=shapes.FitShape,
    responses=READS,
)
def fit(bench: BenchOf, trial: str, loss: LossOf = None) -> Response:
    """As the command ``capacity fit --json``."""
    return answer(trial_fit(bench, trial, loss).to_json())
