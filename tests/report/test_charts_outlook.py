"""The chart of width against hours: every step drawn, the planned one told apart."""

import pytest
from chart_support import check_drawn

from beadworth.report import NARROW_PX, WIDE_PX
from beadworth.report.charts.trial.outlook import outlook_chart
from beadworth.trial import Outlook

STEPS = (
    Outlook(27, 1.7, 1.31, planned=True),
    Outlook(39, 2.5, 0.76, planned=False),
    Outlook(51, 3.3, 0.6, planned=False),
)


@pytest.mark.parametrize("px", [WIDE_PX, NARROW_PX])
@pytest.mark.parametrize("asked", [None, 0.7])
def test_every_step_is_drawn(px, asked):
    chart = outlook_chart(STEPS, asked)
    check_drawn(chart, px)
    steps = [row for row in chart.rows if row["part"] != "asked"]
    assert [row["coupons"] for row in steps] == [27, 39, 51]
    assert [row["part"] for row in steps] == ["planned", "next", "next"]


def test_the_title_says_when_the_question_is_answered():
    assert outlook_chart(STEPS, 0.7).title == "About 51 coupons answer the question"
    assert outlook_chart(STEPS, 0.76).title == "About 39 coupons answer the question"
    assert outlook_chart(STEPS, 0.5).title == "27 coupons give each ceiling to about 1.3 mm³/s"
    assert "Asked for: 0.7 mm³/s" in outlook_chart(STEPS, 0.7).alt
