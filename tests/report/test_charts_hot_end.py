"""Charts of the inside of a hot end: drawable, true, said in words."""

from __future__ import annotations

import pytest
from chart_support import LONG, PLA, STOCK, WEAK, check_drawn

from beadworth.melt import predict
from beadworth.melt.sweep import over_flow
from beadworth.report.charts.chart import NARROW_PX, WIDE_PX
from beadworth.report.charts.rig.hot_end import force_chart, outlet_chart
from beadworth.report.charts.rig.melt import PREDICTED


def outlet():
    states = {r.name: over_flow(r, PLA, 220.0, (4.0, 9.0, 14.0)) for r in (STOCK, LONG)}
    return outlet_chart(states, wall_c=220.0, softening_c=178.0)


def force(rigs=(STOCK, LONG)):
    states = {r.name: over_flow(r, PLA, 220.0, (2.0, 6.0, 10.0, 15.0)) for r in rigs}
    tops = {r.name: predict(r, PLA, 220.0, draws=2).ceiling_mm3_s for r in rigs}
    grips = {r.name: r.extruder.grip_force_n for r in rigs}
    return force_chart(states, tops, grips, temperature_c=220.0)


@pytest.mark.parametrize("px", [WIDE_PX, NARROW_PX])
@pytest.mark.parametrize("draw", [outlet, force])
def test_it_draws_fits_its_column_and_leaves_colour_to_the_theme(draw, px):
    check_drawn(draw(), px)


@pytest.mark.parametrize("draw", [outlet, force])
def test_every_prediction_says_that_it_is_one(draw):
    assert draw().caption.startswith(PREDICTED)


def test_an_outlet_is_drawn_from_wall_to_wall_and_tells_the_stiff_core():
    chart = outlet()
    own = [r for r in chart.rows if r["part"] == "profile" and r["rig"] == STOCK.name]
    one = sorted((r for r in own if r["order"] == 1), key=lambda r: r["radius_mm"])
    temperatures = [row["temperature_c"] for row in one]
    assert temperatures == pytest.approx(temperatures[::-1])
    assert min(temperatures) == temperatures[len(temperatures) // 2]
    assert "Stilt, long melt zone" in chart.title


def test_the_grip_of_a_weak_drive_is_the_limit_and_said_so():
    chart = force((STOCK, WEAK))
    assert [row["force_n"] for row in chart.rows if row["part"] == "grip"] == [8.0, 65.0]
    assert "the push force of Stilt, worn drive meets its grip of 8 N at" in chart.title
    assert "meets the grip" in chart.caption


def test_a_grip_nobody_measured_is_said_to_be_unknown():
    loose = LONG.model_copy(
        update={"extruder": STOCK.extruder.model_copy(update={"grip_force_n": None})}
    )
    assert "is not recorded" in force((loose,)).title
