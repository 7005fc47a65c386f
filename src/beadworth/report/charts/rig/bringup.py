"""A heater's log beside the model identified from it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from beadworth.report.charts.chart import Chart, Row, Spec
from beadworth.report.charts.encodings import quantity, series
from beadworth.report.charts.layout import panel, plot_px, stacked
from beadworth.report.charts.marks import area, line
from beadworth.text import fixed

if TYPE_CHECKING:
    from beadworth.bringup import HeaterLog, HeaterResult

MOST_POINTS = 300


def heater_chart(log: HeaterLog, model: HeaterResult) -> Chart:
    """Temperature as logged and as the model has it, over the duty it was driven with."""
    starts_cold = abs(float(log.temperature_c[0]) - model.room_c) < 5.0
    last = round((float(log.time_s[-1]) - float(log.time_s[0])) / 60.0, 4)

    def draw(width_px: float) -> Spec:
        x = quantity("minutes", "time, min", (0.0, last), grid=False)
        y = quantity("temperature_c", "temperature, °C") | {"scale": {"zero": False, "nice": True}}
        color = series("series", ["logged", "model"] if starts_cold else ["logged"])
        color["legend"] = {} if starts_cold else None
        upper = panel(
            line("logged", x=x, y=y, color=color),
            line("model", strokeDash=[7, 3], x=x, y=y, color=color),
            width=plot_px(width_px),
            height=230,
        )
        duty = quantity("duty_percent", "duty, %", (0.0, 100.0), tickCount=2)
        lower = area("duty", interpolate="step-after", style="band", x=x, y=duty)
        lower |= {"width": plot_px(width_px), "height": 70}
        return stacked(_rows(log, model, starts_cold), upper, lower, spacing=14)

    return Chart(
        name="heater",
        title=f"The model follows the log to {fixed(model.scatter_k, 2)} K: gain "
        f"{fixed(model.gain_k, 0)} K, time constant {fixed(model.time_constant_s, 0)} s, dead "
        f"time {fixed(model.dead_time_s, 1)} s",
        caption="First order with dead time, by least squares. Below, the duty it was driven with."
        + ("" if starts_cold else " The log starts warm: the model's curve is not drawn."),
        alt=f"Heater log over {fixed(last, 1)} minutes, from "
        f"{fixed(float(log.temperature_c.min()), 0)} to "
        f"{fixed(float(log.temperature_c.max()), 0)} °C; the model's scatter about it is "
        f"{fixed(model.scatter_k, 2)} K.",
        spec=draw,
    )


def _rows(log: HeaterLog, model: HeaterResult, starts_cold: bool) -> list[Row]:
    """The log thinned, the model beside it where it starts as cold as the log, the duty."""
    from beadworth.bringup import simulate

    by_model = simulate(
        log.time_s,
        log.duty,
        gain_k=model.gain_k,
        time_constant_s=model.time_constant_s,
        dead_time_s=model.dead_time_s,
        room_c=model.room_c,
    )
    rows: list[Row] = []
    for i in np.unique(np.linspace(0, log.time_s.size - 1, MOST_POINTS).astype(int)):
        minutes = round((float(log.time_s[i]) - float(log.time_s[0])) / 60.0, 4)
        curves = {"logged": log.temperature_c} | ({"model": by_model} if starts_cold else {})
        rows += [
            {"part": name, "series": name, "minutes": minutes,
             "temperature_c": round(float(curve[i]), 2)}
            for name, curve in curves.items()
        ]  # fmt: skip
        rows.append({"part": "duty", "minutes": minutes,
                     "duty_percent": round(100.0 * float(log.duty[i]), 1)})  # fmt: skip
    return rows
