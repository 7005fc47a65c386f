"""The parts of a trial page that take computing, each with an address of its own."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Query
from starlette.requests import Request
from starlette.responses import Response

from beadworth.core import InputError
from beadworth.report import (
    ReportData,
    answer_sentence,
    ceiling_chart,
    ceiling_words,
    delivered_chart,
    drift_chart,
    loss_chart,
    residual_chart,
)
from beadworth.text import parse_number
from beadworth.web.figures import Figure, figure
from beadworth.web.responses import page
from beadworth.web.routes.common import BenchOf
from beadworth.workflow import (
    TrialRecord,
    describe_lack_of_fit,
    describe_method,
    report_data,
    trial_fit,
    trial_question,
)

router = APIRouter(include_in_schema=False)
Typed = Annotated[str | None, Query(max_length=40)]


def typed_percent(text: str | None, what: str, low: float, high: float) -> float | None:
    """Per cent as typed, as a fraction; None where nothing was typed.

    Raises
    ------
    InputError
        No number, or one outside ``low`` to ``high`` per cent.
    """
    if text is None or not text.strip():
        return None
    value = parse_number(text.strip().removesuffix("%"))
    if value is None or not low <= value <= high:
        raise InputError(
            f"{text.strip()!r} is not a number from {low:g} to {high:g}.",
            where=f"{what}, %",
            value=text,
            remedy="Type it in per cent.",
        )
    return value / 100


def show(
    request: Request, record: TrialRecord, template: str, heading: str, context: dict[str, Any]
) -> Response:
    """A part of the page, or a page of its own where no page asked for it."""
    shown = {"record": record, "heading": heading, **context}
    return page(request, template, shown)


@router.get("/trials/{trial}/capacity")
def capacity(request: Request, bench: BenchOf, trial: str, loss: Typed = None) -> Response:
    """Curves, ceilings, law, and how well they fit."""
    asked = typed_percent(loss, "loss", 0.5, 20)
    snapshot = bench.snapshot(trial)
    trial_fit(snapshot, asked)  # refuses a trial of which nothing is weighed
    data = report_data(bench, snapshot, asked, sections=())
    ceilings = [c for c in data.ceilings if c.basis == "readings"]
    context = {
        "loss": ceilings[0].loss,
        "ceilings": ceilings,
        "ceiling_words": ceiling_words,
        "describe_lack_of_fit": describe_lack_of_fit,
        "describe_method": describe_method,
        "sentence": sentence_of(data),
        "question": trial_question(snapshot, asked),
        "groups": data.groups,
        "loss_figure": figure(loss_chart(data.groups, data.entries, ceilings)),
        "ceiling_figure": _ceiling_figure(data),
        "more_figures": _more(data),
    }
    return show(request, snapshot.record, "part_capacity.html", "Capacity", context)


def sentence_of(data: ReportData) -> str:
    """What the trial found."""
    names = list(dict.fromkeys(group.rig for group in data.groups))
    return answer_sentence(
        data.ceilings,
        data.differences,
        baseline=names[0],
        candidate=data.candidate if data.candidate in names else None,
    )


def _ceiling_figure(data: ReportData) -> Figure | None:
    """Ceilings over temperature, where there are several."""
    tested = {c.temperature_c for c in data.ceilings}
    if len(tested) < 2:
        return None
    rigs = [group.rig for group in data.groups]
    return figure(ceiling_chart(data.ceilings, data.law_ceilings, rigs=rigs))


def _more(data: ReportData) -> list[Figure]:
    made = [
        figure(residual_chart(data.groups)),
        figure(delivered_chart(data.groups, data.entries)),
    ]
    if any(entry.reading.reference and entry.order for entry in data.entries):
        made.append(figure(drift_chart(data.entries)))
    return made
