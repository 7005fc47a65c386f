"""The speeds table as a picture: top speed over line width and layer height."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from beadworth.report.charts.chart import SCHEMA, WIDE_PX, Chart, panels
from beadworth.report.sentences import temperature
from beadworth.report.tables import usual_row
from beadworth.report.theme import HEAT
from beadworth.text import fixed, join_words, number

if TYPE_CHECKING:
    from beadworth.capacity import SpeedRow


def speeds_chart(
    rows: Sequence[SpeedRow], rig: str, *, reserve: float, width_px: float = WIDE_PX
) -> Chart:
    """Top speed of every line width and layer height of one rig, a panel per temperature."""
    own = [row for row in rows if row.rig == rig]
    speeds = [row.speed_mm_s for row in own]
    low, high = min(speeds, default=0.0), max(speeds, default=1.0)
    temperatures = sorted({row.temperature_c for row in own})
    values: list[dict[str, Any]] = [
        {
            "rig": rig,
            "panel": temperature(row.temperature_c),
            "temperature_c": row.temperature_c,
            "width_mm": row.width_mm,
            "layer_mm": row.layer_mm,
            "width": number(row.width_mm),
            "layer": number(row.layer_mm),
            "speed_mm_s": round(row.speed_mm_s, 1),
            "step": _step(row.speed_mm_s, low, high),
            "text": fixed(row.speed_mm_s, 0),
        }
        for row in own
    ]
    widths = [number(w) for w in sorted({row.width_mm for row in own})]
    layers = [number(h) for h in sorted({row.layer_mm for row in own}, reverse=True)]
    columns, panel_px = panels(len(temperatures), width_px, left_px=64)
    flat = {"domain": False, "ticks": False, "labelAngle": 0}
    place = {
        "x": {
            "field": "width",
            "type": "nominal",
            "sort": widths,
            "title": "line width, mm",
            "axis": flat,
        },
        "y": {
            "field": "layer",
            "type": "nominal",
            "sort": layers,
            "title": "layer height, mm",
            "axis": flat,
        },
    }
    half = len(HEAT) // 2
    spec = {
        "$schema": SCHEMA,
        "data": {"values": values},
        "facet": {
            "field": "panel",
            "type": "nominal",
            "sort": [temperature(t) for t in temperatures],
            "header": {"labelAnchor": "start"},
        },
        "columns": columns,
        "spacing": 30,
        "spec": {
            "width": panel_px,
            "height": {"step": 34},
            "encoding": place,
            "layer": [
                {
                    "mark": {"type": "rect", "style": "heat-cell"},
                    "encoding": {
                        "color": {
                            "field": "step",
                            "type": "ordinal",
                            "scale": {"domain": list(range(len(HEAT)))},
                            "legend": None,
                        }
                    },
                },
                *(
                    {
                        "transform": [{"filter": f"datum.step {test} {half}"}],
                        "mark": {"type": "text", "style": f"heat-{name}"},
                        "encoding": {"text": {"field": "text"}},
                    }
                    for name, test in (("low", "<"), ("high", ">="))
                ),
            ],
        },
        "resolve": {"axis": {"x": "independent"}},
    }
    return Chart(
        name=f"speeds-{rig}",
        title=_title(own, rig, reserve),
        caption=f"Top speed in mm/s with {number(100 * reserve)}\u00a0% kept below the ceiling. "
        "Deeper cells are faster; the number says how fast.",
        alt=_alt(own, rig, temperatures),
        spec=spec,
        width_px=width_px,
    )


def _step(speed: float, low: float, high: float) -> int:
    """Which of the heat colours, by equal steps of speed."""
    if high <= low:
        return 0
    return min(len(HEAT) - 1, int(len(HEAT) * (speed - low) / (high - low)))


def _title(own: Sequence[SpeedRow], rig: str, reserve: float) -> str:
    if not own:
        return f"No speed can be given for {rig}"
    row = usual_row(own)
    return (
        f"{rig}: {fixed(row.speed_mm_s, 0)} mm/s for a {number(row.width_mm)} × "
        f"{number(row.layer_mm)} mm line at {temperature(row.temperature_c)}"
    )


def _alt(own: Sequence[SpeedRow], rig: str, temperatures: Sequence[float]) -> str:
    words = []
    for t in temperatures:
        there = [row for row in own if row.temperature_c == t]
        slow = min(there, key=lambda row: row.speed_mm_s)
        fast = max(there, key=lambda row: row.speed_mm_s)
        words.append(f"at {temperature(t)} from {_cell(slow)} to {_cell(fast)}")
    return f"Top speeds of {rig}: {join_words(words) or 'none'}."


def _cell(row: SpeedRow) -> str:
    return f"{fixed(row.speed_mm_s, 0)} mm/s for {number(row.width_mm)} × {number(row.layer_mm)} mm"
