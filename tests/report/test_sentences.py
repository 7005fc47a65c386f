"""Findings in words: exact where a reader will quote them."""

from __future__ import annotations

import dataclasses

import pytest
from hypothesis import given
from hypothesis import strategies as st

from beadworth.capacity import Ceiling, Difference, Span
from beadworth.report.sentences import (
    answer_sentence,
    ceiling_words,
    difference_words,
    percent,
)
from beadworth.text import fixed

NB = "\u00a0"


def ceiling(rig="new", t=220.0, flow=18.42, low=17.9, high=19.0, bound="interval"):
    return Ceiling(rig, "PLA", t, 0.02, flow, low, high, bound)


def row(middle, low, high, t=220.0):
    none = Span(None, None, None)
    done = (low is not None and low > 0) or (high is not None and high < 0)
    return Difference(t, middle, low, high, none, none, None, done, none, "")


def test_interval_answer_against_a_baseline():
    said = answer_sentence([ceiling()], [row(3.6, 2.9, 4.3)], baseline="old", candidate="new")
    assert said.replace(NB, " ") == (
        "At 220 °C the candidate's ceiling is 18.4 mm³/s (17.9 to 19.0, 95 %), "
        "3.6 mm³/s more than the baseline (2.9 to 4.3)."
    )


def test_one_sided_and_unknown_answers():
    least = ceiling(flow=None, low=21.0, high=None, bound="at-least")
    said = answer_sentence([least], baseline="new").replace(NB, " ")
    assert said == "At 220 °C the ceiling is at least 21.0 mm³/s."
    most = ceiling(flow=None, low=None, high=9.0, bound="at-most")
    said = answer_sentence([most], baseline="new").replace(NB, " ")
    assert said == "At 220 °C the ceiling is at most 9.0 mm³/s."
    none = dataclasses.replace(ceiling(), flow_mm3_s=None, low=None, high=None)
    assert "cannot tell" in answer_sentence([none], baseline="new")
    assert answer_sentence([], baseline="new") == (
        "No ceiling can be read from these readings yet."
    )


@pytest.mark.parametrize(
    ("found", "words"),
    [
        (row(0.1, -0.4, 0.6), "not resolved (−0.4 to 0.6 mm³/s)"),
        (row(-2.0, -2.6, -1.4), "2.0 mm³/s less (1.4 to 2.6)"),
        (row(None, 2.0, None), "at least 2.0 mm³/s more"),
        (row(None, None, -2.0), "at least 2.0 mm³/s less"),
        (row(None, -1.0, None), "cannot tell"),
        (row(None, None, None), "cannot tell"),
        (row(0.05, 0.01, 0.09), "0.05 mm³/s more (0.01 to 0.09)"),
    ],
)
def test_differences_in_words(found, words):
    assert difference_words(found).replace(NB, " ") == words


def test_an_interval_that_leaves_zero_out_alone_is_not_called():
    found = dataclasses.replace(
        row(0.6, 0.1, 1.1), resolved=False, low_together=-0.2, high_together=1.4
    )
    assert difference_words(found).replace(NB, " ") == "not resolved (−0.2 to 1.4 mm³/s)"
    said = answer_sentence([ceiling()], [found], baseline="old", candidate="new")
    assert "not resolved (−0.2 to 1.4" in said


def test_a_curve_that_does_not_fit_calls_nothing():
    found = dataclasses.replace(
        row(3.6, 2.9, 4.3), resolved=False, doubt="the curve of new misses its coupons"
    )
    assert difference_words(found) == "not called: a curve does not fit"
    said = answer_sentence([ceiling()], [found], baseline="old", candidate="new").replace(NB, " ")
    assert said == (
        "At 220 °C the candidate's ceiling is 18.4 mm³/s (17.9 to 19.0, 95 %); a difference from "
        "the baseline is not called: the curve of new misses its coupons."
    )


def test_the_temperature_quoted_is_fixed_by_the_plan_not_by_the_result():
    ladder = [ceiling(t=t, flow=f, low=f - 0.5, high=f + 0.5)
              for t, f in ((210.0, 16.0), (220.0, 30.0), (230.0, 19.0))]  # fmt: skip
    rows = [row(1.0, 0.5, 1.5, t) for t in (210.0, 220.0, 230.0)]
    for order in (ladder, ladder[::-1]):
        said = answer_sentence(order, rows, baseline="old", candidate="new")
        assert said.startswith(f"At 220{NB}°C")
    assert said.endswith("It delivers more at all 3 temperatures tested.")
    said = answer_sentence(ladder[:2], rows[:2], baseline="old", candidate="new")
    assert said.endswith("It delivers more at both temperatures tested.")


def test_mixed_findings_are_not_sold_as_one():
    ladder = [ceiling(t=t) for t in (210.0, 220.0)]
    rows = [row(1.0, 0.5, 1.5, 210.0), row(-1.0, -1.5, -0.5, 220.0)]
    said = answer_sentence(ladder, rows, baseline="old", candidate="new")
    assert said.endswith("Both temperatures resolve a difference, but not of one sign.")


def test_numbers():
    assert fixed(-0.04) == "0.0"
    assert fixed(-1.25, 1) == "−1.2"
    assert percent(0.0159, 2) == f"1.59{NB}%"
    assert ceiling_words(ceiling(low=18.35, high=18.5)) == f"18.42{NB}mm³/s (18.35 to 18.50)"


@given(st.floats(-50, 50), st.floats(0, 20), st.floats(0, 20))
def test_a_difference_is_claimed_only_when_its_interval_leaves_zero_out(middle, down, up):
    found = row(middle, middle - down, middle + up)
    words = difference_words(found)
    assert found.resolved == (" more" in words or " less" in words)
    if not found.resolved:
        assert words.startswith("not resolved")
