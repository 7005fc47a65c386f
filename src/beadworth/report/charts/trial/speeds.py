"""The speeds table as a picture: top speed over line width and layer height."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from beadworth.report.charts.chart import Chart, Row, Spec
from beadworth.report.charts.encodings import TEXT, Channel, heat
from beadworth.report.charts.layout import facets, panel, panels
from beadworth.report.charts.marks import rect, text
from beadworth.report.sentences import temperature
from beadworth.report.tables import usual_row
from beadworth.report.theme import HEAT
from beadworth.text import distinct_slug, fixed, join_words, number

if TYPE_CHECKING:
    from beadworth.capacity import SpeedRow


def speeds_chart(rows: Sequence[SpeedRow], rig: str, *, reserve: float) -> Chart:
    """Top speed of every line width and layer height of one rig, a panel per temperature."""
    own = [row for row in rows if row.rig == rig]
    temperatures = sorted({row.temperature_c for row in own})

    def draw(width_px: float) -> Spec:
        columns, panel_px = panels(len(temperatures), width_px, left_px=64)
        half = len(HEAT) // 2
        inner = panel(
            rect(style="heat-cell", color=heat("step", range(len(HEAT)))),
            *(
                text(where=f"datum.step {test} {half}", style=f"heat-{name}", text=TEXT)
                for name, test in (("low", "<"), ("high", ">="))
            ),
            width=panel_px,
            height={"step": 34},
            x=_cells("width", "line width, mm", sorted({row.width_mm for row in own})),
            y=_cells("layer", "layer height, mm", sorted({r.layer_mm for r in own}, reverse=True)),
        )
        order = list(map(temperature, temperatures))
        return facets(_rows(own, rig), "panel", order, inner, columns=columns)

    return Chart(
        name=f"speeds-{distinct_slug(rig)}",
        title=_title(own, rig, reserve),
        caption=f"Top speed in mm/s with {number(100 * reserve)}\u00a0% reserve below the ceiling. "
        "Darker cells are faster.",
        alt=_alt(own, rig, temperatures),
        spec=draw,
    )


def _cells(field: str, title: str, values: Sequence[float]) -> Channel:
    """A row or column of cells for each value, in order."""
    return {
        "field": field, "type": "nominal", "sort": list(map(number, values)), "title": title,
        "axis": {"domain": False, "ticks": False, "labelAngle": 0},
    }  # fmt: skip


def _rows(own: Sequence[SpeedRow], rig: str) -> list[Row]:
    speeds = [row.speed_mm_s for row in own]
    low, high = min(speeds, default=0.0), max(speeds, default=1.0)
    return [
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
