"""Charts of an accelerometer's record draw what was found."""

import functools

import numpy as np
import pytest
from chart_support import check_drawn
from shaken import shaken, table

from beadworth.cause import filters_left, read_vibration, worst_ripple_mm
from beadworth.report.charts.cause.shaking import filters_chart, ripple_chart, shaking_chart
from beadworth.report.charts.chart import NARROW_PX, WIDE_PX


@functools.cache
def vibration():
    t, x = shaken(62.0, 0.05, 3, seconds=4.0)
    _, y = shaken(45.0, 0.03, 4, seconds=4.0)
    return read_vibration(table(t, x_m_s2=x, y_m_s2=y), "shaken.csv")


def modes():
    return tuple(mode for axis in vibration().axes for mode in axis.modes)


@pytest.mark.parametrize("px", [WIDE_PX, NARROW_PX])
def test_spectra_and_modes_are_drawn(px):
    chart = shaking_chart(vibration())
    check_drawn(chart, px)
    assert {row["axis"] for row in chart.rows if row["part"] == "density"} == {"x", "y"}
    marked = [row["hertz"] for row in chart.rows if row["part"] == "mode"]
    assert marked == pytest.approx([mode.hertz.value for mode in modes()], rel=1e-5)
    assert chart.title.startswith("2 modes: x at 6")


@pytest.mark.parametrize("px", [WIDE_PX, NARROW_PX])
def test_ripple_is_drawn_as_it_is_reckoned(px):
    chart = ripple_chart(modes())
    check_drawn(chart, px)
    last = chart.rows[29]
    mode = modes()[0]
    assert last["acceleration"] == 8000
    expected = worst_ripple_mm(np.array([8000.0]), mode.hertz.value, mode.damping.value)[0]
    assert last["um"] == pytest.approx(1e3 * expected, rel=1e-5)


@pytest.mark.parametrize("px", [WIDE_PX, NARROW_PX])
def test_filters_are_drawn_over_the_error(px):
    mode = modes()[0]
    chart = filters_chart(mode)
    check_drawn(chart, px)
    left = filters_left(mode.hertz.value, mode.damping.value, np.array([0.2]))
    for name, value in left.items():
        row = next(r for r in chart.rows if r["filter"] == name and r["error"] == 0.2)
        assert row["left"] == pytest.approx(value[0], rel=1e-5), name


def test_a_record_without_a_mode_says_so():
    rng = np.random.default_rng(2)
    t = np.arange(4000) / 1000
    chart = shaking_chart(read_vibration(table(t, z_m_s2=rng.standard_normal(4000)), "n.csv"))
    check_drawn(chart, WIDE_PX)
    assert chart.title == "No mode stands out"
