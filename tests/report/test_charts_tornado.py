"""The tornado: both ends of the widest swings, at any width, and in words."""

from __future__ import annotations

import pytest
from worth_case import asked, check_drawn, found, work_out

from beadworth.report.charts.chart import NARROW_PX, WIDE_PX
from beadworth.report.charts.worth.tornado import tornado_chart

DRAWN = {
    "tornado": lambda: tornado_chart(found().worth),
    "hours": lambda: tornado_chart(found().worth, "hours_saved"),
}


@pytest.mark.parametrize("width_px", [WIDE_PX, NARROW_PX])
@pytest.mark.parametrize("name", DRAWN)
def test_every_picture_draws_without_a_warning(name, width_px, capfd):
    check_drawn(DRAWN[name](), width_px, capfd)


def test_the_tornado_draws_both_ends_of_the_widest_swings():
    chart = tornado_chart(found().worth)
    bars = [row for row in chart.rows if row["part"] == "bar"]
    first = found().worth.tornado["net"].swings[0]
    assert bars[0]["input"] == first.label
    assert bars[0]["outcome"] == pytest.approx(first.at_low, rel=1e-5)
    assert bars[1]["outcome"] == pytest.approx(first.at_high, rel=1e-5)
    assert first.label in chart.title
    assert chart.title.startswith("What matters most to the net over 24 months")


def test_exact_inputs_have_no_tornado():
    assert tornado_chart(work_out(asked()).worth) is None
