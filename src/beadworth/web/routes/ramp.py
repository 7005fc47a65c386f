"""Live weighing in the browser: a flow ramp, its program, and the trace read."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any
from urllib.parse import urlencode

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import Response

from beadworth.core import BeadworthError
from beadworth.report import ceiling_words, loss_chart, trace_chart
from beadworth.text import capital
from beadworth.web.fields_ramp import ramp_groups
from beadworth.web.figures import figure
from beadworth.web.forms import Form, Group, collect, refused, typed_in
from beadworth.web.responses import page, status_of
from beadworth.web.routes.common import BenchOf, FormOf, download, pasted_or_uploaded
from beadworth.workflow import Bench, Ramp, ramp_of, read_ramp, weighed_entries

router = APIRouter(include_in_schema=False)


def _asked(bench: Bench, groups: tuple[Group, ...], typed: dict[str, str]) -> Ramp:
    return ramp_of(bench, collect(groups, typed))


@router.get("/live-weighing")
def ramp_page(request: Request, bench: BenchOf) -> Response:
    """The question; with a rig, what the ramp costs and is expected to tell."""
    return _page(request, bench, request.query_params)


@router.get("/live-weighing/program")
def program(request: Request, bench: BenchOf) -> Response:
    """The program of the ramp, or of its first minute."""
    groups = ramp_groups(bench)
    asked = _asked(bench, groups, typed_in(groups, request.query_params))
    first = bool(request.query_params.get("first"))
    made = asked.program(first_minute=first)
    name = f"{made.name}{'-first-minute' if first else ''}.gcode"
    return download(made.text, name, "text/plain; charset=utf-8")


@router.post("/live-weighing")
def read(request: Request, bench: BenchOf, sent: FormOf) -> Response:
    """What a trace says; it is not stored."""
    return _page(request, bench, sent, read_trace=True)


def _page(
    request: Request, bench: Bench, sent: Mapping[str, Any], *, read_trace: bool = False
) -> Response:
    groups = ramp_groups(bench)
    typed = typed_in(groups, sent)
    context: dict[str, Any] = {
        "groups": groups, "form": Form(typed), "made": None, "rows": (), "found": None,
        "query": urlencode(typed), "typed": typed, "wrong": (),
        "ceiling_words": ceiling_words, "capital": capital,
    }  # fmt: skip
    status = 200
    if not typed["rig"]:
        return page(request, "ramp.html", context)
    try:
        asked = _asked(bench, groups, typed)
        context |= {"made": asked.program(), "rows": asked.outlook(), "cycles": asked.spec.cycles}
    except BeadworthError as error:
        context["form"], status = refused(groups, typed, error), status_of(error)
        return page(request, "ramp.html", context, status)
    if read_trace:
        try:
            text, name = pasted_or_uploaded(sent, "trace")  # type: ignore[arg-type]
            found = read_ramp(asked.spec, text, name, rig=asked.rig, material=asked.material)
        except BeadworthError as error:
            context["wrong"], status = error.problems, status_of(error)
        else:
            fit = found.fit
            context |= {
                "found": found,
                "trace": figure(trace_chart(found.trace, found.weighing)),
                "losses": figure(loss_chart(fit.groups, weighed_entries(found), fit.ceilings))
                if fit
                else None,
            }
    return page(request, "ramp.html", context, status)
