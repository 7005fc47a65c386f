"""The trace of a live weighing over the flow that was asked for."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from beadworth.report.charts.chart import Chart, Row, Spec
from beadworth.report.charts.encodings import quantity
from beadworth.report.charts.layout import panel, plot_px, stacked
from beadworth.report.charts.marks import area, line
from beadworth.report.sentences import FLOW, temperature
from beadworth.text import fixed, join_words

if TYPE_CHECKING:
    from beadworth.ramp import Placed, Section, Trace

MOST_POINTS = 900


def trace_chart(trace: Trace, sections: Sequence[Section], grams: float, minutes: float) -> Chart:
    """What the balance read, over time, above the flow that the steps asked for.

    Parameters
    ----------
    trace : Trace
    sections : sequence of Section
        Steps that are in it; empty while nothing is to be seen yet.
    grams, minutes : float
        Delivered in those steps, and how long they took.
    """
    from beadworth.ramp import place_trace

    last = round(trace.seconds / 60.0, 2)
    placed = place_trace(trace, sections) if sections else ()
    at = [temperature(place.section.temperature_c) for place in placed]

    where = f", at {join_words(at)}" if at else ""

    def draw(width_px: float) -> Spec:
        x = quantity("minutes", "time, min", (0.0, last), grid=False)
        y = quantity("mass_g", "mass, g") | {"scale": {"zero": False, "nice": True}}
        flow = quantity("flow_mm3_s", f"flow, {FLOW}", tickCount=3)
        upper = panel(line("read", x=x, y=y), width=plot_px(width_px), height=230)
        lower = area("asked", interpolate="step-after", style="band", x=x, y=flow)
        lower |= {"width": plot_px(width_px), "height": 80}
        return stacked(_rows(trace, placed), upper, lower, spacing=14)

    return Chart(
        name="trace",
        title=f"{fixed(grams, 1)} g in {fixed(minutes, 0)} min{where}",
        caption="What the balance read; below, the flow that was asked for, laid over it. "
        "Lifting the cup shows as a dip.",
        alt=f"Mass on the balance over {fixed(last, 0)} minutes, rising by "
        f"{fixed(grams, 1)} g while the flow ramps up and down{where}.",
        spec=draw,
    )


def _rows(trace: Trace, placed: Sequence[Placed]) -> list[Row]:
    start = float(trace.time_s[0])
    rows: list[Row] = [
        {"part": "read", "minutes": round((float(trace.time_s[i]) - start) / 60.0, 3),
         "mass_g": round(float(trace.mass_g[i]), 3)}
        for i in np.unique(np.linspace(0, trace.time_s.size - 1, MOST_POINTS).astype(int))
    ]  # fmt: skip
    for place in placed:
        steps = place.section.steps
        for step in steps:
            at = (place.start_s + step.start_s - start) / 60.0
            rows.append({"part": "asked", "minutes": round(at, 3),
                         "flow_mm3_s": round(step.flow_mm3_s, 2)})  # fmt: skip
        end = (place.start_s + steps[-1].end_s - start) / 60.0
        rows.append({"part": "asked", "minutes": round(end, 3), "flow_mm3_s": 0.0})
    return rows
