"""Hours, money and break-even: on paper, by linear propagation, and as properties."""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from loops import some
from worth_support import CASE, asked

from beadworth.capacity import Difference
from beadworth.capacity.reading.comparison import Span
from beadworth.core import to_json
from beadworth.worth.buys import what_it_buys
from beadworth.worth.estimate import Estimate
from beadworth.worth.model import WEEKS_PER_YEAR
from beadworth.worth.monte_carlo import Result

NONE = Span(None, None, None)


def exactly(result):
    assert result.low == pytest.approx(result.value)
    assert result.high == pytest.approx(result.value)
    return result.value


def test_everything_exact_is_reckoned_on_paper():
    # 300 prints save 30 min each: 150 h a year, worth 225 EUR; cost 120+4+16+5·20−30 = 210 EUR
    found = what_it_buys(asked())
    assert exactly(found.hours_saved_per_year) == pytest.approx(150.0)
    assert exactly(found.cost) == pytest.approx(210.0)
    assert exactly(found.money_per_year) == pytest.approx(225.0)
    assert exactly(found.net) == pytest.approx(2 * 225.0 - 210.0)
    # simple payback, cost ÷ yearly saving: 0.9333 years, of 400 prints each
    assert exactly(found.break_even.months) == pytest.approx(12 * 210 / 225)
    assert exactly(found.break_even.prints) == pytest.approx(400 * 210 / 225)
    assert exactly(found.hours_a_week) == pytest.approx(700 / WEEKS_PER_YEAR)
    assert exactly(found.hours_a_week_needed) == pytest.approx(700 / WEEKS_PER_YEAR * 210 / 450)
    (per_hour,) = found.costs_per
    assert exactly(per_hour.result) == pytest.approx(210 / 300)
    assert sum(found.cost_parts.values()) == pytest.approx(210.0)
    assert found.verdict == "worth it"
    assert found.sentence.startswith("It saves 150")


def test_printing_the_needed_hours_pays_exactly_in_time():
    # the sentence's N, put back as the printing, makes the net over the months nothing
    first = what_it_buys(asked())
    share = first.hours_a_week_needed.value / first.hours_a_week.value
    less = {"prints": [{**p, "per_year": p["per_year"] * share} for p in CASE["prints"]]}
    assert what_it_buys(asked(less)).net.value == pytest.approx(0.0, abs=1e-9)


def test_energy_filament_and_failed_prints_on_paper():
    run = {
        "energy_kwh": 0.40, "power_w": 100.0, "candidate_power_w": 120.0, "filament_kg": 25.0,
        "failed": 0.10, "candidate_failed": 0.05, "failed_at": 0.5,
    }  # fmt: skip
    found = what_it_buys(asked({"running": run}))
    before, after = 700 * (1 + 0.1 / 0.9 * 0.5), 550 * (1 + 0.05 / 0.95 * 0.5)
    assert found.hours_before_per_year.value == pytest.approx(before)
    assert found.hours_saved_per_year.value == pytest.approx(before - after)
    assert found.energy_per_year.value == pytest.approx((before * 0.1 - after * 0.12) * 0.4)
    grams = 400 * 10.0 * 1.24 * 0.5 * (0.1 / 0.9 - 0.05 / 0.95)
    assert found.filament_per_year.value == pytest.approx(grams * 0.025)
    whole = found.time_per_year.value + found.energy_per_year.value + found.filament_per_year.value
    assert found.money_per_year.value == pytest.approx(whole)


def test_cost_agrees_with_linear_propagation():
    # cost = parts + hours·rate; GUM 5.1.2: u² = u(parts)² + (rate·u(h))² + (h·u(rate))²,
    # small enough for the first order to hold
    cost = {
        "parts": {"value": 120.0, "u": 6.0}, "fitting_hours": {"value": 5.0, "u": 0.3},
        "fitting_hour": {"value": 20.0, "u": 1.0},
    }  # fmt: skip
    u = math.sqrt(6.0**2 + (20 * 0.3) ** 2 + (5 * 1.0) ** 2)
    found = what_it_buys(asked({"cost": cost})).cost
    assert found.value == pytest.approx(220.0, abs=0.03 * u)
    assert (found.high - found.low) / (2 * 1.95996) == pytest.approx(u, rel=0.015)


