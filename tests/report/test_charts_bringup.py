"""The chart of a heater log: drawable, and its model lies on it."""

from __future__ import annotations

import numpy as np
import pytest
from chart_support import check_drawn

from beadworth.bringup import HeaterLog, identify
from beadworth.bringup.heater_model import simulate
from beadworth.report.charts.chart import NARROW_PX, WIDE_PX
from beadworth.report.charts.rig.bringup import heater_chart


def heater():
    time = np.arange(0.0, 700.0)
    duty = np.where((time > 20) & (time < 120), 1.0, 0.25)
    duty[:20] = 0.0
    plant = {"gain_k": 680.0, "time_constant_s": 330.0, "dead_time_s": 6.0, "room_c": 21.0}
    seen = simulate(time, duty, **plant) + np.random.default_rng(3).normal(0, 0.2, time.size)
    log = HeaterLog(time, seen, duty)
    return log, identify(log)


def heater_log():
    return heater_chart(*heater())


@pytest.mark.parametrize("px", [WIDE_PX, NARROW_PX])
def test_it_draws_fits_its_column_and_leaves_colour_to_the_theme(px):
    check_drawn(heater_log(), px)


def test_a_heater_model_lies_on_its_log():
    chart = heater_log()
    logged = {r["minutes"]: r["temperature_c"] for r in chart.rows if r["part"] == "logged"}
    model = {r["minutes"]: r["temperature_c"] for r in chart.rows if r["part"] == "model"}
    away = [abs(logged[m] - model[m]) for m in logged]
    assert max(away) < 2.0
    assert "gain" in chart.title
