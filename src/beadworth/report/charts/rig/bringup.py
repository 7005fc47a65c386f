"""A heater's log beside the model identified from it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from beadworth.report.charts.chart import SCHEMA, WIDE_PX, Chart, axis, panels, part, quantitative
from beadworth.text import fixed

if TYPE_CHECKING:
    from beadworth.bringup import HeaterLog, HeaterResult

MOST_POINTS = 300


def heater_chart(log: HeaterLog, model: HeaterResult, *, width_px: float = WIDE_PX) -> Chart:
    """Temperature as logged and as the model has it, over the duty it was driven with."""
    from beadworth.bringup import simulate

    by_model = simulate(
        log.time_s,
        log.duty,
        gain_k=model.gain_k,
        time_constant_s=model.time_constant_s,
        dead_time_s=model.dead_time_s,
        room_c=model.room_c,
    )
    starts_cold = abs(float(log.temperature_c[0]) - model.room_c) < 5.0
    picked = np.unique(np.linspace(0, log.time_s.size - 1, MOST_POINTS).astype(int))
    begin = float(log.time_s[0])
    rows: list[dict[str, Any]] = []
    for i in picked:
        minutes = round((float(log.time_s[i]) - begin) / 60.0, 4)
        rows.append({"part": "logged", "series": "logged", "minutes": minutes,
                     "temperature_c": round(float(log.temperature_c[i]), 2)})  # fmt: skip
        if starts_cold:
            rows.append({"part": "model", "series": "model", "minutes": minutes,
                         "temperature_c": round(float(by_model[i]), 2)})  # fmt: skip
        rows.append({"part": "duty", "minutes": minutes,
                     "duty_percent": round(100.0 * float(log.duty[i]), 1)})  # fmt: skip
    plot_px = panels(1, width_px)[1]
    last = max(row["minutes"] for row in rows)
    x = quantitative("minutes", "time, min", **axis((0.0, last), grid=False))
    series = ["logged", "model"] if starts_cold else ["logged"]
    colour = {
        "field": "series",
        "type": "nominal",
        "scale": {"domain": series},
        "legend": {} if starts_cold else None,
    }
    temperature = quantitative(
        "temperature_c", "temperature, °C", scale={"zero": False, "nice": True}
    )
    upper = [
        {"transform": part("logged"), "mark": {"type": "line"},
         "encoding": {"x": x, "y": temperature, "color": colour}},
        {"transform": part("model"), "mark": {"type": "line", "strokeDash": [7, 3]},
         "encoding": {"x": x, "y": temperature, "color": colour}},
    ]  # fmt: skip
    lower = {
        "transform": part("duty"),
        "width": plot_px,
        "height": 70,
        "mark": {"type": "area", "interpolate": "step-after", "style": "band"},
        "encoding": {
            "x": x,
            "y": quantitative("duty_percent", "duty, %", **axis((0.0, 100.0), tickCount=2)),
        },
    }
    spec = {
        "$schema": SCHEMA,
        "data": {"values": rows},
        "spacing": 14,
        "vconcat": [{"width": plot_px, "height": 230, "layer": upper}, lower],
    }
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
        spec=spec,
        width_px=width_px,
    )
