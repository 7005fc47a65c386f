"""Worth in pictures: what is drawn agrees with the answer, at any width, and in words."""

from __future__ import annotations

import pytest
from worth_case import CASE, asked, check_drawn, found, work_out

from beadworth.report.charts.chart import NARROW_PX, WIDE_PX
from beadworth.report.charts.worth.payback import limits_worth_chart, payback_chart

DRAWN = {
    "payback": lambda: payback_chart(found().worth),
    "limits": lambda: limits_worth_chart(found().worth),
}


@pytest.mark.parametrize("width_px", [WIDE_PX, NARROW_PX])
@pytest.mark.parametrize("name", DRAWN)
def test_every_picture_draws_without_a_warning(name, width_px, capfd):
    check_drawn(DRAWN[name](), width_px, capfd)


def test_hours_without_a_worth_have_no_payback():
    assert payback_chart(work_out(asked({"time": {}})).worth) is None


def test_the_payback_marks_the_break_even_with_its_interval():
    chart = payback_chart(found().worth)
    (back,) = [row for row in chart.rows if row["part"] == "back"]
    (middle,) = [row for row in chart.rows if row["part"] == "middle"]
    months = found().worth.break_even.months
    assert back["from"] == pytest.approx(months.low, abs=0.01)
    assert back["to"] == pytest.approx(min(months.high, 24.0), abs=0.01)
    assert middle["month"] == pytest.approx(months.value, abs=0.01)
    at_zero = [row for row in chart.rows if row["part"] == "path" and row["net"] >= 0]
    assert at_zero[0]["month"] == pytest.approx(months.value, abs=1.1)
    assert found().worth.break_even.words in chart.alt


def test_a_path_that_never_pays_says_so():
    never = work_out(asked({"cost": CASE["cost"]}, after=(9000.0, 3600.0), relative=0.01)).worth
    chart = payback_chart(never)
    assert chart.title == "The cost is never recovered on these prints"
    assert not [row for row in chart.rows if row["part"] in ("back", "middle")]


def test_limits_are_drawn_in_shares_that_add_up():
    rows = limits_worth_chart(found().worth).rows
    for rig in ("A", "B"):
        assert sum(row["share"] for row in rows if row["rig"] == rig) == pytest.approx(1.0)