def test_hours_agree_with_linear_propagation_in_the_ceilings():
    # time goes with 1 ÷ ceiling; the interval is ±1 % at 95 %, on either rig by itself
    found = what_it_buys(asked(relative=0.01)).hours_saved_per_year
    reach = math.hypot(300 * 2.0 * 0.01 + 100 * 0.01, 300 * 1.5 * 0.01 + 100 * 0.01)
    assert found.value == pytest.approx(150.0, abs=0.1)
    assert (found.high - found.low) / 2 == pytest.approx(reach, rel=0.02)


def test_rectangular_limits_give_rectangular_ends():
    # JCGM 101:2008 6.4.2: 95 % of a rectangle from 100 to 200 is 102.5 to 197.5
    found = what_it_buys(asked({"cost": {"parts": {"low": 100.0, "high": 200.0}}})).cost
    assert (found.low, found.high) == pytest.approx((102.5, 197.5), abs=0.4)


# Answers that are no number


def test_without_a_worth_of_an_hour_there_is_no_break_even():
    found = what_it_buys(asked({"time": {}}))
    assert found.verdict == "no rate"
    assert found.break_even.status == "no rate"
    assert found.break_even.prints.value is None
    assert "not for anybody else to say" in found.break_even.words
    # but the hour's worth at which it pays is told: 210 EUR ÷ 300 h
    assert "more than 0.7" in found.sentence
    assert found.path == ()
    assert "net" not in found.tornado


def test_hours_that_may_be_nothing_leave_break_even_open():
    found = what_it_buys(asked(after=(7100.0, 3600.0), relative=0.02))
    assert found.hours_saved_per_year.low < 0 < found.hours_saved_per_year.high
    assert found.break_even.months.high is None
    assert found.break_even.months.low > 0
    assert "holds zero" in found.break_even.words


def test_an_upgrade_that_makes_prints_slower_never_pays():
    found = what_it_buys(asked(after=(9000.0, 3600.0), relative=0.01))
    assert found.break_even.status == "never"
    assert found.break_even.words.startswith("Never")
    assert found.hours_a_week_needed.value is None
    assert found.sentence.startswith("It costs")
    assert found.verdict == "not worth it"


def test_more_hours_than_a_week_has_are_said_to_be_too_many():
    found = what_it_buys(asked({"cost": {"parts": 12000.0}}, relative=0.03))
    assert "however much you print" in found.sentence
    assert "more than the 168 hours a week has" in found.sentence
    assert found.hours_a_week_needed == Result(None, 168.0, None)
    assert found.break_even.words.startswith("Not within 20 years")
    assert found.break_even.months == Result(None, 240.0, None)


def test_no_difference_is_said_to_be_none():
    found = what_it_buys(asked(after=(7200.0, 3600.0)))
    assert found.sentence.startswith("It saves no time on these prints")
    assert found.break_even.status == "never"


def test_what_costs_nothing_pays_at_once():
    found = what_it_buys(asked({"cost": {"parts": 20.0, "resale": 50.0}}))
    assert found.break_even.status == "at once"
    assert exactly(found.break_even.months) == 0.0


def test_a_ceiling_known_from_below_only_widens_the_hours():
    # JCGM 101:2008 6.4.2: all times between the two limits are equally likely
    made = asked(relative=0.0)
    first, second = made.prints
    open_end = replace(first.candidate, bound="at-least", low_s=5400.0, high_s=4500.0)
    changed = replace(made, prints=(replace(first, candidate=open_end), second))
    found = what_it_buys(changed).hours_saved_per_year
    assert found.low == pytest.approx(150 + 75 * 0.025, abs=0.4)
    assert found.high == pytest.approx(225 - 75 * 0.025, abs=0.4)


def test_costs_per_mm3_and_per_gram():
    difference = Difference(220.0, 6.0, 5.8, 6.2, NONE, NONE, 1.0, True, NONE, "")
    unclear = Difference(200.0, 0.1, -0.3, 0.5, NONE, NONE, 0.7, False, NONE, "")
    one_sided = Difference(240.0, None, 4.0, None, NONE, NONE, None, True, NONE, "")
    found = what_it_buys(
        asked(differences=(unclear, difference, one_sided),
              mass_removed_g=Estimate(value=42.0))
    )  # fmt: skip
    per = {item.of: item.result for item in found.costs_per}
    assert per["added mm³/s at 220 °C"].value == pytest.approx(210 / 6.0, rel=1e-3)
    assert per["added mm³/s at 220 °C"].high == pytest.approx(210 / 5.8, rel=2e-3)
    assert per["added mm³/s at 200 °C"].high is None
    assert per["added mm³/s at 240 °C"].value is None
    assert exactly(per["gram taken off"]) == pytest.approx(5.0)


