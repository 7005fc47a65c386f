"""The one number to share: value, unit and interval as the answer has them, at both widths."""

import dataclasses

import pytest
from chart_support import check_drawn

from beadworth.report.charts.chart import NARROW_PX, WIDE_PX
from beadworth.report.charts.trial.number import number_chart
from beadworth.report.render.figures import figure, pictures
from beadworth.report.summary import headlines, quoted


@pytest.mark.parametrize("px", [WIDE_PX, NARROW_PX])
def test_it_is_the_number_of_the_answer(px, report_data):
    chart = figure(report_data, "number")
    check_drawn(chart, px)
    first = headlines(report_data)[0]
    texts = {row["part"]: row["text"] for row in chart.rows if "text" in row}
    assert texts["value"] == first.value
    assert first.label.removeprefix("ceiling ") in texts["unit"]
    ceiling = quoted(report_data)
    (interval,) = (row for row in chart.rows if row["part"] == "interval")
    assert (interval["low_mm3_s"], interval["high_mm3_s"]) == (ceiling.low, ceiling.high)


@pytest.mark.parametrize("px", [WIDE_PX, NARROW_PX])
def test_a_one_sided_answer_claims_no_middle_and_no_end(px, report_data):
    ceiling = dataclasses.replace(
        quoted(report_data), flow_mm3_s=None, low=21.0, high=None, bound="at-least"
    )
    chart = number_chart(ceiling)
    check_drawn(chart, px)
    assert chart.title.startswith(f"{ceiling.rig} delivers at least 21.0 mm³/s")
    assert {row["part"] for row in chart.rows} == {"value", "unit", "end"}


def test_it_is_the_first_picture_and_in_no_section(report_data):
    names = [picture.name for picture in pictures(report_data)]
    assert names[0] == "number"
    assert names.count("number") == 1


def test_where_nothing_is_known_from_below_there_is_no_number(report_data):
    at_most = [
        dataclasses.replace(c, flow_mm3_s=None, low=None, bound="at-most")
        for c in report_data.ceilings
    ]
    data = dataclasses.replace(report_data, ceilings=tuple(at_most), differences=())
    assert "number" not in {picture.name for picture in pictures(data)}
