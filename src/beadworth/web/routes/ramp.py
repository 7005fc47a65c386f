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
from beadworth.web.balance_desk import BalanceDesk
from beadworth.web.fields_ramp import NOISE, ramp_groups
from beadworth.web.figures import figure
from beadworth.web.forms import Form, Group, collect, refused, typed_in
from beadworth.web.responses import page, status_of
from beadworth.web.routes.common import (
    BalancesOf,
    BenchOf,
    FormOf,
    download,
    pasted_or_uploaded,
    see_other,
)
from beadworth.workflow import (
    USUAL_NOISE,
    Bench,
    Ramp,
    live_weighings,
    noise_of,
    ramp_of,
    read_ramp,
    store_trace,
    weighed_entries,
)

router = APIRouter(include_in_schema=False)
LOOK = "look"
"""In place of a trial: the trace is read and not stored."""


def _asked(bench: Bench, groups: tuple[Group, ...], typed: dict[str, str]) -> Ramp:
    return ramp_of(bench, collect(groups, typed))


@router.get("/live-weighing")
def ramp_page(request: Request, bench: BenchOf, desk: BalancesOf) -> Response:
    """The question; with a rig, what the ramp costs and is expected to tell."""
    return _page(request, bench, desk, request.query_params)


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
def read(request: Request, bench: BenchOf, desk: BalancesOf, sent: FormOf) -> Response:
    """What a trace says; stored where a trial is chosen for it."""
    if sent.get("trial") is None or sent.get("trial") == LOOK:
        return _page(request, bench, desk, sent, read_trace=True)
    groups = ramp_groups(bench)
    asked = _asked(bench, groups, typed_in(groups, sent))
    try:
        text, name = pasted_or_uploaded(sent, "trace")
        one = store_trace(
            bench, asked, text, name, trial=str(sent["trial"]) or None,
            note=str(sent.get("note", "")),
        )  # fmt: skip
    except BeadworthError as error:
        return _page(request, bench, desk, sent, wrong=error)
    return see_other(f"/live-weighing/{one.number}")


def _page(
    request: Request,
    bench: Bench,
    desk: BalanceDesk,
    sent: Mapping[str, Any],
    *,
    read_trace: bool = False,
    wrong: BeadworthError | None = None,
) -> Response:
    groups = ramp_groups(bench)
    typed = typed_in(groups, sent)
    noise = noise_of(*(str(sent.get(name, "")) for name in NOISE))
    context: dict[str, Any] = {
        "groups": groups, "form": Form(typed), "made": None, "rows": (), "found": None,
        "query": urlencode(typed), "typed": typed, "wrong": wrong.problems if wrong else (),
        "noise": noise, "usual_noise": USUAL_NOISE, "balance": desk.name, "look": LOOK,
        "lives": live_weighings(bench)[::-1], "trials": bench.outlines(),
        "ceiling_words": ceiling_words, "capital": capital,
    }  # fmt: skip
    status = status_of(wrong) if wrong else 200
    if not typed["rig"]:
        return page(request, "ramp.html", context)
    try:
        asked = _asked(bench, groups, typed)
        context |= {"made": asked.program(), "rows": asked.outlook(noise),
                    "cycles": asked.spec.cycles,
                    "first_minutes": asked.program(first_minute=True).minutes}  # fmt: skip
    except BeadworthError as error:
        context["form"], status = refused(groups, typed, error), status_of(error)
        return page(request, "ramp.html", context, status)
    if read_trace:
        try:
            text, name = pasted_or_uploaded(sent, "trace")  # pyrefly: ignore[bad-argument-type]
            found = read_ramp(asked.spec, text, name, rig=asked.rig, material=asked.material)
        except BeadworthError as error:
            context["wrong"], status = error.problems, status_of(error)
        else:
            fit, weighed = found.fit, found.weighing
            bins = weighed_entries(weighed.readings, fit)
            context |= {
                "found": found,
                "trace": figure(
                    trace_chart(found.trace, found.sections, weighed.grams, weighed.minutes)
                ),
                "losses": figure(loss_chart(fit.groups, bins, fit.ceilings)) if fit else None,
            }
    return page(request, "ramp.html", context, status)
