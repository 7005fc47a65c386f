"""Prints: what a print file asks of a rig, its layers drawn, a copy that asks less."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any
from urllib.parse import urlencode

from fastapi import APIRouter
from fastapi.responses import FileResponse
from markupsafe import Markup
from starlette.datastructures import UploadFile
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response

from beadworth.core import BeadworthError, InputError, from_mapping
from beadworth.report import (
    flow_chart,
    flow_time_chart,
    layer_times_chart,
    limits_chart,
    survey_chart,
    what_if_chart,
)
from beadworth.web.figures import figure
from beadworth.web.forms import Form, Group, collect, typed_in
from beadworth.web.jobs import Job
from beadworth.web.paging import shown
from beadworth.web.print_jobs import (
    Desk,
    against_job,
    compare_job,
    map_job,
    replay_job,
    retime_job,
)
from beadworth.web.record_fields import pick
from beadworth.web.responses import page, script_json, status_of
from beadworth.web.routes.common import PATIENCE_S, BenchOf, DeskOf, FormOf, see_other
from beadworth.workflow import (
    ACCELERATIONS,
    COLUMNS,
    PRINT_LIMIT_BYTES,
    REPLAY_FIELDS,
    SHARES,
    PrintReplay,
    ReplayInputs,
    RetimeInputs,
    material_names,
    move_sliders,
    replay_inputs,
    sliders,
    surveys,
    trials_by_rig,
    trials_of_rigs,
    usual_inputs,
)

if TYPE_CHECKING:
    from beadworth.store import Bench, StoredPrint

router = APIRouter(include_in_schema=False)
FILES_MOST = 200
"""Other files to compare with: those given last."""
STRETCHES_MOST = 100
"""Stretches in the table; the map shows them all."""
PIECE = 1 << 20
RETIME = (Group("", "", pick(RetimeInputs)),)


@router.get("/prints")
def prints(request: Request, bench: BenchOf, desk: DeskOf) -> Response:
    """Every print the bench knows, and a place to give another."""
    return _list_page(request, bench, desk)


def _list_page(
    request: Request, bench: Bench, desk: Desk, error: BeadworthError | None = None
) -> Response:
    held = surveys(bench)
    listed = shown(desk.shelf.all(), request.query_params.get("page"))
    context = {
        "prints": listed,
        "listed": [(stored, desk.shelf.is_here(stored)) for stored in listed.rows],
        "folder": None if desk.shelf.temporary else str(desk.shelf.folder),
        "limit_gb": PRINT_LIMIT_BYTES / 1e9,
        "problems": error.problems if error else (),
        "surveys": held,
        "figures": [
            figure(survey_chart(one.summary)) if one.summary.worst else None for one in held
        ],
    }
    return page(request, "prints.html", context, status_of(error) if error else 200)


@router.post("/prints")
def take(request: Request, bench: BenchOf, desk: DeskOf, form: FormOf) -> Response:
    """A print file given by the form."""
    upload = form.get("file")
    try:
        if not isinstance(upload, UploadFile) or not upload.filename:
            raise InputError("no file was chosen.", "file", remedy="Choose a print file.")
        with desk.shelf.receiving(upload.filename) as received:
            while piece := upload.file.read(PIECE):
                received.write(piece)
            stored = received.keep()
    except InputError as error:
        return _list_page(request, bench, desk, error)
    return see_other(f"/prints/{stored.id}")


@router.get("/prints/{print_id}")
def print_page(request: Request, bench: BenchOf, desk: DeskOf, print_id: str) -> Response:
    """One print: what it is held against, and a place for each answer."""
    stored = desk.shelf.one(print_id)
    desk.shelf.file(stored)
    return _print_page(request, bench, stored, _typed(request, bench, stored))


def _typed(request: Request, bench: Bench, stored: StoredPrint) -> dict[str, str]:
    """What is chosen: as in the address, else as usual for this print."""
    query = request.query_params
    if "rig" not in query:
        return usual_inputs(bench, stored.last)
    return {name: query.get(name) or "" for name in REPLAY_FIELDS}


def _print_page(
    request: Request,
    bench: Bench,
    stored: StoredPrint,
    typed: dict[str, str],
    more: Mapping[str, Any] | None = None,
    status: int = 200,
) -> Response:
    trials = trials_of_rigs(bench, filter(None, [typed["rig"]]))
    context = {
        "stored": stored,
        "typed": typed,
        "query": urlencode(typed),
        "rigs": [rig.name for rig in bench.rigs()],
        "trials": trials,
        "question": dict(trials).get(typed["trial"], ""),
        "materials": material_names(bench),
        "ready": None,
        **(more or {}),
    }
    return page(request, "print.html", context, status)


@router.get("/prints/{print_id}/capacities")
def capacities(request: Request, bench: BenchOf, rig: str = "") -> Response:
    """The capacities that go with a rig, for the form."""
    trials = trials_of_rigs(bench, filter(None, [rig]))
    typed = {"trial": trials[0][0] if trials else ""}
    return page(request, "print_capacities.html", {"trials": trials, "typed": typed})


@router.get("/prints/{print_id}/answer")
def answer(request: Request, bench: BenchOf, desk: DeskOf, print_id: str) -> Response:
    """The replay: its progress, or what it found."""
    stored = desk.shelf.one(print_id)
    typed = _typed(request, bench, stored)
    inputs = replay_inputs(bench, typed)
    job = replay_job(desk, stored, inputs)
    again = f"/prints/{stored.id}/answer?{urlencode(typed)}"
    context = _working(job, again) or _answer_context(bench, desk, stored, inputs, job.answer())
    template = _template(context, "print_answer.html")
    if "hx-request" in request.headers:
        return page(request, template, context)
    return _print_page(request, bench, stored, typed, {"ready": template, **context})


def _working(job: Job, again: str) -> dict[str, Any] | None:
    """What to show while a job runs; None once it is done."""
    return None if job.wait(PATIENCE_S) else {"job": job, "again": again}


def _template(context: Mapping[str, Any], otherwise: str) -> str:
    return "progress.html" if "job" in context else otherwise


def _answer_context(
    bench: Bench, desk: Desk, stored: StoredPrint, inputs: ReplayInputs, made: PrintReplay
) -> dict[str, Any]:
    found = made.found
    return {
        "stored": stored,
        "inputs": inputs,
        "answer": made,
        "found": found,
        "summary": found.summary,
        "stretches": made.stretches[:STRETCHES_MOST],
        "flow_figure": figure(flow_chart(found)),
        "flow_time_figure": figure(flow_time_chart(found)),
        "layers_figure": figure(layer_times_chart(found)) if found.shortest_layer else None,
        "limits_figure": figure(limits_chart(found)),
        "sheet_data": _sheet_data(stored, inputs, made),
        "others": _others(bench, inputs),
        "files": [one for one in desk.shelf.here() if one.id != stored.id][:FILES_MOST],
        "files_most": FILES_MOST,
        "sliders": sliders(found, inputs),
        "reach": {"acceleration": ACCELERATIONS, "share": SHARES},
        "retime": RETIME[0],
        "retime_form": Form(typed_in(RETIME, {})),
    }


def _others(bench: Bench, inputs: ReplayInputs) -> dict[str, Any]:
    """What the print may be held against besides: another rig that was weighed, to begin with."""
    names = [rig.name for rig in bench.rigs()]
    weighed = trials_by_rig(bench, names)
    others = [name for name in (*weighed, *names) if name != inputs.rig.name]
    rig = next(iter(others), names[0] if names else "")
    every = dict(trial for trials in weighed.values() for trial in trials)
    own = dict(weighed.get(rig, ()))
    first = inputs.trial if inputs.trial in own else next(iter(own), "")
    return {"rigs": names, "rig": rig, "trials": list(every.items()), "trial": first}


def _sheet_data(stored: StoredPrint, inputs: ReplayInputs, answer: PrintReplay) -> Markup:
    """What the layer map starts from, as JSON that cannot close the element it stands in."""
    found = answer.found
    data = {
        "address": f"/prints/{stored.id}/sheets/",
        "query": urlencode(inputs.chosen),
        "columns": COLUMNS,
        "bead_mm": inputs.rig.hot_end.nozzle_mm,
        "box": found.summary.box_mm,
        "continuous": found.summary.layers is None,
        "start": answer.least,
        "most": found.flow.max_mm3_s,
        "known": inputs.fit is not None,
        "sheets": [
            [sheet.first_layer, round(sheet.z_mm, 3), sheet.headroom, sheet.max_mm3_s,
             sheet.time_s, sheet.over_s]
            for sheet in answer.sheets
        ],
    }  # fmt: skip
    return script_json(data)


@router.get("/prints/{print_id}/sheets/{number}")
def sheet(request: Request, bench: BenchOf, desk: DeskOf, print_id: str, number: int) -> Response:
    """The segments of one sheet: the columns of ``layer_map.COLUMNS``, each whole."""
    stored = desk.shelf.one(print_id)
    inputs = replay_inputs(bench, _typed(request, bench, stored))
    answer: PrintReplay = replay_job(desk, stored, inputs).answer()
    if not 0 <= number < len(answer.sheets):
        raise HTTPException(404)
    drawn = map_job(desk, stored, inputs, answer).answer()
    return Response(drawn.sheet(number), media_type="application/octet-stream")


@router.post("/prints/{print_id}/retime")
def start_retiming(request: Request, bench: BenchOf, desk: DeskOf, print_id: str,
                   form: FormOf) -> Response:  # fmt: skip
    """Make a copy that stays under the ceiling."""
    return _retimed(request, bench, desk, print_id, {k: str(v) for k, v in form.items()})


@router.get("/prints/{print_id}/retimed")
def retimed(request: Request, bench: BenchOf, desk: DeskOf, print_id: str) -> Response:
    """How far the copy is, or what was done."""
    return _retimed(request, bench, desk, print_id, dict(request.query_params))


def _retimed(
    request: Request, bench: Bench, desk: Desk, print_id: str, typed: dict[str, str]
) -> Response:
    stored = desk.shelf.one(print_id)
    inputs, wanted = replay_inputs(bench, typed), _retiming(typed)
    query = urlencode({**inputs.chosen, "reserve": typed.get("reserve", ""),
                       "holds": wanted.holds})  # fmt: skip
    job = retime_job(desk, stored, inputs, wanted)
    context = _working(job, f"/prints/{stored.id}/retimed?{query}") or {
        "copy": job.answer(), "query": query, "reserve": wanted.reserve / 100.0,
    }  # fmt: skip
    context |= {"stored": stored, "back": urlencode(inputs.chosen), "heading": "Retime",
                "inner": _template(context, "print_retimed.html")}  # fmt: skip
    return page(request, "print_part.html", context)


def _retiming(typed: Mapping[str, str]) -> RetimeInputs:
    """What was typed in; the usual values where nothing was sent."""
    data = collect(RETIME, typed_in(RETIME, typed))
    return from_mapping(RetimeInputs, data, "retiming")


@router.get("/prints/{print_id}/retimed/file")
def retimed_file(request: Request, bench: BenchOf, desk: DeskOf, print_id: str) -> Response:
    """The copy, to keep."""
    stored = desk.shelf.one(print_id)
    typed = dict(request.query_params)
    copy = retime_job(desk, stored, replay_inputs(bench, typed), _retiming(typed)).answer()
    return FileResponse(copy.file, media_type="text/x-gcode", filename=copy.name)


@router.get("/prints/{print_id}/what-if")
def what_if(request: Request, bench: BenchOf, desk: DeskOf, print_id: str) -> Response:
    """The same print on another rig, or with another capacity."""
    stored = desk.shelf.one(print_id)
    typed = dict(request.query_params)
    first, second = replay_inputs(bench, typed), replay_inputs(bench, typed, "other_")
    query = urlencode({**first.chosen, **{f"other_{k}": v for k, v in second.chosen.items()}})
    back = urlencode(first.chosen)
    if second.rig.name == first.rig.parent:  # the rig the other was made from comes first
        first, second = second, first
    job = compare_job(desk, stored, first, second)
    context = _working(job, f"/prints/{stored.id}/what-if?{query}")
    if context is None:
        found = job.answer()
        context = {"found": found, "figure": figure(what_if_chart(found))}
    context |= {"stored": stored, "back": back, "heading": "What if",
                "inner": _template(context, "print_what_if.html")}  # fmt: skip
    return page(request, "print_part.html", context)


@router.get("/prints/{print_id}/against")
def against(request: Request, bench: BenchOf, desk: DeskOf, print_id: str,
            other: str = "") -> Response:  # fmt: skip
    """The print beside another file, on the same rig."""
    stored, beside = desk.shelf.one(print_id), desk.shelf.one(other)
    inputs = replay_inputs(bench, dict(request.query_params))
    query = urlencode({**inputs.chosen, "other": other})
    job = against_job(desk, stored, beside, inputs)
    context = _working(job, f"/prints/{stored.id}/against?{query}") or {"found": job.answer()}
    context |= {"stored": stored, "back": urlencode(inputs.chosen),
                "heading": "Against another file",
                "inner": _template(context, "print_against.html")}  # fmt: skip
    return page(request, "print_part.html", context)


@router.get("/prints/{print_id}/otherwise")
def otherwise(request: Request, bench: BenchOf, desk: DeskOf, print_id: str) -> Response:
    """What the print would do as the sliders stand."""
    stored = desk.shelf.one(print_id)
    typed = dict(request.query_params)
    inputs = replay_inputs(bench, typed)
    made: PrintReplay = replay_job(desk, stored, inputs).answer()
    found = move_sliders(desk.shelf, stored, inputs, sliders(made.found, inputs), typed)
    context = {"found": found, "stored": stored, "back": urlencode(inputs.chosen),
               "heading": "If it were otherwise", "inner": "print_otherwise.html"}  # fmt: skip
    return page(request, "print_part.html", context)
