"""Charts of the melt model, the fit check and the heater log: drawable, true, said in words."""

from __future__ import annotations

import json
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pytest

from beadworth.bringup import HeaterLog, identify
from beadworth.bringup.heater_model import simulate
from beadworth.capacity import Ceiling
from beadworth.dossier.charts import NARROW_PX, WIDE_PX, render_svg
from beadworth.dossier.charts_bringup import heater_chart
from beadworth.dossier.charts_fit import acceleration_chart, fit_sentence
from beadworth.dossier.charts_melt import (
    PREDICTED,
    force_chart,
    length_chart,
    outlet_chart,
    predicted_ceiling_chart,
)
from beadworth.fit import Check, fit_check
from beadworth.material.library import generic
from beadworth.melt import predict
from beadworth.melt.sweep import next_millimetre, over_flow, over_length, over_temperature
from beadworth.records import from_toml, parse_toml
from beadworth.rig import Rig, upgrade

EXAMPLES = Path(__file__).resolve().parents[2] / "docs" / "examples"
STOCK = from_toml(Rig, (EXAMPLES / "rig-heron-stock.toml").read_text(), "stock")
LONG = upgrade(STOCK, parse_toml((EXAMPLES / "upgrade-long-zone.toml").read_text(), "up"))
WEAK = LONG.model_copy(
    update={
        "name": "Heron, worn drive",
        "extruder": STOCK.extruder.model_copy(update={"grip_force_n": 8.0}),
    }
)
RIGS = (STOCK.name, LONG.name)
PLA = generic("PLA")
COLOURS_OF_ITS_OWN = ("#", "rgb", '"blue', '"red')


def predictions(*rigs):
    return [p for rig in rigs for p in over_temperature(rig, PLA, (200.0, 220.0), draws=40)]


def measured():
    return (
        Ceiling(STOCK.name, "PLA", 220.0, 0.02, 9.4, 9.1, 9.7, "interval"),
        Ceiling("Wren", "PLA", 220.0, 0.02, 30.0, 29.0, 31.0, "interval"),
    )


def heater():
    time = np.arange(0.0, 700.0)
    duty = np.where((time > 20) & (time < 120), 1.0, 0.25)
    duty[:20] = 0.0
    plant = {"gain_k": 680.0, "time_constant_s": 330.0, "dead_time_s": 6.0, "room_c": 21.0}
    seen = simulate(time, duty, **plant) + np.random.default_rng(3).normal(0, 0.2, time.size)
    log = HeaterLog(time, seen, duty)
    return log, identify(log)


def ceilings(px):
    made = predictions(STOCK, LONG)
    return predicted_ceiling_chart(made, measured(), rigs=RIGS, width_px=px)


def outlet(px):
    states = {r.name: over_flow(r, PLA, 220.0, (4.0, 9.0, 14.0)) for r in (STOCK, LONG)}
    return outlet_chart(states, wall_c=220.0, softening_c=178.0, width_px=px)


def force(px, rigs=(STOCK, LONG)):
    states = {r.name: over_flow(r, PLA, 220.0, (2.0, 6.0, 10.0, 15.0)) for r in rigs}
    tops = {r.name: predict(r, PLA, 220.0, draws=2).ceiling_mm3_s for r in rigs}
    grips = {r.name: r.extruder.grip_force_n for r in rigs}
    return force_chart(states, tops, grips, temperature_c=220.0, width_px=px)


def length(px, rigs=(STOCK, LONG)):
    lengths = (10.0, 12.5, 20.0, 28.0)
    points = {r.name: over_length(r, PLA, 220.0, lengths, draws=40) for r in rigs}
    own = {r.name: r.hot_end.melt_zone_mm for r in rigs}
    gains = {r.name: next_millimetre(r, PLA, 220.0) for r in rigs}
    return length_chart(points, own, gains, temperature_c=220.0, width_px=px)


def acceleration(px):
    before, after = fit_check(STOCK, STOCK), fit_check(STOCK, LONG)
    return acceleration_chart(before, after, rigs=RIGS, width_px=px)


def heater_log(px):
    return heater_chart(*heater(), width_px=px)


ALL = [ceilings, outlet, force, length, acceleration, heater_log]


@pytest.mark.parametrize("px", [WIDE_PX, NARROW_PX])
@pytest.mark.parametrize("draw", ALL)
def test_it_draws_fits_its_column_and_leaves_colour_to_the_theme(draw, px):
    chart = draw(px)
    root = ElementTree.fromstring(render_svg(chart, title=False))
    assert float(root.attrib["width"]) <= px + 6
    spec = json.dumps(chart.spec)
    assert not [
        word for word in COLOURS_OF_ITS_OWN if word in spec.replace(chart.spec["$schema"], "")
    ]
    assert chart.title
    assert not chart.title.endswith(".")
    assert len(chart.alt) > 40
    assert "nan" not in spec.lower().replace("nanometre", "")


@pytest.mark.parametrize("draw", [ceilings, outlet, force, length])
def test_every_prediction_says_that_it_is_one(draw):
    assert draw(WIDE_PX).caption.startswith(PREDICTED)


