"""Bring a rig up: steps from mechanics, measured moves, feed, squareness, heater, sheet."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, cast
from urllib.parse import quote

import numpy as np
from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import HTMLResponse, Response

from beadworth.bringup import (
    BringUpResult,
    Finding,
    GainsLine,
    HeaterLog,
    applied,
    bring_up_sheet,
    gains_lines,
    programs,
    sheet_page,
    told_result,
)
from beadworth.core import BeadworthError, InputError, Problem
from beadworth.fit import fit_check
from beadworth.report import heater_chart, tokens_css
from beadworth.rig import Rig
from beadworth.store import Bench
from beadworth.web.bringup_work import FIELDS, KINDS, Axis, work
from beadworth.web.figures import Figure, figure
from beadworth.web.responses import page, status_of
from beadworth.web.rig_job import Typed, material_names, polymer
from beadworth.web.rig_sheet import Change, changes_of
from beadworth.web.routes.common import BenchOf, FormOf, download, pasted_or_uploaded, see_other
from beadworth.web.routes.publish import DOSSIER_POLICY
from beadworth.workflow import StoredBringUp, apply_bring_up, store_bring_up, stored_bring_ups

router = APIRouter(include_in_schema=False)


@dataclass(frozen=True)
class Told:
    """A result as the page shows it."""

    findings: list[Finding]
    gains: list[GainsLine]
    output: float
    not_done: tuple[str, ...]
    figure: Figure | None


@dataclass(frozen=True)
class Kept:
    """One bring-up that was kept, and what it would change in the record."""

    note: StoredBringUp
    told: Told
    changes: tuple[Change, ...]


@router.get("/bring-up")
def bring_up(request: Request, bench: BenchOf, rig: str | None = None) -> Response:
    """Everything a bring-up needs, on one page."""
    return see_other("/rigs") if rig is None else _show(request, bench, bench.rig(rig))


@router.post("/bring-up")
def work_out(request: Request, bench: BenchOf, rig: str, sent: FormOf) -> Response:
    """Work a form out; with ``keep`` the result stays with the rig."""
    record = bench.rig(rig)
    kind = str(sent.get("kind", ""))
    if kind not in KINDS:
        raise InputError(Problem(f"there is no bring-up form {kind!r}.", "kind", kind))
    typed = {name: str(sent.get(name, "")).strip() for name in FIELDS[kind]}
    try:
        log = pasted_or_uploaded(sent, "pasted log") if kind == "heater" else None
        worked = work(kind, record, typed, log)
    except BeadworthError as error:
        problem = {"kind": kind, "problems": error.problems}
        return _show(request, bench, record, {kind: typed}, problem, status=status_of(error))
    if sent.get("keep"):
        store_bring_up(bench, worked.result, worked.given, worked.not_done)
        return see_other(f"/bring-up?rig={quote(rig)}&kept=1#history")
    told = _told(worked.result, worked.given, worked.not_done, worked.log)
    return _show(request, bench, record, {kind: typed}, answer={"kind": kind, "told": told})


@router.post("/bring-up/take")
def take(bench: BenchOf, rig: str, note: int) -> Response:
    """Write what a kept bring-up measured into the rig's record, as its next version."""
    apply_bring_up(bench, rig, note)
    return see_other(f"/rig/{quote(rig)}?saved=1")


@router.get("/bring-up/sheet")
def sheet(bench: BenchOf, rig: str) -> Response:
    """The sheet to print and tick."""
    there = [(one.at, one.result) for one in stored_bring_ups(bench, rig)]
    text = sheet_page(bring_up_sheet(bench.rig(rig), there), tokens_css())
    return HTMLResponse(text, headers={"Content-Security-Policy": DOSSIER_POLICY})


@router.get("/bring-up/program")
def program(
    bench: BenchOf,
    rig: str,
    kind: str,
    axis: str = "x",
    material: str = "PLA",
    temperature: str = "210",
) -> Response:
    """The program that makes one of the measurements."""
    record = bench.rig(rig)
    reader = Typed()
    celsius = reader.number(temperature, "temperature, °C", 20, 600, needed=True)
    if kind not in KINDS:
        reader.problems.append(
            Problem(f"no program measures {kind!r}.", "kind", kind, f"Ask for one of {KINDS}.")
        )
    if axis not in ("x", "y", "z"):
        reader.problems.append(Problem(f"{axis!r} is no axis.", "axis", axis, "x, y or z."))
    reader.refuse()
    if kind == "moves":
        name, text = f"moves-{axis}", programs.moves_program(record, cast(Axis, axis))
    else:
        make = {"feed": programs.feed_program, "square": programs.square_program,
                "heater": programs.heater_program}[kind]  # fmt: skip
        name, text = kind, make(record, polymer(bench, material), celsius or 0.0)
    return download(text, f"{rig}, bring-up {name}.gcode", "text/x.gcode")


def _show(
    request: Request,
    bench: Bench,
    rig: Rig,
    typed: Mapping[str, Mapping[str, str]] | None = None,
    problem: Mapping[str, Any] | None = None,
    answer: Mapping[str, Any] | None = None,
    status: int = 200,
) -> Response:
    steps = [check for check in fit_check(rig, rig) if "steps per mm" in check.name]
    lengths = {
        axis: programs.move_lengths(rig, cast(Axis, axis)) if rig.build_volume else ()
        for axis in "xyz"
    }
    context = {
        "rig": rig,
        "steps": steps,
        "typed": {kind: {**start, **((typed or {}).get(kind, {}))} for kind, start in
                  FIELDS.items()},
        "problem": problem,
        "answer": answer,
        "lengths": lengths,
        "materials": material_names(bench),
        "cautions": programs.HOT_CAUTIONS,
        "history": [_kept(rig, note) for note in reversed(stored_bring_ups(bench, rig.name))],
        "kept": request.query_params.get("kept"),
    }  # fmt: skip
    return page(request, "bringup.html", context, status)


def _kept(rig: Rig, note: StoredBringUp) -> Kept:
    told = _told(note.result, note.given, note.not_done, _kept_log(note.given))
    return Kept(note, told, changes_of(rig, applied(rig, note.result)))


def _told(
    result: BringUpResult,
    given: Mapping[str, Any],
    not_done: tuple[str, ...],
    log: HeaterLog | None,
) -> Told:
    output = float(given.get("output") or 1.0)
    drawn = None
    model = result.heater
    if log is not None and model is not None:
        drawn = figure(lambda px: heater_chart(log, model, width_px=px))
    return Told(told_result(result), gains_lines(result.gains, output), output, not_done, drawn)


def _kept_log(given: Mapping[str, Any]) -> HeaterLog | None:
    log = given.get("log")
    if not log:
        return None
    return HeaterLog(*(np.array(log[name]) for name in ("time_s", "temperature_c", "duty")))
