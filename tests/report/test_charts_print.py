"""The charts of a print: what they draw agrees with the replay, at any width, and in words."""

from __future__ import annotations

import math
from functools import cache

import numpy as np
import pytest
from chart_support import check_drawn, contrast

from beadworth import capacity
from beadworth.capacity import ceiling_at
from beadworth.replay import compare, on_rig, replay, summarize_survey
from beadworth.report.charts.chart import NARROW_PX, WIDE_PX, render_svg
from beadworth.report.charts.print.breakdown import flow_time_chart, layer_times_chart
from beadworth.report.charts.print.limits import (
    LIMITS,
    flow_chart,
    limits_chart,
    limits_of,
    what_if_chart,
)
from beadworth.report.charts.print.survey import survey_chart
from beadworth.report.theme import COLOURS
from beadworth.rig import AxisLimits, Motion, Rig
from beadworth.trial import Reading

SECTION_MM2 = math.pi / 4 * 1.75**2
MOTION = Motion(
    max_speed_mm_s=AxisLimits(x=400.0, y=400.0, z=20.0),
    max_acceleration_mm_s2=AxisLimits(x=9000.0, y=9000.0, z=500.0),
    print_acceleration_mm_s2=9000.0,
)
RIG = Rig(name="R", motion=MOTION)
OTHER = Rig(name="R, long zone", motion=MOTION)


@cache
def fit(name, ceiling):
    rng = np.random.default_rng(5)
    return capacity.fit(
        [
            Reading(name, "PLA", 220.0, q, 600.0, 1.79 * min(1.0, ceiling / q)
                    * (1 + 0.002 * rng.normal()))
            for q in np.arange(4.0, 24.0, 1.5)
            for _ in range(3)
        ]
    )  # fmt: skip


@cache
def found():
    """A print with two stretches above the ceiling, replayed."""
    return replay(beads(6, 6, 20, 8, 20), RIG, own_fit())


def own_fit():
    return fit(RIG.name, 12.0)


def other_fit():
    return fit(OTHER.name, 18.0)


def beads(*flows):
    """A line of 100 mm there and back for each flow, with a pause between."""
    lines, x = ["G21", "G90", "M83", "M104 S220", "G0 X20 Y20 Z0.2 F6000"], 20.0
    for flow in flows:
        x = 120.0 if x == 20.0 else 20.0
        lines.append(f"G1 X{x} E{100 * 0.085 / SECTION_MM2:.5f} F{flow / 0.085 * 60:.0f}")
        lines.append("G4 P400")
    return "\n".join(lines).encode() + b"\n"


@pytest.mark.parametrize("width_px", [WIDE_PX, NARROW_PX])
def test_flow_is_drawn_as_replayed(width_px):
    chart = flow_chart(found())
    rows = chart.draw(width_px)["data"]["values"]
    flow = [row for row in rows if row["part"] == "flow"]
    over = [row for row in rows if row["part"] == "over"]
    assert len(flow) <= width_px / 2
    assert max(row["flow_mm3_s"] for row in flow) == pytest.approx(found().flow.max_mm3_s, abs=0.01)
    assert over
    assert all(row["flow_mm3_s"] > row["ceiling_mm3_s"] for row in over)
    assert {row["from"] for row in over} <= {row["from"] for row in flow}
    (ceiling,) = {row["ceiling_mm3_s"] for row in rows if row["part"] == "ceiling"}
    assert ceiling == pytest.approx(ceiling_at(own_fit(), "R", "PLA", 220.0).flow_mm3_s, abs=0.01)
    assert f"at most {found().flow.max_mm3_s:.1f}" in chart.alt
    assert "2 sustained" in chart.alt
    assert "<svg" in render_svg(chart, width_px=width_px)


def test_without_a_capacity_there_is_no_ceiling_to_draw():
    chart = flow_chart(replay(beads(6, 9), RIG))
    assert {row["part"] for row in chart.rows} == {"flow"}
    assert "no ceiling is drawn" in chart.caption
    assert "ceiling" not in chart.alt


def test_an_empty_print_still_draws():
    for draw in (flow_chart, limits_chart):
        assert "<svg" in render_svg(draw(replay(b"; nothing\n", RIG, own_fit())))


@pytest.mark.parametrize("width_px", [WIDE_PX, NARROW_PX])
def test_limits_add_up_to_the_time(width_px):
    assert sum(limits_of(found()).values()) == pytest.approx(found().time_s, rel=1e-6)
    chart = limits_chart(found())
    assert sum(row["share"] for row in chart.rows) == pytest.approx(1.0, abs=0.01)
    assert limits_of(found())["stops"] > 4 * 0.4  # the pauses, and coming to them
    assert "stops and dwells" in chart.alt
    assert "<svg" in render_svg(chart, width_px=width_px)


@pytest.mark.parametrize("width_px", [WIDE_PX, NARROW_PX])
def test_two_rigs_stand_as_bars_of_the_same_limits(width_px):
    text = beads(6, 6, 20, 8, 20)
    found = compare(on_rig(text, RIG, own_fit()), on_rig(text, OTHER, other_fit()))
    chart = what_if_chart(found)
    sums = {(row["rig"], row["way"]): row["time"] for row in chart.rows if row["part"] == "sum"}
    own, fastest = "At the rig's own limits", "Fastest under the ceiling"
    assert sums["R", own] == pytest.approx(sum(found.baseline.share_s.values()), abs=0.01)
    assert sums["R", "As written"] <= sums["R", own]  # whatever the hot end gives
    assert sums[OTHER.name, fastest] < sums["R", fastest]
    assert len({row["limit"] for row in chart.rows if row["part"] == "bar"}) <= len(LIMITS)
    assert "<svg" in render_svg(chart, width_px=width_px)