def test_bands_and_measured_ceilings_are_the_ones_given():
    chart = ceilings(WIDE_PX)
    bands = [row for row in chart.rows if row["part"] == "band"]
    made = {(p.rig, p.temperature_c): p for p in predictions(STOCK, LONG)}
    assert len(bands) == len(made)
    for row in bands:
        p = made[row["rig"], row["temperature_c"]]
        assert row["flow_mm3_s"] == pytest.approx(p.ceiling_mm3_s, abs=1e-3)
        assert (row["low"], row["high"]) == pytest.approx((p.low, p.high), abs=1e-3)
    marks = [row for row in chart.rows if row["part"] == "measured"]
    assert [(row["rig"], row["flow_mm3_s"]) for row in marks] == [(STOCK.name, 9.4)]
    assert "measured 9.4 mm³/s at 220" in chart.alt
    assert "Wren" not in chart.alt
    assert "more than of Heron, stock" in chart.title


def test_an_outlet_is_drawn_from_wall_to_wall_and_tells_the_stiff_core():
    chart = outlet(WIDE_PX)
    own = [r for r in chart.rows if r["part"] == "profile" and r["rig"] == STOCK.name]
    one = sorted((r for r in own if r["order"] == 1), key=lambda r: r["radius_mm"])
    temperatures = [row["temperature_c"] for row in one]
    assert temperatures == pytest.approx(temperatures[::-1])
    assert min(temperatures) == temperatures[len(temperatures) // 2]
    assert "Heron, long melt zone" in chart.title


def test_the_grip_of_a_weak_drive_is_the_limit_and_said_so():
    chart = force(WIDE_PX, (STOCK, WEAK))
    assert [row["force_n"] for row in chart.rows if row["part"] == "grip"] == [8.0]
    assert "force is the limit" in chart.title
    assert "lower bound" in chart.caption
    longer = length(WIDE_PX, (STOCK, WEAK))
    assert "brings Heron, worn drive nothing" in longer.title
    assert "turns flat" in longer.caption
    by_force = predicted_ceiling_chart(predictions(STOCK, WEAK), rigs=(STOCK.name, WEAK.name))
    assert "hollow square" in by_force.caption


def test_a_grip_nobody_measured_is_said_to_be_unknown():
    loose = LONG.model_copy(
        update={"extruder": STOCK.extruder.model_copy(update={"grip_force_n": None})}
    )
    assert "nobody measured" in force(WIDE_PX, (loose,)).title


def test_the_gain_marked_is_the_difference_of_two_predictions():
    chart = length(WIDE_PX)
    longer = STOCK.model_copy(
        update={"hot_end": STOCK.hot_end.model_copy(update={"melt_zone_mm": 13.5})}
    )
    gain = (predict(longer, PLA, 220.0, draws=2).ceiling_mm3_s
            - predict(STOCK, PLA, 220.0, draws=2).ceiling_mm3_s)  # fmt: skip
    own = next(r for r in chart.rows if r["part"] == "own" and r["rig"] == STOCK.name)
    assert own["melt_zone_mm"] == 12.5
    assert own["text"] == f"+{gain:.2f} mm³/s for the next mm"


def test_safe_acceleration_stands_beside_what_is_set():
    chart = acceleration(WIDE_PX)
    assert {row["axis"] for row in chart.rows} == {"x", "y"}
    limits = {row["axis"]: row["set_mm_s2"] for row in chart.rows if row["part"] == "limit"}
    assert limits == {"x": 3000.0, "y": 2500.0}
    assert acceleration_chart((), (), rigs=RIGS) is None


def test_a_heater_model_lies_on_its_log():
    chart = heater_log(WIDE_PX)
    logged = {r["minutes"]: r["temperature_c"] for r in chart.rows if r["part"] == "logged"}
    model = {r["minutes"]: r["temperature_c"] for r in chart.rows if r["part"] == "model"}
    away = [abs(logged[m] - model[m]) for m in logged]
    assert max(away) < 2.0
    assert "gain" in chart.title


def check(name, verdict):
    return Check(name, 1.0, "mm", 2.0, 1.0, verdict, "", "")


@pytest.mark.parametrize(
    ("checks", "unchanged", "words"),
    [
        ([check("a", "fits")], (), "Wren fits; 1 fit."),
        ([check("a", "fits"), check("b", "does not fit")], (), "Wren does not fit as it is: b"),
        ([check("b", "does not fit")], ("b",), "no new trouble, but one thing was wrong before: b"),
        (
            [check("a", "does not fit"), check("b", "does not fit")], ("b",),
            "does not fit as it is: a (and as before: b)",
        ),
        ([check("a", "measure this")], (), "Nothing found so far stops Wren; 1 wait"),
        ([check("a", "look closer"), check("b", "fits")], (), "1 of 2 checks deserve"),
    ],
)  # fmt: skip
def test_one_sentence_says_what_all_checks_come_to(checks, unchanged, words):
    assert words in fit_sentence(checks, "Wren", unchanged)