# Properties

MONEY = st.floats(0.0, 1e4).map(lambda v: round(v, 2))
FEW = settings(max_examples=some(5, long=25), deadline=None)


@given(st.floats(0.01, 100.0), MONEY)
@FEW
def test_scaling_prices_scales_costs_and_keeps_break_even(factor, parts):
    def scaled(k):
        case = {
            "cost": {"parts": {"low": parts * k, "high": (parts + 10) * k},
                     "fitting_hours": 4.0, "fitting_hour": 12.0 * k},
            "time": {"printer_hour": {"value": 1.5 * k, "u": 0.1 * k}},
        }  # fmt: skip
        return what_it_buys(asked(case), most_batches=4)

    one, many = scaled(1.0), scaled(factor)
    for side in ("value", "low", "high"):
        assert getattr(many.cost, side) == pytest.approx(factor * getattr(one.cost, side))
        assert getattr(many.net, side) == pytest.approx(factor * getattr(one.net, side), abs=1e-6)
        assert getattr(many.break_even.prints, side) == pytest.approx(
            getattr(one.break_even.prints, side)
        )


@given(st.floats(60.0, 1e5), st.floats(60.0, 1e5), st.floats(0.0, 0.2))
@FEW
def test_swapping_the_rigs_flips_the_sign(before, after, relative):
    first, second = (before, 3600.0), (after, 3600.0)
    there = what_it_buys(asked(before=first, after=second, relative=relative), most_batches=10)
    back = what_it_buys(asked(before=second, after=first, relative=relative), most_batches=10)
    one, other = there.hours_saved_per_year, back.hours_saved_per_year
    scatter = 0.03 * (one.high - one.low) + 1e-9
    assert other.value == pytest.approx(-one.value, abs=scatter)
    assert other.low == pytest.approx(-one.high, abs=scatter)
    assert other.high == pytest.approx(-one.low, abs=scatter)


@given(st.floats(0.1, 10.0))
@FEW
def test_printing_more_saves_more_and_leaves_the_needed_hours(factor):
    more = {"prints": [{**p, "per_year": p["per_year"] * factor} for p in CASE["prints"]]}
    one, many = what_it_buys(asked()), what_it_buys(asked(more))
    assert many.hours_saved_per_year.value == pytest.approx(factor * one.hours_saved_per_year.value)
    assert many.hours_a_week_needed.value == pytest.approx(one.hours_a_week_needed.value)
    assert many.break_even.prints.value == pytest.approx(one.break_even.prints.value)


@given(st.floats(0.0, 500.0), st.floats(0.0, 5.0))
@FEW
def test_a_dearer_upgrade_never_pays_sooner_nor_a_dearer_hour_later(more, worth):
    spread = {"parts": {"low": 100.0, "high": 140.0}}
    one = what_it_buys(asked({"cost": spread}), most_batches=4)
    dear = {"parts": {"low": 100.0 + more, "high": 140.0 + more}}
    dearer = what_it_buys(asked({"cost": dear}), most_batches=4)
    hour = {"cost": spread, "time": {"printer_hour": 1.5 + worth}}
    sooner = what_it_buys(asked(hour), most_batches=4)
    for side in ("value", "low", "high"):
        months = getattr(one.break_even.months, side)
        assert getattr(dearer.break_even.months, side) >= months - 1e-9
        assert getattr(sooner.break_even.months, side) <= months + 1e-9


def test_the_same_seed_gives_the_same_answer_to_the_last_digit():
    def answer(**more):
        case = {"cost": {"parts": {"low": 100.0, "high": 140.0}}, **more}
        return to_json(what_it_buys(asked(case, relative=0.05), most_batches=10))

    first, again, other = answer(), answer(), answer(seed=2)
    assert first == again
    assert other["cost"] != first["cost"]


def test_the_path_starts_at_the_cost_and_ends_at_the_net():
    found = what_it_buys(asked({"cost": {"parts": {"low": 100.0, "high": 140.0}}}, relative=0.05))
    assert found.path[0].net.value == pytest.approx(-found.cost.value, rel=1e-3)
    assert found.path[-1].net.low == pytest.approx(found.net.low, rel=0.01)
    assert found.path[-1].month == 24
    assert np.all(np.diff([p.net.value for p in found.path]) > 0)
