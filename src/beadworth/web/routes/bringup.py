"""Bring a rig up: steps from mechanics, measured moves, feed, squareness, heater, sheet."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Literal, cast
from urllib.parse import quote

import numpy as np
from fastapi import APIRouter
from starlette.datastructures import FormData
from starlette.requests import Request
from starlette.responses import HTMLResponse, Response

from beadworth.bench import Bench
from beadworth.bench import bringup as shelf
from beadworth.bringup import (
    BringUpResult,
    HeaterLog,
    applied,
    feed_agreement,
    feed_by_marks,
    feed_by_mass,
    move_correction,
    programs,
    read_heater_log,
    squareness,
)
from beadworth.bringup.heater_account import heater_account
from beadworth.bringup.sheet import bring_up_sheet, sheet_page
from beadworth.bringup.told import Finding, GainsLine, gains_lines, told_result
from beadworth.dossier.charts_bringup import heater_chart
from beadworth.dossier.theme import tokens_css
from beadworth.errors import BeadworthError, InputError, Problem
from beadworth.fit import fit_check
from beadworth.rig import Rig
from beadworth.web.answers import page, status_of
from beadworth.web.figures import Figure, figure
from beadworth.web.rig_job import Typed, material_names, polymer
from beadworth.web.rig_sheet import Change, changes_of
from beadworth.web.routes.common import BenchOf, FormOf, download, pasted_or_uploaded, see_other
from beadworth.web.routes.publish import DOSSIER_POLICY

router = APIRouter(include_in_schema=False)
KINDS = ("moves", "feed", "square", "heater")
FIELDS: dict[str, dict[str, str]] = {
    "moves": {"axis": "x", "readings": "", "steps": "", "reading_u": "0.15", "ruler_u": "0.05"},
    "feed": {
        "marks": "", "masses": "", "density": "1.24", "diameter": "", "reading_u": "0.3",
        "mass_u": "0.005", "diameter_u": "0.02", "density_u": "0.01",
    },
    "square": {"x": "", "y": "", "up": "", "down": "", "reading_u": "0.3"},
    "heater": {"text": "", "room": "", "output": "255"},
}  # fmt: skip
"""What each form holds, and what it starts with."""
Axis = Literal["x", "y", "z"]


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

    note: shelf.KeptBringUp
    told: Told
    changes: tuple[Change, ...]


@dataclass(frozen=True)
class Worked:
    """What a form gave: the result, what to keep with it, and how it is shown."""

    result: BringUpResult
    given: dict[str, Any]
    not_done: tuple[str, ...] = ()
    log: HeaterLog | None = None


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
        worked = _work(kind, record, typed, sent)
    except BeadworthError as error:
        problem = {"kind": kind, "problems": error.problems}
        return _show(request, bench, record, {kind: typed}, problem, status=status_of(error))
    if sent.get("keep"):
        shelf.keep(bench, worked.result, worked.given, worked.not_done)
        return see_other(f"/bring-up?rig={quote(rig)}&kept=1#history")
    told = _told(worked.result, worked.given, worked.not_done, worked.log)
    return _show(request, bench, record, {kind: typed}, answer={"kind": kind, "told": told})


@router.post("/bring-up/take")
def take(bench: BenchOf, rig: str, note: int) -> Response:
    """Write what a kept bring-up measured into the rig's record, as its next version."""
    shelf.take(bench, rig, note)
    return see_other(f"/rig/{quote(rig)}?saved=1")


@router.get("/bring-up/sheet")
def sheet(bench: BenchOf, rig: str) -> Response:
    """The sheet to print and tick."""
    there = [(one.at, one.result) for one in shelf.kept(bench, rig)]
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
        "history": [_kept(rig, note) for note in reversed(shelf.kept(bench, rig.name))],
        "kept": request.query_params.get("kept"),
    }  # fmt: skip
    return page(request, "bringup.html", context, status)


def _kept(rig: Rig, note: shelf.KeptBringUp) -> Kept:
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


def _work(kind: str, rig: Rig, typed: Mapping[str, str], sent: FormData) -> Worked:
    work = {"moves": _moves, "feed": _feed, "square": _square}
    return _heater(rig, typed, sent) if kind == "heater" else work[kind](rig, typed)


