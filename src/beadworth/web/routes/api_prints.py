"""Prints as JSON: the same data as ``print replay --json``."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Query
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response

from beadworth.web.print_jobs import replay_job
from beadworth.web.routes.api_common import FILE, answer, reads, writes
from beadworth.web.routes.common import BenchOf, DeskOf
from beadworth.workflow import PrintReplay, Prints, Replay, StoredPrint, replay_inputs

router = APIRouter(prefix="/api", tags=["prints"])
NameOf = Annotated[str, Query(min_length=1, max_length=120)]


@router.get("/prints", **reads(Prints, "The prints the bench knows"))
def prints(desk: DeskOf) -> Response:
    """With what the last replay of each said."""
    return answer(Prints(tuple(desk.shelf.all())))


@router.post(
    "/prints",
    **writes(StoredPrint, "Give a print file (G-code, plain or gz), up to 2 GB", FILE,
             403, 413, 422, created=True),
)  # fmt: skip
async def take(request: Request, desk: DeskOf, name: NameOf) -> Response:
    """The body is the file; the same file given again keeps its id."""
    with desk.shelf.receiving(name) as upload:
        async for piece in request.stream():
            if piece:
                await run_in_threadpool(upload.write, piece)
        stored = await run_in_threadpool(upload.keep)
    return answer(stored, 201)


@router.get(
    "/prints/{print_id}/replay",
    **reads(Replay, "Replay a print on a rig, against a trial's capacity where one is named"),
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
    return answer(made.found)
