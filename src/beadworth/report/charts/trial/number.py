"""One number to share: the ceiling that the answer quotes, large, over its interval."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from beadworth.report.charts.chart import Chart, Row, Spec
from beadworth.report.charts.encodings import ONE, TEXT, between, narrow, quantity
from beadworth.report.charts.layout import plot, plot_px
from beadworth.report.charts.marks import point, rule, text
from beadworth.report.sentences import ceiling_value, level, temperature
from beadworth.text import fixed, number

if TYPE_CHECKING:
    from beadworth.capacity import Ceiling

LONG = 6
"""A value of more letters ('at least 21.0') is set in a smaller type."""


def number_chart(ceiling: Ceiling) -> Chart:
    """A ceiling as one large number, with its interval on a scale below it."""
    value, at = ceiling_value(ceiling), temperature(ceiling.temperature_c)
    known = [v for v in (ceiling.low, ceiling.flow_mm3_s, ceiling.high) if v is not None]
    ends = [v for v in (ceiling.low, ceiling.high) if v is not None]
    rows: list[Row] = [
        {"part": "value", "text": value, "height": 0.7},
        {"part": "unit", "text": f"mm³/s at {at}", "height": 0.36},
        *({"part": "end", "flow_mm3_s": v, "text": fixed(v, 1), "height": 0.12} for v in ends),
    ]
    if len(ends) == 2:
        rows.append({"part": "interval", "low_mm3_s": ends[0], "high_mm3_s": ends[1],
                     "height": 0.12})  # fmt: skip
    if ceiling.flow_mm3_s is not None:
        rows.append({"part": "middle", "flow_mm3_s": ceiling.flow_mm3_s, "height": 0.12})
    room = max(max(known) - min(known), 0.05 * max(known))
    span = (max(0.0, min(known) - room), max(known) + room)

    def draw(width_px: float) -> Spec:
        x = quantity("flow_mm3_s", None, span, tickCount=5, grid=False)
        y = {"field": "height", "type": "quantitative", "scale": {"domain": [0, 1]}, "axis": None}
        left: dict[str, Any] = {"align": "left", "x": {"value": 0}, "y": y, "text": TEXT}
        large = (96 if narrow(width_px) else 130) // (1 if len(value) <= LONG else 2)
        return plot(
            rows,
            rule("interval", **between("x", x, "low_mm3_s", "high_mm3_s"), y=y, color=ONE),
            point("middle", x=x, y=y, color=ONE),
            text("value", style="value", fontSize=large, fontWeight="bold", **left),
            text("unit", style="value", fontSize=24, **left),
            text("end", style="value", dy=-12, x=x, y=y, text=TEXT),
            width=plot_px(width_px),
            height=210,
        )

    said = "" if len(ends) < 2 else f" ({fixed(ends[0], 1)} to {fixed(ends[1], 1)})"
    return Chart(
        name="number",
        title=f"{ceiling.rig} delivers {value} mm³/s at {at}",
        caption=f"The flow at which {level(ceiling.loss)} of what is asked no longer arrives, with "
        f"its {number(100 * ceiling.confidence)} % interval.",
        alt=f"{value} mm³/s{said}: the ceiling of {ceiling.rig} at {at}.",
        spec=draw,
    )
