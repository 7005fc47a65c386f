"""Bring a rig up: steps from mechanics, measured moves, feed, squareness, heater, sheet."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any
from urllib.parse import quote

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import HTMLResponse, Response

from beadworth.core import BeadworthError, InputError, from_mapping
from beadworth.report import heater_chart, tokens_css
from beadworth.web.fields_rig import BRING_UP, material_field
from beadworth.web.figures import Figure, figure
from beadworth.web.forms import Form, Group, collect, refused, typed_in
from beadworth.web.record_fields import pick
from beadworth.web.responses import page, status_of
from beadworth.web.rig_sheet import Change, changes_of
from beadworth.web.routes.common import BenchOf, FormOf, download, pasted_or_uploaded, see_other
from beadworth.web.routes.publish import DOSSIER_POLICY
from beadworth.workflow import (
    BRING_UP_INPUTS,
    HOT_CAUTIONS,
    BringUpWork,
    Finding,
    GainsLine,
    HeaterLog,
    ProgramInputs,
    StoredBringUp,
    applied,
    apply_bring_up,
    bring_up_page,
    bring_up_program,
    describe_result,
    fit_check,
    gains_lines,
    gross_errors,
    store_bring_up,
    stored_bring_ups,
    stored_log,
    travel_lengths,
    work_out_bring_up,
)

if TYPE_CHECKING:
    from beadworth.bringup import BringUpResult
    from beadworth.rig import Rig
    from beadworth.store import Bench

router = APIRouter(include_in_schema=False)


@dataclass(frozen=True)
class ResultView:
    """A result as the page shows it."""

    findings: list[Finding]
    gains: list[GainsLine]
    output: float
    not_done: tuple[str, ...]
    figure: Figure | None
    blocked: bool
    """Whether it holds an error too large for any setting, and may not be stored or written."""


@dataclass(frozen=True)
class StoredView:
    """A stored bring-up, and what it would change in the record."""

    note: StoredBringUp
    view: ResultView
    changes: tuple[Change, ...]


@router.get("/bring-up")
def bring_up(request: Request, bench: BenchOf, rig: str | None = None) -> Response:
    """Everything a bring-up needs, on one page."""
    return see_other("/rigs") if rig is None else _show(request, bench, bench.rig(rig))


@router.post("/bring-up")
def work_out(request: Request, bench: BenchOf, rig: str, sent: FormOf) -> Response:
    """Work a form out; with ``keep`` the result is stored with the rig."""
    record = bench.rig(rig)
    kind = str(sent.get("kind", ""))
    if kind not in BRING_UP:
        raise InputError(f"there is no bring-up form {kind!r}.", "kind", kind)
    groups = BRING_UP[kind]
    typed = typed_in(groups, sent)
    text = str(sent.get("text", ""))
    try:
        inputs = from_mapping(BRING_UP_INPUTS[kind], collect(groups, typed), "bring-up")
        log = pasted_or_uploaded(sent, "pasted log") if kind == "heater" else None
        found = work_out_bring_up(record, inputs, log)
        given = _given(typed, found, log)
        if sent.get("keep"):
            store_bring_up(bench, found.result, given, found.not_done)
            return see_other(f"/bring-up?rig={quote(rig)}&stored=1#history")
    except BeadworthError as error:
        form = refused(groups, typed, error)
        return _show(request, bench, record, {kind: form}, text=text, status=status_of(error))
    view = _view(found.result, given, found.not_done, found.log)
    answer = {"kind": kind, "view": view}
    return _show(request, bench, record, {kind: Form(typed)}, answer=answer, text=text)


def _given(
    typed: dict[str, str], found: BringUpWork, log: tuple[str, str] | None
) -> dict[str, Any]:
    """What is stored beside a result: the readings as typed, of a log its name and points."""
    if found.log is None or log is None:
        return dict(typed)
    return {"source": log[1], **typed, "log": found.log.thinned()}


@router.post("/bring-up/take")
def take(bench: BenchOf, rig: str, note: int) -> Response:
    """Write what a stored bring-up measured into the rig's record, as its next version."""
    apply_bring_up(bench, rig, note)
    return see_other(f"/rig/{quote(rig)}?saved=1")


@router.get("/bring-up/sheet")
def sheet(bench: BenchOf, rig: str) -> Response:
    """The sheet to print and tick."""
    text = bring_up_page(bench, rig, tokens_css())
    return HTMLResponse(text, headers={"Content-Security-Policy": DOSSIER_POLICY})


@router.get("/bring-up/program")
def program(request: Request, bench: BenchOf, rig: str) -> Response:
    """The program that makes one of the measurements."""
    record = bench.rig(rig)
    groups = (Group("", "", pick(ProgramInputs)),)
    inputs = from_mapping(
        ProgramInputs, collect(groups, typed_in(groups, request.query_params)), "program"
    )
    name, text = bring_up_program(bench, record, inputs)
    return download(text, f"{rig}, bring-up {name}.gcode", "text/x.gcode")


def _show(
    request: Request,
    bench: Bench,
    rig: Rig,
    forms: Mapping[str, Form] | None = None,
    answer: Mapping[str, Any] | None = None,
    *,
    text: str = "",
    status: int = 200,
) -> Response:
    _, axis, material, temperature = pick(ProgramInputs)
    context = {
        "rig": rig,
        "steps": [check for check in fit_check(rig, rig) if "steps per mm" in check.name],
        "forms": {
            kind: (groups, (forms or {}).get(kind) or Form(typed_in(groups, {})))
            for kind, groups in BRING_UP.items()
        },
        "program_axis": replace(axis, empty=""),
        "program_hot": (material_field(material, bench), temperature),
        "program_form": Form({material.path: material.start, temperature.path: temperature.start}),
        "text": text,
        "answer": answer,
        "lengths": travel_lengths(rig),
        "cautions": HOT_CAUTIONS,
        "history": [_stored(rig, note) for note in reversed(stored_bring_ups(bench, rig.name))],
        "stored": request.query_params.get("stored"),
    }
    return page(request, "bringup.html", context, status)


def _stored(rig: Rig, note: StoredBringUp) -> StoredView:
    view = _view(note.result, note.given, note.not_done, stored_log(note.given))
    changes = () if view.blocked else changes_of(rig, applied(rig, note.result))
    return StoredView(note, view, changes)


def _view(
    result: BringUpResult,
    given: Mapping[str, Any],
    not_done: tuple[str, ...],
    log: HeaterLog | None,
) -> ResultView:
    output = float(given.get("output") or 1.0)
    drawn = None
    if log is not None and result.heater is not None:
        drawn = figure(heater_chart(log, result.heater))
    gains = gains_lines(result.gains, output)
    blocked = bool(gross_errors(result))
    return ResultView(describe_result(result), gains, output, not_done, drawn, blocked)