def _moves(rig: Rig, typed: Mapping[str, str]) -> Worked:
    reader = Typed()
    axis = cast(Axis, typed["axis"] if typed["axis"] in ("x", "y", "z") else "x")
    train = getattr(rig.axes, axis)
    recorded = train.steps_per_mm if train else None
    commanded, measured = reader.pairs(typed["readings"], "readings")
    steps = reader.number(typed["steps"], "steps per mm", 0.01, 1e6) or recorded
    reading_u = reader.number(typed["reading_u"], "u of one reading, mm", 1e-4, 10, needed=True)
    ruler_u = reader.number(typed["ruler_u"], "u of the ruler, %", 0, 10, needed=True)
    _want_steps(reader, steps, rig, f"axes.{axis}.steps_per_mm")
    reader.refuse()
    found = move_correction(
        axis,
        commanded,
        measured,
        steps_per_mm=steps or 0.0,
        reading_u_mm=reading_u or 0.0,
        ruler_u_share=(ruler_u or 0.0) / 100,
    )
    return Worked(BringUpResult(rig=rig.name, axes=(found,)), dict(typed))


def _feed(rig: Rig, typed: Mapping[str, str]) -> Worked:
    reader = Typed()
    marks = reader.pairs(typed["marks"], "mark and measure")
    masses = reader.pairs(typed["masses"], "masses")

    def value(name: str, what: str, low: float, high: float) -> float:
        return reader.number(typed[name], what, low, high, needed=True) or 0.0

    reading_u = value("reading_u", "u of one fed length, mm", 1e-3, 20)
    density = value("density", "density, g/cm³", 0.2, 12)
    mass_u = value("mass_u", "u of one weighing, g", 1e-5, 10)
    diameter_u = value("diameter_u", "u of the diameter, mm", 0, 1)
    density_u = value("density_u", "u of the density, g/cm³", 0, 1)
    diameter = reader.number(typed["diameter"], "diameter, mm", 0.5, 5)
    steps = rig.extruder.steps_per_mm
    _want_steps(reader, steps, rig, "extruder.steps_per_mm")
    reader.refuse()
    by_mass = None
    if masses[0]:
        by_mass = feed_by_mass(
            *masses,
            diameter_mm=diameter or rig.filament_diameter_mm,
            density_g_cm3=density,
            mass_u_g=mass_u,
            diameter_u_mm=diameter_u,
            density_u_g_cm3=density_u,
        )
    by_marks = feed_by_marks(*marks, reading_u_mm=reading_u)
    found = feed_agreement(by_marks, by_mass, steps_per_mm=steps or 0.0)
    return Worked(BringUpResult(rig=rig.name, feed=found), dict(typed))


def _square(rig: Rig, typed: Mapping[str, str]) -> Worked:
    reader = Typed()
    names = {"x": "side x, mm", "y": "side y, mm", "up": "diagonal up, mm",
             "down": "diagonal down, mm", "reading_u": "u of one diagonal, mm"}  # fmt: skip
    values = [
        reader.number(typed[name], words, 1e-3, 1e5, needed=True) or 0.0
        for name, words in names.items()
    ]
    reader.refuse()
    return Worked(BringUpResult(rig=rig.name, square=squareness(*values)), dict(typed))


def _heater(rig: Rig, typed: Mapping[str, str], sent: FormData) -> Worked:
    text, source = pasted_or_uploaded(sent, "pasted log")
    reader = Typed()
    room = reader.number(typed["room"], "room, °C", -20, 60)
    reader.refuse()
    log = read_heater_log(text, source)
    account = heater_account(rig, log, room_c=room)
    result = BringUpResult(
        rig=rig.name,
        heater=account.heater,
        gains=account.gains,
        loss=account.loss,
        heat_up=account.heat_up,
    )
    output = typed["output"] if typed["output"] in ("1", "100", "255") else "1"
    given = {"source": source, "room": typed["room"], "output": output, "log": log.thinned()}
    return Worked(result, given, account.not_done, log)


def _want_steps(reader: Typed, steps: float | None, rig: Rig, path: str) -> None:
    if steps is None:
        reader.problems.append(
            Problem(
                "the steps per mm set while measuring are not known.",
                f"rig {rig.name}, field {path}",
                remedy="Type them, or enter them in the rig's record.",
            )
        )


def _kept_log(given: Mapping[str, Any]) -> HeaterLog | None:
    log = given.get("log")
    if not log:
        return None
    return HeaterLog(*(np.array(log[name]) for name in ("time_s", "temperature_c", "duty")))
