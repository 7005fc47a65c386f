"""Causes: a print, its walls, a photo of one, the corners dragged, the ranking, the record."""

from __future__ import annotations

import re
import threading
from collections.abc import Mapping
from typing import Any
from urllib.parse import quote, urlencode

from fastapi import APIRouter
from markupsafe import Markup
from starlette.datastructures import UploadFile
from starlette.requests import Request
from starlette.responses import Response

from beadworth.core import BeadworthError, InputError, NotFoundError
from beadworth.web.cause_desk import CauseDesk, Photographed, Places, Sitting
from beadworth.web.print_jobs import walls_job
from beadworth.web.responses import is_fragment, page, status_of
from beadworth.web.routes.common import PATIENCE_S, BenchOf, DeskOf, FormOf, see_other
from beadworth.workflow import (
    CORNERS,
    LISTED,
    PHOTO_LIMIT_BYTES,
    Bench,
    CauseAnswer,
    WallRead,
    cause_readings,
    describe_bounds,
    journal_of_cause,
    longest_unseen_mm,
    main_cause,
    one_cause,
    pick_wall,
    printed_choices,
    printed_source,
    store_cause,
    sure,
    take_photo,
    unseen_lines,
    void_cause,
    wall_pictures,
    walls_plan,
    witness_fields,
)

router = APIRouter(include_in_schema=False)
_making = threading.Lock()


def _cause_desk(request: Request) -> CauseDesk:
    state = request.app.state
    with _making:
        if not hasattr(state, "cause_desk"):
            state.cause_desk = CauseDesk()
    desk: CauseDesk = state.cause_desk
    return desk


@router.get("/cause")
def cause_page(request: Request, bench: BenchOf, desk: DeskOf) -> Response:
    """What to photograph, the print it is of, and the readings recorded."""
    context = {
        "rigs": [rig.name for rig in bench.rigs()],
        "prints": printed_choices(bench, desk.shelf),
        "typed": {"rig": request.query_params.get("rig", ""),
                  "of": request.query_params.get("of", "")},
        "readings": list(reversed(cause_readings(bench))),
        "sure": sure,
    }  # fmt: skip
    return page(request, "cause.html", context)


@router.get("/cause/walls")
def walls_page(request: Request, bench: BenchOf, desk: DeskOf) -> Response:
    """The walls of a print, or how far the search for them is."""
    rig_name, of = (request.query_params.get(name, "") for name in ("rig", "of"))
    if not rig_name or not of:
        raise InputError("choose a rig and a print.", "cause", None, "Go back and choose both.")
    rig = bench.rig(rig_name)
    name, source = printed_source(bench, desk.shelf, of)
    job = walls_job(desk, name, of, source, rig)
    query = urlencode({"rig": rig_name, "of": of})
    context: dict[str, Any] = {"name": name, "rig": rig_name, "of": of, "job": None}
    if not job.wait(PATIENCE_S):
        context |= {"job": job, "again": f"/cause/walls?{query}"}
        return page(
            request, "progress.html" if is_fragment(request) else "cause_walls.html", context
        )
    sides = job.answer()
    if is_fragment(request):
        return Response(status_code=200, headers={"HX-Redirect": f"/cause/walls?{query}"})
    context |= {"sides": sides, "plan": Markup(walls_plan(sides)),
                "limit_mb": PHOTO_LIMIT_BYTES / 1e6}  # fmt: skip
    return page(request, "cause_walls.html", context)


@router.post("/cause/photo")
def begin(request: Request, bench: BenchOf, desk: DeskOf, sent: FormOf) -> Response:
    """Take the first photo of a reading."""
    rig, of = bench.rig(str(sent.get("rig", ""))), str(sent.get("of", ""))
    name, source = printed_source(bench, desk.shelf, of)
    sides = walls_job(desk, name, of, source, rig).answer()
    sitting = Sitting(rig, of, name, sides)
    _take(sitting, sent)
    return see_other(f"/cause/read/{_cause_desk(request).begin(sitting)}")


@router.post("/cause/read/{key}/photo")
def add_photo(request: Request, key: str, sent: FormOf) -> Response:
    """Take another photo of the same print: another speed or side."""
    desk = _cause_desk(request)
    _take(desk.sitting(key), sent)
    desk.trim()
    return see_other(f"/cause/read/{key}")


def _take(sitting: Sitting, sent: Mapping[str, Any]) -> None:
    upload, wall = sent.get("file"), str(sent.get("wall", ""))
    if not isinstance(upload, UploadFile) or not upload.filename:
        raise InputError("no photo was chosen.", "photo", remedy="Choose a photo of the wall.")
    number = int(wall) if wall.isdecimal() and len(wall) < 6 else 0
    pick_wall(sitting.sides, number)
    sitting.add(take_photo(upload.file.read(), upload.filename), number)


@router.get("/cause/read/{key}")
def sitting_page(request: Request, key: str) -> Response:
    """The photos with their corners, and what they say as the corners stand."""
    sitting = _cause_desk(request).sitting(key)
    return _sitting(request, key, sitting)


@router.post("/cause/read/{key}")
def read(request: Request, key: str, sent: FormOf) -> Response:
    """What the walls say with the corners as they were dragged: the fragment, or the whole page."""
    sitting = _cause_desk(request).sitting(key)
    try:
        gauge = str(sent.get("gauge", ""))
        sitting.move(_corners(sitting, sent), _answers(sent), gauge)
    except InputError as refusal:
        return _sitting(request, key, sitting, refusal)
    return _sitting(request, key, sitting)


