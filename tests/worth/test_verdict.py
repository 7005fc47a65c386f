"""The verdict on an upgrade: one answer, at both sides of each boundary, the same in headline."""

from __future__ import annotations

import pytest
from worth_support import asked

from beadworth.text import capital
from beadworth.worth.describe import sentence, verdict_of, verdict_words
from beadworth.worth.monte_carlo import Result
from beadworth.worth.result import verdict_label

OPEN = Result(10.0, -50.0, 80.0)
TINY = 1e-9


@pytest.mark.parametrize(
    ("net", "pays", "verdict"),
    [
        (Result(10.0, TINY, 20.0), 0.98, "worth it"),
        (Result(10.0, 0.0, 20.0), 0.975, "probably worth it"),
        (OPEN, 0.66, "probably worth it"),
        (OPEN, 0.66 - TINY, "cannot tell"),
        (OPEN, 0.34 + 2 * TINY, "cannot tell"),
        (OPEN, 0.34 - TINY, "probably not worth it"),
        (Result(-10.0, -20.0, 0.0), 0.03, "probably not worth it"),
        (Result(-10.0, -20.0, -TINY), 0.02, "not worth it"),
    ],
)
def test_each_boundary_from_both_sides(net, pays, verdict):
    assert verdict_of(net, pays, status="interval") == verdict


def test_without_a_worth_of_an_hour_there_is_no_verdict():
    none = Result(None, None, None)
    assert verdict_of(none, 0.0, status="no rate") == "no rate"


AT = (
    "at the 20.0 hours (18.0 to 22.0) a week you print: it takes more than 10.0 hours (8.0 to "
    "12.0), counted over 24 months."
)
HEADLINES = {
    "worth it": "Worth it if you print more than 10.0 hours (8.0 to 12.0) a week, counted over "
    "24 months; you print 20.0 hours (18.0 to 22.0).",
    "probably worth it": f"Probably worth it (87\u00a0%) {AT}",
    "cannot tell": f"Cannot tell whether it is worth it {AT}",
    "probably not worth it": f"Probably not worth it (87\u00a0%) {AT}",
    "not worth it": f"Not worth it {AT}",
}


def headline(verdict, pays, needed=None):
    return sentence(
        Result(50.0, 40.0, 60.0), Result(100.0, 90.0, 110.0), Result(2.0, 1.0, 3.0),
        Result(20.0, 18.0, 22.0), needed or Result(10.0, 8.0, 12.0),
        months=24.0, currency="EUR", status="interval", verdict=verdict, pays=pays,
    ).replace("\u00a0hours", " hours")  # fmt: skip


@pytest.mark.parametrize("verdict", HEADLINES)
def test_the_headline_says_what_the_table_says(verdict):
    pays = 0.13 if "not worth" in verdict else 0.87
    said = headline(verdict, pays)
    assert said.endswith(HEADLINES[verdict])
    label = verdict_label(verdict, pays)
    assert capital(label) in said
    assert ("87" in label) == verdict.startswith("probably")
    assert "87\u00a0%" in verdict_words(verdict, pays, 24.0)


def test_printing_that_cannot_be_told_leaves_the_verdict_as_it_is():
    said = headline("not worth it", 0.01, Result(None, 40.0, None))
    assert said.endswith(
        "Not worth it; how much printing it takes is not known; at best 40 hours a week."
    )


@pytest.mark.parametrize(("low", "said"), [(167.9, "at the 20"), (168.0, "however much you print")])
def test_a_week_has_only_so_many_hours(low, said):
    assert said in headline("not worth it", 0.01, Result(300.0, low, 400.0))


@pytest.mark.parametrize(
    ("running", "rated"),
    [
        ({}, False),
        ({"filament_kg": 20.0}, False),
        ({"failed": 0.05, "candidate_failed": 0.02}, False),
        ({"filament_kg": 20.0, "failed": 0.05, "candidate_failed": 0.02}, True),
        ({"energy_kwh": 0.3, "power_w": 90.0}, True),
    ],
)
def test_filament_is_worth_money_only_where_prints_fail(running, rated):
    """Faster prints spare no filament; only fewer failed ones do."""
    assert asked({"time": {}, "running": running}).has_rates is rated
