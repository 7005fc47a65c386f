"""A print taken apart: time at each flow with the ceiling, time and fan of every layer."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from beadworth.capacity import Ceiling
from beadworth.replay import Replay
from beadworth.report.charts.chart import Chart, Row, Spec
from beadworth.report.charts.encodings import (
    TEXT,
    narrow,
    per_cent_axis,
    quantity,
    series,
    six_figures,
)
from beadworth.report.charts.layout import panel, plot, plot_px, stacked
from beadworth.report.charts.marks import line, rect, rule, text
from beadworth.text import duration, fixed, percent

UNDER, OVER, CEILING = "time under the ceiling", "time over the ceiling", "ceiling, its interval"
CLOSE = 0.09
"""Of the axis: ceilings nearer to each other share a label."""
MOST_LAYERS = 1500
"""Drawn; of a taller print the layers in between are left out."""


def flow_time_chart(found: Replay) -> Chart:
    """Share of the laying time at each flow, with the ceilings drawn in."""
    histogram, total = found.flow_histogram, sum(found.flow_histogram.time_s) or 1.0
    limits = [one for one in found.ceilings if one.flow_mm3_s is not None]
    lowest = min((one.flow_mm3_s or 0.0 for one in limits), default=None)
    over = None if lowest is None else histogram.share_over(lowest)

    def draw(width_px: float) -> Spec:
        rows: list[Row] = []
        for n, seconds in enumerate(histogram.time_s):
            if seconds > 0.0:
                low = n * histogram.width_mm3_s
                hot = lowest is not None and low >= lowest - 1e-9
                rows.append({
                    "part": "bin", "series": OVER if hot else UNDER, "zero": 0.0,
                    "from": six_figures(low), "to": six_figures(low + histogram.width_mm3_s),
                    "share": six_figures(seconds / total),
                })  # fmt: skip
        top = 1.12 * max((row["share"] for row in rows), default=1.0)
        right = len(histogram.time_s) * histogram.width_mm3_s or 1.0
        for one in limits:
            assert one.flow_mm3_s is not None
            low, high = (one.flow_mm3_s if end is None else end for end in (one.low, one.high))
            at = {"series": CEILING, "from": six_figures(low), "to": six_figures(high)}
            right = max(right, 1.04 * high)
            rows.append({"part": "band", **at, "zero": 0.0, "share": top})
        rows += _ceiling_rows(limits, right)
        used = [UNDER, *([OVER, CEILING] if limits else [])]
        legend = {"columns": 1 if narrow(width_px) else 3, "symbolOpacity": 1} if limits else {}
        color = series("series", used, **legend)
        x = quantity("from", "flow, mm³/s", (0.0, right), grid=False)
        y = quantity("share", "share of the time", (0.0, top), **per_cent_axis(".0~%"))
        bins: dict[str, Any] = {"x": x, "x2": {"field": "to"}, "y": y, "y2": {"field": "zero"}}
        return plot(
            rows,
            rect("bin", color=color, **bins),
            rect("band", opacity=0.2, color=color, **bins),
            rule("ceiling", x=x, color=color),
            text("ceiling", align="right", dx=-4, baseline="top", x=x, y={"value": 2}, text=TEXT),
            width=plot_px(width_px),
            height=200,
        )

    told = _histogram_words(found)
    title = told if found.unknown_c or over is None or lowest is None else _over_words(over, lowest)
    return Chart(
        name="print-flow-time",
        title=title,
        caption="Time of the beads at each flow, every bead by its mean flow"
        + ("; the line is the ceiling at each temperature used." if limits else "."),
        alt=f"Share of the laying time by flow. {told}."
        + "".join(
            f" Ceiling at {one.temperature_c:g} °C: {fixed(one.flow_mm3_s, 1)} mm³/s."
            for one in limits
            if one.flow_mm3_s is not None
        ),
        spec=draw,
    )


def layer_times_chart(found: Replay) -> Chart:
    """Time and part cooling of every layer."""
    layers = [layer for layer in found.layers if layer.layer > 0]
    step = -(-len(layers) // MOST_LAYERS) or 1
    fan = any(layer.fan is not None for layer in layers)

    def draw(width_px: float) -> Spec:
        rows: list[Row] = [
            {"layer": layer.layer, "time_s": six_figures(layer.time_s),
             "fan": None if layer.fan is None else six_figures(layer.fan)}
            for layer in layers[::step]
        ]  # fmt: skip
        last = max((layer.layer for layer in layers), default=1)
        width = plot_px(width_px)
        x = quantity("layer", "layer", (1.0, float(max(last, 2))), grid=False, tickMinStep=1)
        longest = max((row["time_s"] for row in rows), default=1.0)
        y = quantity("time_s", "time, s", (0.0, 1.06 * longest or 1.0))
        times = panel(line(interpolate="step-after", x=x, y=y), width=width, height=130)
        if not fan:
            return stacked(rows, times, spacing=10)
        duty = quantity("fan", "fan", (0.0, 1.0), **per_cent_axis(".0~%", tickCount=2))
        cool = panel(
            line(interpolate="step-after", x=x, y=duty, strokeDash=[5, 3]), width=width, height=60
        )
        return stacked(rows, times, cool, spacing=10)

    title = found.shortest_layer_sentence or "Time of every layer"
    return Chart(
        name="print-layers",
        title=title,
        caption="Time of every layer, travel included"
        + ("; below, the duty of the part cooling over that time." if fan else "."),
        alt=f"{title}. {len(layers)} layers take {duration(sum(one.time_s for one in layers))}.",
        spec=draw,
    )


def _ceiling_rows(limits: Sequence[Ceiling], right: float) -> list[Row]:
    """A line for each ceiling; those too close to be told apart share a label."""
    rows: list[Row] = []
    for one in sorted(limits, key=lambda limit: (limit.flow_mm3_s, limit.temperature_c)):
        assert one.flow_mm3_s is not None
        flow, celsius = six_figures(one.flow_mm3_s), f"{one.temperature_c:g}"
        close = rows and flow - rows[-1]["from"] < CLOSE * right
        if close:
            rows[-1]["text"] = f"{rows[-1]['text'].removesuffix(' °C')}, {celsius} °C"
            rows.append({"part": "ceiling", "series": CEILING, "from": flow, "text": ""})
            rows[-1]["text"], rows[-2]["text"] = rows[-2]["text"], ""
        else:
            rows.append({"part": "ceiling", "series": CEILING, "from": flow,
                         "text": f"{celsius} °C"})  # fmt: skip
    return rows


def _histogram_words(found: Replay) -> str:
    flow = found.flow
    return (
        f"Half of the time is under {fixed(found.flow_histogram.quantile(0.5), 1)} mm³/s, 90 % "
        f"under {fixed(found.flow_histogram.quantile(0.9), 1)}, 99 % under "
        f"{fixed(flow.p99_mm3_s, 1)}"
    )


def _over_words(over: float, lowest: float) -> str:
    if over == 0.0:
        return f"No bead asks for more than the ceiling of {fixed(lowest, 1)} mm³/s on average"
    return f"{percent(over, 1)} of the time goes to beads over the ceiling"
