"""Charts of predicted ceilings: drawable, true, said in words."""

from __future__ import annotations

import pytest
from chart_support import LONG, PLA, RIGS, STOCK, WEAK, check_drawn

from beadworth.capacity import Ceiling
from beadworth.melt import predict
from beadworth.melt.sweep import next_millimetre, over_length, over_temperature
from beadworth.report.charts.chart import NARROW_PX, WIDE_PX
from beadworth.report.charts.rig.melt import PREDICTED, length_chart, predicted_ceiling_chart


def predictions(*rigs):
    return [p for rig in rigs for p in over_temperature(rig, PLA, (200.0, 220.0), draws=40)]


def measured():
    return (
        Ceiling(STOCK.name, "PLA", 220.0, 0.02, 9.4, 9.1, 9.7, "interval"),
        Ceiling("Wren", "PLA", 220.0, 0.02, 30.0, 29.0, 31.0, "interval"),
    )


def ceilings():
    made = predictions(STOCK, LONG)
    return predicted_ceiling_chart(made, measured(), rigs=RIGS)


def length(rigs=(STOCK, LONG)):
    lengths = (10.0, 12.5, 20.0, 28.0)
    points = {r.name: over_length(r, PLA, 220.0, lengths, draws=40) for r in rigs}
    own = {r.name: r.hot_end.melt_zone_mm for r in rigs}
    gains = {r.name: next_millimetre(r, PLA, 220.0) for r in rigs}
    return length_chart(points, own, gains, temperature_c=220.0)


@pytest.mark.parametrize("px", [WIDE_PX, NARROW_PX])
@pytest.mark.parametrize("draw", [ceilings, length])
def test_it_draws_fits_its_column_and_leaves_colour_to_the_theme(draw, px):
    check_drawn(draw(), px)


@pytest.mark.parametrize("draw", [ceilings, length])
def test_every_prediction_says_that_it_is_one(draw):
    assert draw().caption.startswith(PREDICTED)


def test_bands_and_measured_ceilings_are_the_ones_given():
    chart = ceilings()
    bands = [row for row in chart.rows if row["part"] == "band"]
    made = {(p.rig, p.temperature_c): p for p in predictions(STOCK, LONG)}
    assert len(bands) == len(made)
    for row in bands:
        p = made[row["rig"], row["temperature_c"]]
        assert row["flow_mm3_s"] == pytest.approx(p.at_loss_mm3_s, abs=1e-3)
        assert (row["low"], row["high"]) == pytest.approx((p.at_loss_low, p.at_loss_high), abs=1e-3)
    assert "at a loss of 2" in chart.caption
    marks = [row for row in chart.rows if row["part"] == "measured"]
    assert [(row["rig"], row["flow_mm3_s"]) for row in marks] == [(STOCK.name, 9.4)]
    assert "measured 9.4 mm³/s at 220" in chart.alt
    assert "Wren" not in chart.alt
    assert "more than of Stilt, stock" in chart.title


def test_the_grip_of_a_weak_drive_ends_what_length_brings_and_said_so():
    longer = length((STOCK, WEAK))
    assert "brings Stilt, worn drive 0." in longer.title
    assert "hardly helps" in longer.caption
    by_force = predicted_ceiling_chart(predictions(STOCK, WEAK), rigs=(STOCK.name, WEAK.name))
    assert "hollow square" in by_force.caption


def test_the_gain_marked_is_the_difference_of_two_predictions():
    chart = length()
    longer = STOCK.model_copy(
        update={"hot_end": STOCK.hot_end.model_copy(update={"melt_zone_mm": 13.5})}
    )
    gain = (predict(longer, PLA, 220.0, draws=2).ceiling_mm3_s
            - predict(STOCK, PLA, 220.0, draws=2).ceiling_mm3_s)  # fmt: skip
    own = next(r for r in chart.rows if r["part"] == "own" and r["rig"] == STOCK.name)
    assert own["melt_zone_mm"] == 12.5
    assert own["text"] == f"+{gain:.2f} mm³/s for the next mm"
