"""What follows from the ceilings: speeds to type in, and what the candidate gains."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import Response

from beadworth.core import RESERVE, InputError
from beadworth.report import comparison_chart, speeds_chart
from beadworth.text import ambiguity, parse_numbers
from beadworth.web.figures import figure
from beadworth.web.routes.common import BenchOf
from beadworth.web.routes.parts import Typed, show, typed_percent
from beadworth.workflow import (
    LAYERS_MM,
    WIDTHS_MM,
    TrialSnapshot,
    comparison_apart,
    rig_order,
    trial_comparison,
    trial_fit,
    trial_speeds,
)

router = APIRouter(include_in_schema=False)
MOST = 8
SIZES_MM = (0.02, 5.0)
"""Smallest and largest width or height of a bead that is taken."""


def typed_sizes(text: str | None, what: str, usual: Sequence[float]) -> tuple[float, ...]:
    """Line widths or layer heights as typed, mm.

    Raises
    ------
    InputError
        No numbers, or sizes no bead has.
    """
    if text is None or not text.strip():
        return tuple(usual)
    values = parse_numbers(text)
    low, high = SIZES_MM
    if not 1 <= len(values) <= MOST or not all(
        isinstance(value, float) and low <= value <= high for value in values
    ):
        said, remedy = ambiguity(text) or (
            f"{text.strip()!r} is not 1 to {MOST} sizes from {low:g} to {high:g} mm.",
            "Type them in millimetres with spaces between: 0.4 0.45 0.6.",
        )
        raise InputError(said, what, text, remedy)
    return tuple(dict.fromkeys(values))


@router.get("/trials/{trial}/speeds")
def speeds(
    request: Request,
    bench: BenchOf,
    trial: str,
    reserve: Typed = None,
    widths: Typed = None,
    layers: Typed = None,
    loss: Typed = None,
) -> Response:
    """Top speed by line width and layer height, feed, and heater power."""
    given = typed_percent(reserve, "reserve", 0, 90)
    inputs: dict[str, Any] = {
        "reserve": RESERVE if given is None else given,
        "widths_mm": typed_sizes(widths, "line widths", WIDTHS_MM),
        "layers_mm": typed_sizes(layers, "layer heights", LAYERS_MM),
    }
    snapshot = bench.snapshot(trial)
    sheet = trial_speeds(snapshot, typed_percent(loss, "loss", 0.5, 20), **inputs)
    names = rig_order(snapshot.record, [item.rig for item in sheet.settings])
    sheet = replace(
        sheet,
        settings=tuple(sorted(sheet.settings, key=lambda item: names.index(item.rig))),
        rows=tuple(sorted(sheet.rows, key=lambda item: names.index(item.rig))),
    )
    drawable = [name for name in names if any(row.rig == name for row in sheet.rows)]

    def drawn(name: str) -> Any:
        return figure(speeds_chart(sheet.rows, name, reserve=sheet.reserve))

    context = {
        "sheet": sheet,
        "widths": "  ".join(f"{value:g}" for value in inputs["widths_mm"]),
        "layers": "  ".join(f"{value:g}" for value in inputs["layers_mm"]),
        "figures": [drawn(name) for name in drawable],
    }
    return show(request, snapshot.record, "part_speeds.html", "Speeds", context)


@router.get("/trials/{trial}/compare")
def compare(
    request: Request,
    bench: BenchOf,
    trial: str,
    baseline: str | None = None,
    candidate: str | None = None,
    loss: Typed = None,
    other: str | None = None,
) -> Response:
    """Difference in ceiling at each common temperature, and what it costs.

    ``other``: the trial that weighed the candidate, where it was another one.
    """
    snapshot, at = bench.snapshot(trial), typed_percent(loss, "loss", 0.5, 20)
    second = bench.snapshot(other) if other else snapshot
    if other:
        made = comparison_apart(snapshot, second, baseline, candidate, at)
    else:
        made = trial_comparison(snapshot, baseline, candidate, at)
    fit = trial_fit(snapshot)
    rigs = rig_order(snapshot.record, [group.rig for group in fit.groups])
    if other:
        rigs += [g.rig for g in trial_fit(second).groups if g.rig not in rigs]
    context = {
        "other": other,
        "apart": (snapshot.record, second.record) if other else (),
        "c": made,
        "percents": [row.percent.times(100) for row in made.differences],
        "rigs": rigs,
        "supplied_by": _supplied_by(second, made.candidate),
        "difference_figure": figure(
            comparison_chart(made.differences, baseline=made.baseline, candidate=made.candidate)
        ),
    }
    return show(request, snapshot.record, "part_compare.html", "Compare", context)


def _supplied_by(snapshot: TrialSnapshot, rig: str) -> str | None:
    known = snapshot.rigs.get(rig)
    return known.supplied_by if known else None
