"""Coupon programs and position maps to look at and take along."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Sequence
from functools import lru_cache

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import Response

from beadworth.core import NotFoundError
from beadworth.trial import Program, map_png
from beadworth.web.routes.common import BenchOf, download
from beadworth.web.routes.parts import show
from beadworth.workflow import Bench, trial_programs

router = APIRouter(include_in_schema=False)


@router.get("/trials/{trial}/programs")
def programs(request: Request, bench: BenchOf, trial: str) -> Response:
    """The programs of a trial with their maps, and the cautions."""
    snapshot = bench.snapshot(trial)
    made, spec = trial_programs(snapshot), snapshot.record.spec
    context = {"programs": made, "material": snapshot.materials[spec.material] if spec else None}
    return show(request, snapshot.record, "part_programs.html", "Programs", context)


@router.get("/trials/{trial}/programs.zip")
def everything(bench: BenchOf, trial: str) -> Response:
    """All programs and maps in one archive."""
    made = tuple(trial_programs(bench.snapshot(trial)))
    return download(_archive(made), f"{trial}-programs.zip", "application/zip")


@lru_cache(maxsize=2)
def _archive(programs: Sequence[Program]) -> bytes:
    held = io.BytesIO()
    with zipfile.ZipFile(held, "w", zipfile.ZIP_DEFLATED) as archive:
        for program in programs:
            archive.writestr(f"{program.name}.gcode", program.text)
            if program.map_svg:
                archive.writestr(f"{program.name}.svg", program.map_svg)
                archive.writestr(f"{program.name}.png", map_png(program.map_svg))
    return held.getvalue()


@router.get("/trials/{trial}/programs/{name}.gcode")
def gcode(bench: BenchOf, trial: str, name: str) -> Response:
    """One program."""
    return download(_named(bench, trial, name).text, f"{name}.gcode", "text/x.gcode")


@router.get("/trials/{trial}/programs/{name}.svg")
def position_map(bench: BenchOf, trial: str, name: str) -> Response:
    """The position map of one plate."""
    drawn = _named(bench, trial, name).map_svg
    if drawn is None:
        raise NotFoundError("a catch session has no position map.", where=name)
    return Response(drawn, media_type="image/svg+xml")


def _named(bench: Bench, trial: str, name: str) -> Program:
    for program in trial_programs(bench.snapshot(trial)):
        if program.name == name:
            return program
    raise NotFoundError(f"trial {trial} has no program {name!r}.", where="programs", value=name)
