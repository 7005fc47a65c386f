"""Causes of a pattern as JSON: the same data as ``cause`` with ``--json``."""

from __future__ import annotations

import base64
import binascii
from typing import Annotated

from fastapi import APIRouter, Query
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response

from beadworth.core import InputError, Place, from_mapping
from beadworth.web.print_jobs import Desk, walls_job
from beadworth.web.routes.api_bodies import CauseRequest, Reason, WallPhotographed
from beadworth.web.routes.api_common import TABLE, BodyOf, answer, reads, writes
from beadworth.web.routes.common import BenchOf, DeskOf
from beadworth.workflow import (
    Bench,
    CauseAnswer,
    CauseList,
    CauseReading,
    CauseView,
    PrintedSides,
    StoredEntry,
    Vibration,
    WallRead,
    cause_readings,
    cause_view,
    one_cause,
    pick_wall,
    printed_source,
    rank_causes,
    read_gauge,
    read_vibration,
    read_wall_photo,
    store_cause,
    take_photo,
    void_cause,
)

router = APIRouter(prefix="/api", tags=["causes"])
RigOf = Annotated[str, Query(min_length=1, max_length=120, description="a rig on the bench")]
PrintOf = Annotated[
    str, Query(min_length=1, max_length=200, description="witness 12, or the id of a print")
]


@router.get("/cause", **reads(CauseList, "The readings of walls on the bench"))
def readings(
    bench: BenchOf,
    rig: Annotated[str | None, Query(max_length=120, description="left out: all")] = None,
) -> Response:
    """As the command ``cause list --json``; those that do not count too."""
    return answer(CauseList(tuple(cause_readings(bench, rig))))


@router.get("/cause/walls", **reads(PrintedSides, "The walls of a print that a photo can show"))
def walls(bench: BenchOf, desk: DeskOf, rig: RigOf, of: PrintOf) -> Response:
    """As the command ``cause walls --json``."""
    record = bench.rig(rig)
    name, source = printed_source(bench, desk.shelf, of)
    return answer(PrintedSides(tuple(walls_job(desk, name, of, source, record).answer())))


@router.post(
    "/cause/read",
    **writes(CauseView, "Rank what makes the pattern, from photos; not recorded", CauseRequest),
)
def read(bench: BenchOf, desk: DeskOf, body: BodyOf) -> Response:
    """As the command ``cause photo --json``. No photo is held."""
    asked = from_mapping(CauseRequest, body, "cause")
    name, found, photographed = _read(bench, desk, asked)
    return answer(cause_view(found, photographed, name))


@router.post(
    "/cause",
    **writes(CauseView, "The same, recorded with its rig", CauseRequest, created=True),
)
def record(bench: BenchOf, desk: DeskOf, body: BodyOf) -> Response:
    """As the command ``cause photo … --keep --json``; photos are shrunk, and stripped."""
    asked = from_mapping(CauseRequest, body, "cause")
    name, found, photographed = _read(bench, desk, asked)
    stored = store_cause(bench, asked.rig, name, photographed, found, asked.answers)
    return answer(cause_view(found, photographed, name, stored.id), 201)


@router.get("/cause/{number}", **reads(StoredEntry[CauseReading], "A reading as it was recorded"))
def one(bench: BenchOf, number: int) -> Response:
    """As the command ``cause show --json``; its photos are told by their digests."""
    return answer(one_cause(bench, number))


@router.post(
    "/cause/{number}/void",
    **writes(StoredEntry[CauseReading], "Let a reading no longer count; it stays", Reason),
)
def void(bench: BenchOf, number: int, body: BodyOf) -> Response:
    """As the command ``cause void --json``."""
    return answer(void_cause(bench, number, from_mapping(Reason, body, "reason").reason))


@router.post(
    "/vibration",
    **writes(Vibration, "Modes in an accelerometer's record, and what they leave on a wall",
             TABLE, 403, 413, 422),
)  # fmt: skip
async def vibration(
    request: Request,
    acceleration: Annotated[
        list[float] | None, Query(max_length=20, description="mm/s², repeated; at which to tell it")
    ] = None,
    speed_step: Annotated[
        float, Query(allow_inf_nan=False, description="mm/s, a change of speed to tell it of")
    ] = 100.0,
) -> Response:
    """The body is the table (time_s, x_m_s2 …). As ``cause modes --json``; nothing is stored."""
    more = {} if acceleration is None else {"accelerations_mm_s2": acceleration}
    data = await request.body()
    found = await run_in_threadpool(
        read_vibration, data, "record", speed_step_mm_s=speed_step, **more
    )
    return answer(found)


def _read(bench: Bench, desk: Desk, asked: CauseRequest) -> tuple[str, CauseAnswer, list[WallRead]]:
    rig = bench.rig(asked.rig)
    name, source = printed_source(bench, desk.shelf, asked.of)
    sides = walls_job(desk, name, asked.of, source, rig).answer()
    row = read_gauge(asked.gauge.encode(), "gauge") if asked.gauge else None
    photographed = []
    for n, one_ in enumerate(asked.walls):
        photo = take_photo(_bytes(one_, n), f"photo {n + 1}")
        photographed.append(read_wall_photo(photo, pick_wall(sides, one_.wall), one_.corners))
    return name, rank_causes(rig, photographed, asked.answers, row), photographed


def _bytes(given: WallPhotographed, n: int) -> bytes:
    try:
        return base64.b64decode(given.photo, validate=True)
    except (binascii.Error, ValueError):
        raise InputError(
            f"photo {n + 1} is no base64.", Place("cause", field=("walls", n, "photo")),
            given.photo[:40], "Send the file's bytes in base64 (RFC 4648).",
        ) from None  # fmt: skip
