"""Options in pictures: the dominated, the unknown, and where the lead changes."""

from __future__ import annotations

from dataclasses import replace

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


def test_a_lead_is_lost_on_the_side_where_it_is_lost():
    table = found().table
    first = table.rows[0].name
    lost = replace(table.rankings[0], weight=0.4, changes=((0.1, "x", first), (0.5, first, "y")))
    title = ranking_chart(replace(table, rankings=(lost,))).title
    assert title.endswith("comes first until the weight of cost goes above 50\u00a0%")
    below = replace(table.rankings[0], weight=0.6, changes=((0.5, "x", first),))
    title = ranking_chart(replace(table, rankings=(below,))).title
    assert title.endswith("comes first until the weight of cost goes below 50\u00a0%")


def test_a_tie_is_titled_a_tie_and_without_scores_there_is_no_picture():
    table = found().table
    rows = (replace(table.rows[0], tied_with=("twin",)), *table.rows[1:])
    title = ranking_chart(replace(table, rows=rows)).title
    assert title.endswith("and twin tie for the first place")
    assert ranking_chart(replace(table, no_score="No score: …")) is None


def test_the_alternative_text_names_every_change_of_the_lead():
    chart = ranking_chart(found().table)
    assert "overtakes" in chart.alt or "leads throughout" in chart.alt
