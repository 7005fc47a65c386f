"""The chart of what is typical: finding in the title, every mark in words, nothing clipped."""

import pytest
from typical_case import LONG, OTHERS, ceiling, drawn_px, made

from beadworth.report.charts.chart import NARROW_PX, WIDE_PX
from beadworth.report.charts.worth.typical import classes_of, typical_chart
from beadworth.typical.classes import typical


@pytest.mark.parametrize(
    ("flow", "said"),
    [
        (15.2, "at 220\u00a0°C the ceiling lies where a further trial of its class is expected"),
        (40.0, "at 220\u00a0°C the ceiling lies above what is expected of its class"),
        (3.0, "at 220\u00a0°C the ceiling lies below what is expected of its class"),
    ],
)
def test_title_is_the_finding(flow, said):
    chart = typical_chart(made(flow), LONG, "PLA")
    assert chart.title == f"Long melt zone, usual bore, PLA: {said}"


@pytest.mark.parametrize(
    ("count", "said"), [(0, "no other trial of"), (1, "only 1 other trial"), (2, "only 2 other")]
)
def test_title_says_when_it_cannot_be_told(count, said):
    chart = typical_chart(made(15.0, OTHERS[:count]), LONG, "PLA")
    assert chart.title.startswith(f"Long melt zone, usual bore, PLA: {said}")
    assert chart.title.endswith("so what is typical is not known")


def test_every_mark_is_drawn_and_common_practice_is_named_as_such():
    chart = typical_chart(made(15.2), LONG, "PLA")
    kinds = [row["kind"] for row in chart.rows]
    assert kinds.count("this trial") == 1
    assert kinds.count("other trials of the class") == 4
    assert kinds.count("expected of a further trial") == 1
    assert kinds.count("common practice, no source") == 3
    assert "Common practice is what people say, not a measurement." in chart.caption
    assert "15.2 (14.8 to 15.6) mm³/s" in chart.alt


def test_the_chart_is_named_after_its_class():
    assert typical_chart(made(15.2), LONG, "PLA").name == "typical-long-usual-pla"


def test_a_trial_without_a_class_has_no_chart():
    assert classes_of(typical([ceiling("me", 15.0, hot_end=None)], [])) == []


@pytest.mark.parametrize("width", [WIDE_PX, NARROW_PX])
def test_picture_is_as_wide_as_the_page_allows(width):
    assert drawn_px(typical_chart(made(15.2), LONG, "PLA"), width) <= width + 8


def test_of_bounds_from_one_side_and_a_polymer_nobody_speaks_of_nothing_is_drawn():
    bound = {"low": 12.0, "high": None, "flow_mm3_s": None}
    assert classes_of(typical([ceiling("me", 15.0, material="of my own", **bound)], [])) == []
    # common practice of the class is worth a chart
    assert classes_of(typical([ceiling("me", 15.0, **bound)], [])) == [(LONG, "PLA")]
