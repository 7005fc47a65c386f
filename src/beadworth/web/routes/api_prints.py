"""Prints as JSON: the same data as ``print replay --json``."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Query
from pydantic import BaseModel, ConfigDict, Field
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response

from beadworth.core import to_json
from beadworth.store import StoredPrint
from beadworth.web.print_jobs import replay_job
from beadworth.web.routes.api_common import READS, TAKES_FILE, answer, refusals
from beadworth.web.routes.common import BenchOf, DeskOf
from beadworth.workflow import PrintReplay, replay_inputs

router = APIRouter(prefix="/api", tags=["prints"])
NameOf = Annotated[str, Query(min_length=1, max_length=120)]


class PrintShape(BaseModel):
    """A print the bench knows."""

    id: str
    sha256: str
    name: str
    bytes: int
    at: str
    last: dict[str, Any] | None = Field(description="what its last replay said")


class PrintsShape(BaseModel):
    """Every print, the one given last first."""

    prints: list[PrintShape]


class ReplayShape(BaseModel):
    """A replay; further fields as the command print replay --json prints them."""

    model_config = ConfigDict(extra="allow")
    verdict: str
    moves: int
    time_s: float
    over_ceiling_s: float
    flow: dict[str, float]
    stretches: list[dict[str, Any]]


def _json(stored: StoredPrint) -> dict[str, Any]:
    return {
        "id": stored.id,
        "sha256": stored.sha256,
        "name": stored.name,
        "bytes": stored.bytes,
        "at": stored.at.isoformat(),
        "last": stored.last,
    }


@router.get(
    "/prints", summary="The prints the bench knows", response_model=PrintsShape, responses=READS
)
def prints(desk: DeskOf) -> Response:
    """With what the last replay of each said."""
    return answer({"prints": [_json(stored) for stored in desk.shelf.all()]})


@router.post(
    "/prints",
    summary="Give a print file (G-code, plain or gz), up to 2 GB",
    status_code=201,
    response_model=PrintShape,
    responses=refusals(403, 413, 422),
    openapi_extra=TAKES_FILE,
)
async def take(request: Request, desk: DeskOf, name: NameOf) -> Response:
    """The body is the file; the same file given again keeps its id."""
    with desk.shelf.receiving(name) as upload:
        async for piece in request.stream():
            if piece:
                await run_in_threadpool(upload.write, piece)
        stored = await run_in_threadpool(upload.keep)
    return answer(_json(stored), 201)


@router.get(
    "/prints/{print_id}/replay",
    summary="Replay a print on a rig, against a trial's capacity where one is named",
    response_model=ReplayShape,
    responses=READS,
)
def replayed(
    bench: BenchOf,
    desk: DeskOf,
    print_id: str,
    rig: Annotated[str, Query(description="left out: conservative defaults")] = "",
    trial: Annotated[str, Query(description="a trial that weighed this rig")] = "",
    material: Annotated[str, Query(description="for mass and melt power")] = "",
) -> Response:
    """As the command ``print replay --json``."""
    stored = desk.shelf.one(print_id)
    inputs = replay_inputs(bench, {"rig": rig, "trial": trial, "material": material})
    made: PrintReplay = replay_job(desk, stored, inputs).answer()
    return answer(to_json(made.found))
