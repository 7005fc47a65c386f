"""Worth in pictures: what is drawn agrees with the answer, at any width, and in words."""

from __future__ import annotations

import json
import re
import sys
from pathlib import Path

import pytest
import vl_convert

from beadworth.dossier.blocks import Figure, Table
from beadworth.dossier.charts import NARROW_PX, WIDE_PX, with_theme
from beadworth.dossier.charts_options import PLACES, options_chart, ranking_chart
from beadworth.dossier.charts_worth import limits_worth_chart, payback_chart, tornado_chart
from beadworth.dossier.section_worth import SECTION
from beadworth.worth.answer import work_out

sys.path.insert(0, str(Path(__file__).parents[1] / "worth"))
from worth_support import asked

CASE = {
    "cost": {"parts": {"low": 100.0, "high": 140.0}, "fitting_hours": {"value": 5.0, "u": 1.0},
             "fitting_hour": 20.0},
    "time": {"printer_hour": {"value": 1.5, "u": 0.2}},
    "options": [
        {"name": "wider nozzle", "cost": 10.0,
         "effects": {"hours saved": {"low": 0.0, "high": 8.0, "evidence": "predicted"}}},
        {"name": "dear and idle", "cost": 900.0,
         "effects": {"hours saved": {"value": 1.0, "evidence": "claimed"}}},
        {"name": "hearsay", "cost": 50.0},
    ],
}  # fmt: skip
FOUND = work_out(asked(CASE, relative=0.05))
WORTH, TABLE = FOUND.worth, FOUND.table
DRAWN = {
    "tornado": lambda px: tornado_chart(WORTH, width_px=px),
    "hours": lambda px: tornado_chart(WORTH, "hours_saved", width_px=px),
    "payback": lambda px: payback_chart(WORTH, width_px=px),
    "limits": lambda px: limits_worth_chart(WORTH, width_px=px),
    "options": lambda px: options_chart(TABLE, "EUR", width_px=px),
    "ranking": lambda px: ranking_chart(TABLE, width_px=px),
}


@pytest.mark.parametrize("width_px", [WIDE_PX, NARROW_PX])
@pytest.mark.parametrize("name", DRAWN)
def test_every_picture_draws_without_a_warning(name, width_px, capfd):
    chart = DRAWN[name](width_px)
    svg = vl_convert.vegalite_to_svg(with_theme(chart), vl_version="6.4", show_warnings=True)
    out, err = capfd.readouterr()
    assert (out + err).strip() == ""
    drawn = float(re.search(r'width="([\d.]+)"', svg)[1])
    assert 0.75 * width_px < drawn < 1.06 * width_px
    assert chart.title
    assert chart.alt
    assert not re.search(r"#[0-9a-f]{6}", json.dumps(chart.spec))
    assert json.loads(json.dumps(chart.rows, allow_nan=False)) == chart.rows


def test_the_tornado_draws_both_ends_of_the_widest_swings():
    chart = tornado_chart(WORTH)
    bars = [row for row in chart.rows if row["part"] == "bar"]
    first = WORTH.tornado["net"].swings[0]
    assert bars[0]["input"] == first.label
    assert bars[0]["outcome"] == pytest.approx(first.at_low, rel=1e-5)
    assert bars[1]["outcome"] == pytest.approx(first.at_high, rel=1e-5)
    assert first.label in chart.title
    assert chart.title.startswith("What matters most to the net over 24 months")


def test_exact_inputs_have_no_tornado():
    exact = work_out(asked()).worth
    assert tornado_chart(exact) is None
    assert payback_chart(work_out(asked({"time": {}})).worth) is None


def test_the_payback_marks_the_break_even_with_its_interval():
    chart = payback_chart(WORTH)
    (back,) = [row for row in chart.rows if row["part"] == "back"]
    (middle,) = [row for row in chart.rows if row["part"] == "middle"]
    months = WORTH.break_even.months
    assert back["from"] == pytest.approx(months.low, abs=0.01)
    assert back["to"] == pytest.approx(min(months.high, 24.0), abs=0.01)
    assert middle["month"] == pytest.approx(months.value, abs=0.01)
    at_zero = [row for row in chart.rows if row["part"] == "path" and row["net"] >= 0]
    assert at_zero[0]["month"] == pytest.approx(months.value, abs=1.1)
    assert WORTH.break_even.words in chart.alt


def test_a_path_that_never_pays_says_so():
    never = work_out(asked({"cost": CASE["cost"]}, after=(9000.0, 3600.0), relative=0.01)).worth
    chart = payback_chart(never)
    assert chart.title == "The cost never comes back on these prints"
    assert not [row for row in chart.rows if row["part"] in ("back", "middle")]


def test_limits_are_drawn_in_shares_that_add_up():
    rows = limits_worth_chart(WORTH).rows
    for rig in ("A", "B"):
        assert sum(row["share"] for row in rows if row["rig"] == rig) == pytest.approx(1.0)


def test_dominated_options_are_marked_and_unknown_ones_are_named():
    chart = options_chart(TABLE, "EUR")
    states = {row["option"]: row["state"] for row in chart.rows}
    assert states["dear and idle"] == "dominated by another"
    assert states["do nothing"] == "stands"
    assert "hearsay" not in states
    assert "hearsay" in chart.caption
    assert chart.title.startswith("Dear and idle is beaten")
    assert all(0 <= row["label"] < len(PLACES) for row in chart.rows)


def test_the_ranking_draws_the_scores_and_says_where_the_lead_changes():
    chart = ranking_chart(TABLE)
    lines = [row for row in chart.rows if row["part"] == "line"]
    first = TABLE.rows[0]
    share = TABLE.shares["cost"]
    near = min(
        (row for row in lines
         if row["option"] == first.name and row["criterion"] == "weight of cost"),
        key=lambda row: abs(row["weight"] - share),
    )  # fmt: skip
    assert near["score"] == pytest.approx(first.score, abs=0.05)
    assert "comes first" in chart.title
    assert "overtakes" in chart.alt or "leads throughout" in chart.alt


# The section


class Data:
    def __init__(self, found):
        self.extras = {} if found is None else {"worth": found}


def test_the_section_says_hours_first_and_leaves_nothing_out():
    blocks = SECTION.blocks(Data(FOUND))
    assert blocks[0].text.startswith("It saves")
    tables = [block for block in blocks if isinstance(block, Table)]
    assert len(tables) == 4
    assert sum(isinstance(block, Figure) for block in blocks) == 5
    options = tables[-1]
    assert "cost 50" in options.caption
    names = [row.head for _, rows in options.groups for row in rows]
    assert set(names) == {"B", "do nothing", "wider nozzle", "dear and idle", "hearsay"}


def test_the_dossier_opens_with_for_whom_it_pays():
    from beadworth.dossier.summary import who_for

    said = who_for(Data(FOUND))
    assert said[0] == WORTH.sentence
    assert said[1].startswith("Worth it for")


def test_without_a_case_there_is_no_section():
    assert not SECTION.blocks(Data(None))


def test_figures_that_cannot_be_drawn_are_left_out():
    bare = work_out(asked({"time": {}, "cost": {"parts": 100.0}}))
    blocks = SECTION.blocks(Data(bare))
    assert sum(isinstance(block, Figure) for block in blocks) == 3
