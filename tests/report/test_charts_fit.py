"""Charts and words of a fit check: drawable, true, said in a sentence."""

from __future__ import annotations

import pytest
from chart_support import LONG, RIGS, STOCK, check_drawn

from beadworth.fit import Check, fit_check
from beadworth.report.charts.chart import NARROW_PX, WIDE_PX
from beadworth.report.charts.rig.fit import acceleration_chart, fit_sentence


def acceleration():
    before, after = fit_check(STOCK, STOCK), fit_check(STOCK, LONG)
    return acceleration_chart(before, after, rigs=RIGS)


@pytest.mark.parametrize("px", [WIDE_PX, NARROW_PX])
def test_it_draws_fits_its_column_and_leaves_colour_to_the_theme(px):
    check_drawn(acceleration(), px)


def test_safe_acceleration_stands_beside_what_is_set():
    chart = acceleration()
    assert {row["axis"] for row in chart.rows} == {"x", "y"}
    limits = {row["axis"]: row["set_mm_s2"] for row in chart.rows if row["part"] == "limit"}
    assert limits == {"x": 3000.0, "y": 2500.0}
    assert acceleration_chart((), (), rigs=RIGS) is None


def check(name, verdict):
    return Check(name, 1.0, "mm", 2.0, 1.0, verdict, "", "")


@pytest.mark.parametrize(
    ("checks", "unchanged", "words"),
    [
        ([check("a", "fits")], (), "Wren fits; 1 fit."),
        ([check("a", "fits"), check("b", "does not fit")], (), "Wren does not fit as it is: b"),
        ([check("b", "does not fit")], ("b",), "no new trouble, but one thing was wrong before: b"),
        (
            [check("a", "does not fit"), check("b", "does not fit")], ("b",),
            "does not fit as it is: a (and as before: b)",
        ),
        ([check("a", "measure this")], (), "Nothing found so far stops Wren; 1 wait"),
        ([check("a", "look closer"), check("b", "fits")], (), "1 of 2 checks deserve"),
    ],
)  # fmt: skip
def test_one_sentence_says_what_all_checks_come_to(checks, unchanged, words):
    assert words in fit_sentence(checks, "Wren", unchanged)
