"""The forest of a class: each trial with its weight, the mean, a further trial; no names given."""

import dataclasses

import pytest
from typical_case import OTHERS, drawn_px, made

from beadworth.report.charts.chart import NARROW_PX, WIDE_PX
from beadworth.report.charts.worth.forest import forest_chart


def test_forests_of_several_classes_and_temperatures_have_names_of_their_own():
    assert forest_chart(made(15.2).pools[0]).name == "forest-long-usual-pla-220"


def test_forest_shows_each_trial_its_weight_the_mean_and_a_further_trial():
    (pool,) = made(15.2).pools
    chart = forest_chart(pool)
    assert [row["part"] for row in chart.rows] == ["trial"] * 4 + ["mean", "further"]
    assert sum(row["weight"] for row in chart.rows) == pytest.approx(1)
    assert (
        chart.title
        == f"4 trials of this class give {pool.pooled.flow_mm3_s:.1f} mm³/s at 220\u00a0°C"
    )
    assert "rig a: 14.0 (13.6 to 14.4)" in chart.alt


def test_other_rigs_of_the_user_are_not_named_in_what_is_published():
    own = [dataclasses.replace(c, source="own") for c in OTHERS]
    chart = forest_chart(made(15.2, own).pools[0])
    assert chart.rows[0]["name"] == "another trial here (a)"
    for name in ("rig a", "rig b", "Trial a"):
        assert name not in str(chart.draw()) + chart.alt + chart.caption


def test_rigs_of_one_name_are_told_apart():
    alike = [dataclasses.replace(c, rig="Ruff", trial=f"{n}00d5") for n, c in enumerate(OTHERS)]
    names = [row["name"] for row in forest_chart(made(15.2, alike).pools[0]).rows]
    assert names[0] == "Ruff (000d5)"
    assert len(set(names)) == len(names)


@pytest.mark.parametrize("width", [WIDE_PX, NARROW_PX])
def test_picture_is_as_wide_as_the_page_allows(width):
    assert drawn_px(forest_chart(made(15.2).pools[0]), width) <= width + 8
