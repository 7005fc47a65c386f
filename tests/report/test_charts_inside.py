"""Pictures of the inside of a hot end, of what makes an interval, and of other nozzles."""

import pytest
from chart_support import LONG, PLA, STOCK, check_drawn

from beadworth.melt import MeasuredCeiling, calibrate, inside_at, over_nozzle, predict
from beadworth.report.charts.chart import NARROW_PX, WIDE_PX
from beadworth.report.charts.rig.inside import inside_chart, nozzle_chart, shares_chart
from beadworth.report.charts.rig.melt import PREDICTED

FLOW = 12.0


def inside(rigs=(STOCK, LONG), flow=FLOW):
    states = {r.name: inside_at(r, PLA, 220.0, flow) for r in rigs}
    return inside_chart(states, temperature_c=220.0)


def shares():
    return shares_chart(predict(LONG, PLA, 220.0))


def nozzles():
    made = {r.name: over_nozzle(r, PLA, 220.0, (0.25, 0.4, 0.8), draws=40) for r in (STOCK, LONG)}
    return nozzle_chart(made, temperature_c=220.0)


@pytest.mark.parametrize("px", [WIDE_PX, NARROW_PX])
@pytest.mark.parametrize("draw", [inside, shares, nozzles])
def test_it_draws_fits_its_column_and_leaves_colour_to_the_theme(draw, px):
    chart = draw()
    check_drawn(chart, px)
    assert chart.caption.startswith(PREDICTED)


def test_the_picture_has_the_temperatures_of_the_state_and_the_edge_of_the_stiff_core():
    chart = inside((STOCK,))
    found = inside_at(STOCK, PLA, 220.0, FLOW)
    cells = [r for r in chart.rows if r["part"] == "cell"]
    zone = found.state.depth_mm[-1]
    last = [r["temperature_c"] for r in cells if zone - 0.1 < r["below_mm"] <= zone]
    assert min(last) == pytest.approx(found.state.profile_c.min(), abs=12)
    tip = max(cells, key=lambda r: (r["depth_mm"], r["right_mm"]))
    assert tip["right_mm"] == pytest.approx(STOCK.hot_end.nozzle_mm / 2)
    edge = [r for r in chart.rows if r["part"] == "edge"]
    assert {r["side"] for r in edge} == {-1, 1}
    assert all(abs(r["radius_mm"]) <= STOCK.hot_end.bore_mm / 2 for r in edge)
    assert "squeezes a core of" in chart.title
    slow = inside((STOCK,), flow=0.5)
    assert "leaves the bore soft" in slow.title


def test_shares_are_those_of_the_prediction_and_none_of_a_trial_on_this_very_rig():
    found = predict(LONG, PLA, 220.0)
    assert [r["share"] for r in shares().rows] == [round(s.share, 4) for s in found.shares[:8]]
    taught = calibrate(LONG, PLA, [MeasuredCeiling(220.0, 14.0, 0.2)])
    assert shares_chart(predict(LONG, PLA, 220.0, scales=taught)) is None


def test_another_nozzle_is_predicted_as_if_it_alone_changed():
    chart = nozzles()
    own = {r["nozzle_mm"]: r["flow_mm3_s"] for r in chart.rows if r["rig"] == LONG.name}
    head = LONG.hot_end.model_copy(
        update={"nozzle_mm": 0.8, "land_mm": LONG.hot_end.land_mm * 0.8 / LONG.hot_end.nozzle_mm}
    )
    wide = predict(LONG.model_copy(update={"hot_end": head}), PLA, 220.0, draws=2)
    assert own[0.8] == pytest.approx(wide.ceiling_mm3_s, abs=1e-3)
    assert own[0.25] < own[0.4] < own[0.8]
