"""What matters most to an answer about worth: each input moved alone over its interval."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

from beadworth.report.charts.chart import (
    SCHEMA,
    WIDE_PX,
    Chart,
    axis,
    part,
    quantitative,
    six_figures,
)
from beadworth.worth import Swing, Tornado, Worth, figures, outcome_words

Row = dict[str, Any]
SHOWN = 10
LEAST = 0.02
"""Swings drawn: so many, and none under this share of the widest; the rest is a count."""
LOW, HIGH = "at the low end of its interval", "at the high end"


def tornado_chart(
    worth: Worth, outcome: str | None = None, *, width_px: float = WIDE_PX
) -> Chart | None:
    """Each input moved alone over its interval, the widest swing on top.

    ``outcome`` left out: the net over the case's months, or the hours saved where no hour has
    a worth. None where nothing is uncertain.
    """
    name = outcome or ("net" if "net" in worth.tornado else "hours_saved")
    found = worth.tornado[name]
    widest = found.swings[0].size if found.swings else 0.0
    shown = [s for s in found.swings[:SHOWN] if not s.size < LEAST * widest]
    if not shown or not math.isfinite(found.middle):
        return None
    unit = "h a year" if name == "hours_saved" else "months"
    unit = worth.currency if name in ("net", "cost") else unit
    narrow = width_px < 500
    left = 16.0 if narrow else min(250.0, 20.0 + 6.4 * max(len(s.label) for s in shown))
    rows: list[Row] = []
    middle, ends = six_figures(found.middle), [found.middle]
    for swing in shown:
        for side, end, given in (
            (LOW, swing.at_low, swing.low_input),
            (HIGH, swing.at_high, swing.high_input),
        ):
            if not math.isfinite(end):
                continue
            ends.append(end)
            rows.append(
                {"part": "bar", "input": swing.label, "side": side, "middle": middle,
                 "outcome": six_figures(end), "given": _given(given, swing),
                 "text": _given(given, swing), "left": end < found.middle}
            )  # fmt: skip
        rows.append({"part": "name", "input": swing.label, "at": middle})
    low, high = min(ends), max(ends)
    plot_px = width_px - left - 18.0
    beside_px = 12.0 + 6.6 * max(len(row["text"]) for row in rows if row["part"] == "bar")
    room = (high - low or 1.0) * beside_px / max(plot_px - 2.0 * beside_px, 40.0)
    x_axis = axis((low - room, high + room), tickCount=4 if narrow else 6, grid=False)
    called = outcome_words(name, worth.months)
    title = f"{called}, {unit}".removesuffix(", ")
    y: Row = {
        "field": "input", "type": "nominal", "sort": [s.label for s in shown], "title": None,
        "scale": {"paddingInner": 0.58 if narrow else 0.3, "paddingOuter": 0.4},
        "axis": None if narrow else {"domain": False, "ticks": False, "labelLimit": left},
    }  # fmt: skip
    ends_at: tuple[Row, Row] = {"align": "left", "dx": 5}, {"align": "right", "dx": -5}
    layers: list[Row] = [
        {
            "transform": part("bar"),
            "mark": {"type": "bar"},
            "encoding": {
                "x": quantitative("middle", title, **x_axis),
                "x2": {"field": "outcome"},
                "color": {
                    "field": "side", "type": "nominal", "scale": {"domain": [LOW, HIGH]},
                    "legend": {"columns": 1 if narrow else 2},
                },
            },
        },
        {
            "transform": part("name"),
            "mark": {"type": "rule", "style": "level"},
            "encoding": {"x": {"datum": middle, "type": "quantitative"}, "y": None},
        },
        *(
            {
                "transform": [*part("bar"), {"filter": f"datum.left === {left_side}"}],
                "mark": dict[str, Any](type="text", style="note") | place,
                "encoding": {"x": quantitative("outcome", title), "text": {"field": "text"}},
            }
            for place, left_side in zip(ends_at, ("false", "true"), strict=True)
        ),
    ]  # fmt: skip
    if narrow:  # names above their bars: beside them they would leave no room
        layers.append(
            {
                "transform": part("name"),
                "mark": {
                    "type": "text",
                    "style": "label",
                    "align": "left",
                    "dy": -4,
                    "baseline": "bottom",
                },
                "encoding": {
                    "x": {"value": 0},
                    "text": {"field": "input"},
                    "y": {**y, "bandPosition": 0},
                },
            }
        )
    spec: Row = {
        "$schema": SCHEMA,
        "data": {"values": rows},
        "width": plot_px,
        "height": {"step": 56 if narrow else 34},
        "encoding": {"y": y},
        "layer": layers,
    }
    first = shown[0]
    rest = len(found.swings) - len(shown)
    moved = "One input that moves" if rest == 1 else f"{rest} inputs that move"
    more = f" {moved} it less {'is' if rest == 1 else 'are'} left out." if rest else ""
    return Chart(
        name=f"worth-tornado-{name.replace('_', '-')}",
        title=f"What matters most to {called}: {first.label}",
        caption="Each input moved alone over its 95\u00a0% interval, the others at their middles; "
        f"the line is where all are at their middles. Beside a bar stands the input's end.{more}",
        alt=_tornado_alt(found, shown, called, unit),
        spec=spec,
        width_px=width_px,
    )


def _tornado_alt(found: Tornado, shown: Sequence[Swing], called: str, unit: str) -> str:
    words = [
        f"{s.label} from {_given(s.low_input, s)} to {_given(s.high_input, s)}: "
        f"{_end(s.at_low)} to {_end(s.at_high)}"
        for s in shown
    ]
    return (
        f"{called.capitalize()}: {figures(found.middle)} {unit} in the middle. {'; '.join(words)}."
    )


def _given(value: float, swing: Swing) -> str:
    """An input's end as it stands beside its bar."""
    if not math.isfinite(value):
        return "no limit"
    unit = f"\u00a0{swing.unit}" if swing.unit else ""
    return f"{figures(value, swing.high_input - swing.low_input or None)}{unit}"


def _end(value: float) -> str:
    return figures(value) if math.isfinite(value) else "never"
