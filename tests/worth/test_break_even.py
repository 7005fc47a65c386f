"""Break-even as far as it can be told: no middle without an end, 20 years at most, discount."""

import math

import numpy as np
import pytest
from loops import fewest, some
from scipy import integrate
from worth_support import asked

from beadworth.worth.buys import what_it_buys
from beadworth.worth.describe import MOST_MONTHS, bounded, with_interval
from beadworth.worth.model import worth_years, years_until
from beadworth.worth.monte_carlo import Result, result_of


@pytest.mark.parametrize(
    ("found", "told"),
    [
        (Result(30.0, 20.0, 60.0), Result(30.0, 20.0, 60.0)),
        (Result(30.0, 20.0, None), Result(None, 20.0, None)),
        (Result(None, 20.0, None), Result(None, 20.0, None)),
        (Result(None, None, None), Result(None, None, None)),
        (Result(239.9, 100.0, 240.0), Result(239.9, 100.0, 240.0)),
        (Result(239.9, 100.0, 240.1), Result(239.9, 100.0, None)),
        (Result(240.1, 100.0, 900.0), Result(None, 100.0, None)),
        (Result(900.0, 240.1, 9000.0), Result(None, 240.0, None)),
    ],
)
def test_what_is_told_of_a_ratio_at_each_boundary(found, told):
    assert bounded(found, 240.0) == told


def test_a_saving_that_may_be_none_has_no_middle_anywhere():
    found = what_it_buys(asked(after=(6800.0, 3600.0), relative=0.06), most_batches=10)
    assert found.hours_saved_per_year.low < 0 < found.hours_saved_per_year.high
    assert found.break_even.status == "cannot tell"
    for result in (found.break_even.months, found.break_even.prints, found.hours_a_week_needed,
                   *(item.result for item in found.costs_per)):  # fmt: skip
        assert result.value is None
        assert result.high is None
        assert result.low > 0
    best = with_interval(found.break_even.months, "months")
    assert best.startswith("cannot tell; at best ")
    assert found.break_even.words.startswith(
        "Cannot tell whether the cost is ever back: the interval of the hours saved holds zero; "
        "at best after "
    )
    assert "how much printing it takes is not known; at best" in found.sentence


def test_headline_and_verdict_agree_without_an_hourly_rate():
    none = {"time": {}}
    slower = what_it_buys(asked(none, after=(9000.0, 3600.0)), most_batches=4)
    assert slower.verdict == "not worth it"
    assert slower.sentence.endswith("no amount of printing pays for it.")
    faster = what_it_buys(asked(none), most_batches=4)
    assert faster.verdict == "no rate"
    assert "if an hour of printing is worth more than" in faster.sentence
    unsure = what_it_buys(asked(none, after=(6800.0, 3600.0), relative=0.06), most_batches=4)
    assert unsure.verdict == "no rate"
    assert "what an hour would have to be worth to pay within 24 months is not known; at best" in (
        unsure.sentence
    )


def test_discounted_years_are_the_integral_of_the_flow():
    """(1 − 1.1⁻⁵)/ln 1.1 = 3.9773 by hand; the integral by scipy."""
    delta = math.log(1.1)
    assert worth_years(5.0, delta) == pytest.approx(3.9773, abs=5e-5)
    flow, _ = integrate.quad(lambda t: math.exp(-delta * t), 0.0, 7.5)
    assert worth_years(7.5, delta) == pytest.approx(flow)
    assert worth_years(7.5, 0.0) == 7.5
    back = years_until(np.array([3.9773, 20.0, np.inf, 0.0]), delta)
    assert back[:1] == pytest.approx([5.0], abs=1e-3)
    assert np.isinf(back[1:3]).all()  # 20 simple years are worth more than 1/δ = 10.5
    assert back[3] == 0.0


def test_a_discount_makes_payback_later_and_says_so():
    plain = what_it_buys(asked({"months": 60.0}), most_batches=4)
    later = what_it_buys(asked({"months": 60.0, "discount_percent": 20.0}), most_batches=4)
    assert later.break_even.months.value > plain.break_even.months.value
    assert later.net.value < plain.net.value
    assert later.hours_a_week_needed.value > plain.hours_a_week_needed.value
    assert later.path[-1].net.value == pytest.approx(later.net.value, rel=1e-6)
    assert "Money later counts less by 20 % a year." in later.notes
    assert any("give a discount" in note for note in plain.notes)
    assert not any("give a discount" in note for note in later.notes)


@pytest.mark.parametrize(("months", "noted"), [(36.0, False), (36.1, True)])
def test_beyond_three_years_it_is_called_a_sum(months, noted):
    notes = what_it_buys(asked({"months": months}), most_batches=4).notes
    assert any("a sum, not a forecast" in note for note in notes) is noted


def test_a_cost_that_never_comes_back_is_seldom_given_a_month():
    """True savings from a loss to six uncertainties, costs at random; fresh cases."""
    rng = np.random.default_rng(71)
    told = never = held = cases = 0
    for _ in range(some(1000, long=8000)):
        u = float(np.exp(rng.uniform(0.0, 4.0)))
        true, cost = u * rng.uniform(-1.0, 6.0), rng.uniform(50.0, 600.0)
        saved = rng.normal(rng.normal(true, u), u, 2000)
        raw = result_of(np.where(saved > 0, 12 * cost / np.where(saved > 0, saved, 1.0), np.inf))
        found = bounded(raw, MOST_MONTHS)
        back = 12 * cost / true if true > 0 else np.inf
        cases += 1
        held += (found.low is None or found.low <= min(back, MOST_MONTHS)) and (
            found.high is None or back <= found.high
        )
        if back > MOST_MONTHS:
            never += 1
            told += found.value is not None and found.high is not None
    assert held >= fewest(cases, 0.95)
    assert told <= never - fewest(never, 0.975)
