"""Witness prints in a dossier, and the chart of their thresholds."""

import json
import re

import pytest
from chart_support import check_drawn

from beadworth.report.charts.chart import NARROW_PX, WIDE_PX, render_svg
from beadworth.report.charts.witness.threshold import threshold_charts
from beadworth.report.data import ReportData
from beadworth.report.sections.witness import SECTION, PublishedWitness
from beadworth.witness import Band, LookSheet, read_sheets

CODES = "ACDEFHJK"


def answer(bad_from=4):
    """A ladder of layer times, the shortest ones bad, by two graders."""
    bands = [
        Band(n, code, None, "layer time", {"layer_time_s": 16.0 - 1.8 * n}, ("first",))
        for n, code in enumerate(CODES, start=1)
    ]
    sheets = [
        LookSheet(grader=grader, look=look, grades={
            f"{code} first": min(4, max(0, 2 + n - bad_from - shift))
            for n, code in enumerate(CODES)
        })
        for grader, shift in (("AB", 0), ("CD", 1))
        for look in (1, 2)
    ]  # fmt: skip
    return read_sheets("layer time", bands, {}, sheets)


@pytest.mark.parametrize("px", [WIDE_PX, NARROW_PX])
@pytest.mark.parametrize("bad_from", [4, 99, -99])
def test_thresholds_are_drawn_with_what_was_graded(px, bad_from):
    (chart,) = threshold_charts(answer(bad_from).ladders, "12")
    check_drawn(chart, px)
    assert chart.name == "thresholds-layer-time-12"
    parts = [row["part"] for row in chart.rows]
    assert sum(part in ("good", "bad", "mixed") for part in parts) == len(CODES)
    expected = {4: {"interval", "middle"}, 99: {"at-most"}, -99: {"at-least"}}[bad_from]
    assert expected <= set(parts)
    assert ">first teeth</text>" in render_svg(chart, width_px=px), "named on a phone too"


def test_a_dossier_says_what_the_grades_say_and_how_they_were_got():
    one = PublishedWitness(12, "Stilt", "layer time", "2026-03-01", 2, 4, answer(), True)
    blocks = SECTION.blocks(_data((one,)))
    text = json.dumps([getattr(block, "text", "") for block in blocks])
    assert re.search(r"First teeth: acceptable down to \d+\.\d s \(", text)
    assert "Graded blind: 2 graders, 4 looks; codes opened 2026-03-01 when all were in." in text
    assert "invented, for a demonstration" in text
    assert SECTION.blocks(_data(())) is None


def _data(found):
    data = object.__new__(ReportData)
    object.__setattr__(data, "section_data", {"witness": found})
    return data
