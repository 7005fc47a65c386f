"""The chart and numbers of a trial page as weighings come in, and the speed they allow."""

from __future__ import annotations

from typing import Any, Final

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import Response

from beadworth.core import RESERVE, InputError
from beadworth.report import answer_sentence, live_chart
from beadworth.text import fixed, parse_number, percent
from beadworth.web.figures import figure
from beadworth.web.responses import page, script_json
from beadworth.web.routes.common import BenchOf
from beadworth.web.routes.findings import SIZES_MM
from beadworth.web.routes.parts import Typed, typed_percent
from beadworth.web.trial_page import (
    LAYER_MM,
    UNKNOWN,
    WIDTH_MM,
    Naming,
    NumberLine,
    key_of,
    number_lines,
)
from beadworth.workflow import (
    Ceiling,
    LiveTrial,
    SpeedRow,
    TrialSnapshot,
    live_trial,
    speeds_of_bead,
)

router = APIRouter(include_in_schema=False)
CHART_PX: Final = 760.0


@router.get("/trials/{trial}/live")
def live(
    request: Request,
    bench: BenchOf,
    trial: str,
    draft: bool = False,
    rows: bool = False,
    loss: Typed = None,
) -> Response:
    """Numbers and chart; ``rows``: without drawings, for a page that has the chart drawn."""
    snapshot = bench.snapshot(trial)
    found = live_trial(snapshot, draft=draft)
    at = nearest(found, typed_percent(loss, "loss", 0.5, 20))
    chart = live_chart(
        found.groups,
        found.entries,
        found.ceilings,
        loss=at,
        planned=found.planned,
        predicted=found.predicted,
    )
    context = {
        "record": snapshot.record,
        "live": found,
        "at": at,
        "index": found.losses.index(at),
        "finding": finding_of(found),
        "numbers": numbers_of(snapshot, found, at),
        "steps": script_json(_steps(found, Naming.of(snapshot.fitted))),
        "doubtful": script_json(sorted(found.doubtful)),
        "heading": "Ceilings",
        "figure": figure(chart, wide_px=CHART_PX, drawn=not rows),
    }
    return page(request, "live.html", context)


def finding_of(found: LiveTrial) -> str:
    """What the trial found so far, at its own loss; empty while there is no curve."""
    names = list(dict.fromkeys(group.rig for group in found.groups))
    if not names or found.draft:
        return ""
    own = [c for c in found.ceilings if abs(c.loss - found.loss) < 1e-9]
    candidate = names[1] if found.differences else None
    return answer_sentence(own, found.differences, baseline=names[0], candidate=candidate)


def nearest(found: LiveTrial, loss: float | None) -> float:
    """The loss to read at, among those there are ceilings for."""
    wanted = found.loss if loss is None else loss
    return min(found.losses, key=lambda value: abs(value - wanted))


def numbers_of(snapshot: TrialSnapshot, found: LiveTrial, at: float) -> list[NumberLine]:
    """The large numbers at a loss."""
    naming = Naming.of(snapshot.fitted)
    return number_lines(
        snapshot.record,
        snapshot.fitted,
        lambda name, celsius: _cell(found, at, naming, key_of(name, celsius)),
    )


def _key(naming: Naming, of: Ceiling | SpeedRow) -> str:
    return key_of(naming(of.rig, of.material), of.temperature_c)


def _cell(found: LiveTrial, at: float, naming: Naming, key: str) -> tuple[str, str]:
    for c in found.ceilings:
        if _key(naming, c) == key and abs(c.loss - at) < 1e-9:
            return words_of(c)
    for c in found.predicted:
        if _key(naming, c) == key and c.low is not None and c.high is not None:
            return "?", f"predicted {fixed(c.low, 0)} to {fixed(c.high, 0)}"
    return UNKNOWN


def _steps(found: LiveTrial, naming: Naming) -> dict[str, Any]:
    """For every loss what each number says, so that the page can follow the level at once."""
    said: dict[str, list[list[str]]] = {}
    for c in found.ceilings:
        said.setdefault(_key(naming, c), []).append(list(words_of(c)))
    return {
        "losses": [round(value, 4) for value in found.losses],
        "words": [percent(value, 1) for value in found.losses],
        "cells": said,
    }


def words_of(ceiling: Ceiling) -> tuple[str, str]:
    """The number and what stands under it."""
    if ceiling.flow_mm3_s is not None and ceiling.bound == "interval":
        return fixed(ceiling.flow_mm3_s, 1), f"{fixed(ceiling.low, 1)} to {fixed(ceiling.high, 1)}"
    if ceiling.bound == "at-least" and ceiling.low is not None:
        return f"≥ {fixed(ceiling.low, 1)}", "at least"
    if ceiling.bound == "at-most" and ceiling.high is not None:
        return f"≤ {fixed(ceiling.high, 1)}", "at most"
    return "?", "not known at this loss"


@router.get("/trials/{trial}/speed")
def speed(
    request: Request,
    bench: BenchOf,
    trial: str,
    of: str = "",
    width: Typed = None,
    layer: Typed = None,
    loss: Typed = None,
    reserve: Typed = None,
) -> Response:
    """The speed that a ceiling allows for one bead, as the sliders are moved."""
    snapshot = bench.snapshot(trial)
    width_mm = _size(width, "line width", WIDTH_MM)
    layer_mm = _size(layer, "layer height", LAYER_MM)
    kept = typed_percent(reserve, "margin", 0, 90)
    sheet = speeds_of_bead(
        snapshot,
        width_mm,
        layer_mm,
        loss=typed_percent(loss, "loss", 0.5, 20),
        reserve=RESERVE if kept is None else kept,
    )
    naming = Naming.of(snapshot.fitted)
    rows = [row for row in sheet.rows if not of or _key(naming, row) == of]
    context = {
        "row": _chosen(rows),
        "width": width_mm,
        "layer": layer_mm,
        "sheet": sheet,
    }
    return page(request, "live_speed.html", context)


def _chosen(rows: list[SpeedRow]) -> SpeedRow | None:
    """The only one, else the fastest that is known from both sides, else any."""
    both = [row for row in rows if row.low_mm_s is not None and row.high_mm_s is not None]
    return max(both or rows, key=lambda row: row.speed_mm_s, default=None)


def _size(text: str | None, what: str, usual: float) -> float:
    if text is None or not text.strip():
        return usual
    value = parse_number(text)
    low, high = SIZES_MM
    if value is None or not low <= value <= high:
        raise InputError(
            f"{text.strip()!r} is not a size from {low:g} to {high:g} mm.",
            where=what,
            value=text,
            remedy="Give it in millimetres.",
        )
    return value