@router.get("/cause/read/{key}/{number}.jpg")
def shown_photo(request: Request, key: str, number: int) -> Response:
    """A photo as it is shown and stored: small, and without what a camera writes."""
    photos = _cause_desk(request).sitting(key).photos
    if not 1 <= number <= len(photos):
        raise NotFoundError(f"there is no photo {number} in this reading.", "photo", number)
    return Response(photos[number - 1].photo.small.data, media_type="image/jpeg")


@router.post("/cause/read/{key}/record")
def record(request: Request, bench: BenchOf, key: str) -> Response:
    """Record the reading as it stands with its rig; then its page."""
    sitting = _cause_desk(request).sitting(key)
    try:
        answer, walls = sitting.answer()
    except InputError as refusal:
        return _sitting(request, key, sitting, refusal)
    stored = store_cause(
        bench, sitting.rig.name, sitting.print_name, walls, answer, sitting.answers
    )
    return see_other(f"/cause/{stored.id}?done=recorded")


def _corners(sitting: Sitting, sent: Mapping[str, Any]) -> list[Places]:
    """Corners of each photo from fields like ``corner-1-0-x``, in per cent."""
    found: list[Places] = []
    for n in range(1, len(sitting.photos) + 1):
        places = []
        for c, words in enumerate(CORNERS):
            texts = [str(sent.get(f"corner-{n}-{c}-{axis}", "")) for axis in "xy"]
            if not all(re.fullmatch(r"\d{1,3}(\.\d{1,6})?", text) for text in texts):
                raise InputError(
                    f"photo {n}, {words}: {', '.join(texts)!r} is no place.", "corners", None,
                    "Give per cent of the photo's width and height, from 0 to 100.",
                )  # fmt: skip
            x, y = (float(text) / 100 for text in texts)
            places.append((x, y))
        found.append(tuple(places))
    return found


def _answers(sent: Mapping[str, Any]) -> dict[str, bool]:
    return {
        name[7:]: value == "yes" for name, value in sent.items()
        if name.startswith("looked ") and value in ("yes", "no")
    }  # fmt: skip


def _sitting(
    request: Request, key: str, sitting: Sitting, error: BeadworthError | None = None
) -> Response:
    answer: CauseAnswer | None = None
    walls: list[WallRead] = []
    if error is None:
        try:
            answer, walls = sitting.answer()
        except InputError as refusal:
            error = refusal
    context = {
        "key": key,
        "rig": sitting.rig.name,
        "print_name": sitting.print_name,
        "sides": sitting.sides,
        "photos": [_shown(one, sitting) for one in sitting.photos],
        "corner_names": CORNERS,
        "gauge_text": sitting.gauge_text,
        "problems": error.problems if error else (),
        "limit_mb": PHOTO_LIMIT_BYTES / 1e6,
        **_answer_context(answer, walls, sitting.rig.name, sitting.answers),
    }
    status = status_of(error) if error and is_fragment(request) else 200
    return page(request, "cause_answer.html" if is_fragment(request) else "cause_read.html",
                context, status)  # fmt: skip


def _shown(one: Photographed, sitting: Sitting) -> dict[str, Any]:
    side = sitting.sides[one.number - 1]
    small = one.photo.small
    return {"side": side, "number": one.number, "corners": one.corners,
            "width": small.width_px, "height": small.height_px}  # fmt: skip


def _answer_context(
    answer: CauseAnswer | None, walls: list[WallRead], rig: str, answers: Mapping[str, bool]
) -> dict[str, Any]:
    if answer is None:
        return {"answer": None}
    pictures = [wall_pictures(wall, n, answer) for n, wall in enumerate(walls)]
    tests = []
    for one in answer.tests:
        fields = witness_fields(one, rig, walls, answer)
        tests.append((one, f"/witness?{urlencode(fields)}" if fields else ""))
    return {
        "answer": answer,
        "listed": LISTED,
        "walls": [(wall, address, Markup(drawn))
                  for wall, (address, drawn) in zip(walls, pictures, strict=True)],
        "tests": tests,
        "unseen": unseen_lines(answer),
        "longest_mm": longest_unseen_mm(answer),
        "answers": answers,
        "sure": sure,
        "bounds": describe_bounds,
        "main_cause": main_cause,
    }  # fmt: skip


@router.get("/cause/{number}")
def stored_page(request: Request, bench: BenchOf, number: int) -> Response:
    """A reading as it was recorded."""
    return _stored(request, bench, number)


def _stored(
    request: Request, bench: Bench, number: int, error: BeadworthError | None = None
) -> Response:
    found = one_cause(bench, number)
    context = {
        "one": found,
        "record": found.record,
        "corner_points": [
            " ".join(f"{100 * x:.2f},{100 * y:.2f}" for x, y in wall.corners)
            for wall in found.record.walls
        ],
        "listed": LISTED,
        "done": request.query_params.get("done"),
        "problems": error.problems if error else (),
        "sure": sure,
        "bounds": describe_bounds,
        "main_cause": main_cause,
    }
    return page(request, "cause_one.html", context, status_of(error) if error else 200)


@router.post("/cause/{number}/journal")
def into_journal(bench: BenchOf, number: int) -> Response:
    """Put the reading into the rig's journal."""
    found = one_cause(bench, number)
    made = journal_of_cause(bench, found)
    return see_other(f"/journal/{quote(found.subject)}?done=added#page-{made.id}")


@router.post("/cause/{number}/void")
def void(request: Request, bench: BenchOf, number: int, sent: FormOf) -> Response:
    """Let the reading no longer count."""
    try:
        void_cause(bench, number, str(sent.get("reason", "")))
    except NotFoundError:
        raise
    except BeadworthError as error:
        return _stored(request, bench, number, error)
    return see_other(f"/cause/{number}")