def test_one_rig_with_two_capacities_is_told_apart():
    text = beads(6, 20)
    found = compare(
        on_rig(text, RIG, own_fit()), on_rig(text, RIG, other_fit(), fit_rig=OTHER.name)
    )
    assert {row["rig"] for row in what_if_chart(found).rows} == {"R (1)", "R (2)"}


@pytest.mark.parametrize("mode", ["light", "dark", "print"])
def test_every_part_of_a_bar_has_an_edge_that_is_seen(mode):
    """The first colour of the scale is next to the paper's; WCAG 2.2, 1.4.11 asks 3 : 1."""
    chart = limits_chart(found())
    svg = render_svg(chart, mode)
    edge, paper = COLOURS[mode]["rule-strong"], COLOURS[mode]["paper"]
    assert contrast(edge, paper) >= 3.0
    parts = [row["limit"] for row in chart.rows]
    assert svg.count(f'stroke="{edge}"') >= 2 * len(parts)  # the bar's parts and the legend's


@pytest.mark.parametrize("px", [WIDE_PX, NARROW_PX])
def test_time_at_each_flow_is_drawn_with_the_ceiling(px):
    chart = flow_time_chart(found())
    check_drawn(chart, px)
    rows = chart.draw(px)["data"]["values"]
    bins = [row for row in rows if row["part"] == "bin"]
    assert sum(row["share"] for row in bins) == pytest.approx(1.0, abs=1e-4)
    (limit,) = [row for row in rows if row["part"] == "ceiling"]
    (band,) = [row for row in rows if row["part"] == "band"]
    true = ceiling_at(own_fit(), "R", "PLA", 220.0)
    assert limit["from"] == pytest.approx(true.flow_mm3_s, rel=1e-5)
    assert (band["from"], band["to"]) == pytest.approx((true.low, true.high), rel=1e-5)
    over = [row for row in bins if row["series"] == "time over the ceiling"]
    assert {row["from"] >= true.flow_mm3_s for row in over} == {True}
    share = found().flow_histogram.share_over(true.flow_mm3_s)
    assert sum(row["share"] for row in over) == pytest.approx(share, abs=1e-4)
    assert "of the time goes to beads over the ceiling" in chart.title
    assert f"Ceiling at 220 °C: {true.flow_mm3_s:.1f} mm³/s" in chart.alt


def test_without_a_capacity_the_title_tells_the_flows():
    chart = flow_time_chart(replay(beads(6, 9), RIG))
    assert {row["part"] for row in chart.rows} == {"bin"}
    assert chart.title.startswith("Half of the time is under ")
    assert "ceiling" not in chart.caption + chart.alt


@pytest.mark.parametrize("px", [WIDE_PX, NARROW_PX])
def test_time_and_fan_of_the_layers_are_drawn(px):
    lines = ["M83", "M104 S220", "G0 X20 Y20 Z0.2 F6000"]
    for layer in range(1, 6):
        lines += [f"M106 S{51 * layer}", f"G1 Z{0.2 * layer:.1f} F600"]
        lines += [f"G1 X{120 if k % 2 == 0 else 20} E4 F6000" for k in range(2 * layer)]
    made = replay("\n".join(lines).encode(), RIG)
    chart = layer_times_chart(made)
    check_drawn(chart, px)
    rows = chart.rows
    assert [row["layer"] for row in rows] == [1, 2, 3, 4, 5]
    assert [row["time_s"] for row in rows] == pytest.approx(
        [layer.time_s for layer in made.layers if layer.layer], rel=1e-5
    )
    assert [row["fan"] for row in rows][1:] == pytest.approx([0.4, 0.6, 0.8, 1.0], abs=0.05)
    assert chart.title == made.shortest_layer_sentence
    assert chart.title.startswith("The shortest layer is 1, at z 0.2 mm: ")


def test_a_print_without_a_fan_has_no_panel_for_it_and_an_empty_one_still_draws():
    chart = layer_times_chart(replay(beads(6, 9), RIG))
    assert len(chart.draw(WIDE_PX)["vconcat"]) == 1
    for draw in (flow_time_chart, layer_times_chart):
        assert "<svg" in render_svg(draw(replay(b"; nothing\n", RIG, own_fit())))


@pytest.mark.parametrize("px", [WIDE_PX, NARROW_PX])
def test_the_worst_prints_of_a_survey_are_drawn(px):
    rows = [
        {"file": f"/a/{name}.gcode", "problem": None, "time_s": 900.0, "max_mm3_s": 9.0,
         "over_ceiling_s": over, "sustained": 1, "bursts": 0, "missing_mm3": over, "shows": shows}
        for name, over, shows in (("one", 12.0, "may"), ("two", 200.0, "will"),
                                  ("three", 5.0, None), ("one", 4.0, "cannot"))
    ]  # fmt: skip
    chart = survey_chart(summarize_survey(rows, known=True))
    check_drawn(chart, px)
    assert [(row["print"], row["shows"]) for row in chart.rows] == [
        ("two.gcode", "will show"), ("one.gcode", "may show"), ("three.gcode", "not known"),
        ("one.gcode (4)", "cannot show"),
    ]  # fmt: skip
    assert [row["over"] * 60 for row in chart.rows] == pytest.approx([200, 12, 5, 4], rel=1e-4)
    assert chart.title == "4 of 4 prints (100 %) are over the ceiling"
    assert "two.gcode: 3 min of 15 min, will show" in chart.alt
    none = survey_chart(summarize_survey([], known=True))
    assert none.title == "No print is over the ceiling"
    assert "<svg" in render_svg(none)
