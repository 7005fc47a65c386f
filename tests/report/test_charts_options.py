"""Options in pictures: the dominated, the unknown, and where the lead changes."""

from __future__ import annotations

import pytest
from worth_case import check_drawn, found

from beadworth.report.charts.chart import NARROW_PX, WIDE_PX
from beadworth.report.charts.worth.options import PLACES, options_chart, ranking_chart

DRAWN = {
    "options": lambda: options_chart(found().table, "EUR"),
    "ranking": lambda: ranking_chart(found().table),
}


@pytest.mark.parametrize("width_px", [WIDE_PX, NARROW_PX])
@pytest.mark.parametrize("name", DRAWN)
def test_every_picture_draws_without_a_warning(name, width_px, capfd):
    check_drawn(DRAWN[name](), width_px, capfd)


def test_dominated_options_are_marked_and_unknown_ones_are_named():
    chart = options_chart(found().table, "EUR")
    states = {row["option"]: row["state"] for row in chart.rows}
    assert states["dear and idle"] == "dominated by another"
    assert states["do nothing"] == "stands"
    assert "hearsay" not in states
    assert "hearsay" in chart.caption
    assert chart.title.startswith("Dear and idle is beaten")
    assert all(0 <= row["label"] < len(PLACES) for row in chart.rows)


def test_the_ranking_draws_the_scores_and_says_where_the_lead_changes():
    chart = ranking_chart(found().table)
    lines = [row for row in chart.rows if row["part"] == "line"]
    first = found().table.rows[0]
    share = found().table.shares["cost"]
    near = min(
        (row for row in lines
         if row["option"] == first.name and row["criterion"] == "weight of cost"),
        key=lambda row: abs(row["weight"] - share),
    )  # fmt: skip
    assert near["score"] == pytest.approx(first.score, abs=0.05)
    assert "comes first" in chart.title
    assert "overtakes" in chart.alt or "leads throughout" in chart.alt
