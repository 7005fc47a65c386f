"""The answer at the balance: loss, where it sits, and 'again' by a stated test."""

import dataclasses

import numpy as np
import pytest

from beadworth import capacity
from beadworth.capacity.reading.coupon_check import LEVEL, WIDEST
from beadworth.material import Material
from beadworth.rig import Rig

CEILINGS = {205.0: 12.0, 215.0: 13.5}
FLOWS = np.linspace(7.0, 19.0, 8)


@pytest.fixture(scope="module")
def weighed(truths):
    rng = np.random.default_rng(8)
    return truths.trial(truths.soft_knee(12.0), CEILINGS, FLOWS, 2, rng)


def near(readings, flow):
    return next(i for i, r in enumerate(readings) if r.flow_mm3_s >= flow)


@pytest.mark.parametrize("flow", [7.0, 12.0, 18.0])
@pytest.mark.parametrize("factor", [0.94, 1.06])
def test_a_coupon_out_of_line_is_asked_for_again(weighed, flow, factor):
    i = near(weighed, flow)
    new = dataclasses.replace(weighed[i], mass_g=weighed[i].mass_g * factor)
    answer = capacity.weigh_in(weighed[:i] + weighed[i + 1 :], new)
    assert answer.verdict == "again"
    assert answer.p_value < LEVEL / 72
    assert ("lighter" if factor < 1 else "heavier") in answer.reason
    assert "weigh it again" in answer.reason


def test_a_good_coupon_is_placed_on_the_curve(weighed):
    i = near(weighed, 15.0)
    answer = capacity.weigh_in(weighed[:i] + weighed[i + 1 :], weighed[i])
    assert answer.verdict == "ok"
    assert answer.reason == ""
    assert answer.low < answer.fitted_loss < answer.high
    assert answer.low < answer.loss < answer.high
    assert 0.003 < answer.u_loss < 0.009  # 0.6 % scatter of a coupon, delivery well known
    assert "the curve so far" in answer.sentence


def test_good_trials_are_seldom_troubled(truths):
    """6 trials of 40 good coupons at 5 % per trial: three 'again' are under 1 in 300."""
    again = 0
    for seed in range(6):
        rng = np.random.default_rng([9, seed])
        rows = truths.trial(truths.hard_limit, {210.0: 13.0}, FLOWS, 5, rng)
        rows = [rows[i] for i in rng.permutation(len(rows))]
        for i, new in enumerate(rows):
            again += capacity.weigh_in(rows[:i], new, coupons=len(rows)).verdict == "again"
    assert again <= 2


def shuffled(truths, seed):
    rng = np.random.default_rng([19, seed])
    rows = truths.trial(truths.soft_knee(12.0), CEILINGS, FLOWS, 2, rng)
    rows = [rows[i] for i in rng.permutation(len(rows))]
    return [dataclasses.replace(r, coupon=f"A{i:02d}") for i, r in enumerate(rows)]


def named_earlier(rows):
    """Coupon of the run sheet by the coupon at whose weighing it was first asked for again."""
    named = {}
    for i, new in enumerate(rows):
        answer = capacity.weigh_in(rows[:i], new, coupons=len(rows))
        if answer.earlier:
            named.setdefault(answer.earlier.coupon, answer)
    return named


@pytest.mark.parametrize("seed", [1, 5])
def test_a_coupon_far_off_before_there_was_a_curve_is_asked_for_later(truths, seed):
    rows = shuffled(truths, seed)
    assert named_earlier(rows) == {}
    rows[2] = dataclasses.replace(rows[2], mass_g=rows[2].mass_g * 0.6)
    typed = capacity.weigh_in(rows[:2], rows[2])
    assert typed.verdict == "ok"  # nothing to judge it by yet
    named = named_earlier(rows)
    assert list(named) == ["A02"]
    assert "lighter than the other coupons" in named["A02"].earlier.reason
    assert "Earlier, A02: " in named["A02"].sentence


def test_first_coupons_get_an_answer_without_a_curve(weighed):
    first = capacity.weigh_in([], weighed[0])
    assert (first.loss, first.verdict) == (None, "ok")
    assert "No delivery" in first.sentence
    second = capacity.weigh_in(weighed[:1], weighed[1])
    assert second.loss == pytest.approx(1 - weighed[1].net_g / weighed[0].net_g)
    assert (second.u_loss, second.low, second.high, second.p_value) == (None,) * 4
    assert "±" not in second.sentence


def test_while_the_curve_is_open_no_range_is_claimed(weighed):
    """Slow coupons alone leave it open how far a fast one may fall; a closed curve does not."""
    slow = [r for r in weighed if r.temperature_c == 205.0 and r.flow_mm3_s < 11.0]
    fast = [r for r in weighed if r.temperature_c == 205.0 and r.flow_mm3_s > 18.0]
    open_yet = capacity.weigh_in(slow, fast[0])
    assert (open_yet.low, open_yet.high) == (None, None)
    assert open_yet.fitted_loss is not None
    assert "still too uncertain" in open_yet.sentence
    closed = capacity.weigh_in([r for r in weighed if r is not fast[0]], fast[0])
    assert 0.0 < closed.high - closed.low <= WIDEST


def test_more_than_was_fed_is_impossible(weighed):
    records = {
        "rigs": {"simulated rig": Rig(name="simulated rig")},
        "materials": {
            "simulated PLA": Material(
                name="simulated PLA",
                density_g_cm3=1.24,
                min_temperature_c=190.0,
                max_temperature_c=240.0,
            )
        },
    }
    new = dataclasses.replace(weighed[0], mass_g=5.21)
    answer = capacity.weigh_in([], new, **records)
    assert answer.verdict == "again"
    assert "more than the 600 mm that were fed can weigh (1.79 g at 1.24 g/cm³)" in answer.reason
    # without records, against what the rig has delivered
    assert "more than any coupon of this rig" in capacity.weigh_in(weighed[1:], new).reason


def test_no_mass_is_no_coupon(weighed):
    new = dataclasses.replace(weighed[0], mass_g=1.0, tare_g=1.2)
    assert "is no coupon" in capacity.weigh_in(weighed[1:], new).reason


def test_other_rigs_and_voided_readings_have_no_say(weighed):
    i = near(weighed, 9.0)
    rest = weighed[:i] + weighed[i + 1 :]
    noise = [dataclasses.replace(r, mass_g=r.mass_g * 0.5, void=True) for r in rest]
    noise += [dataclasses.replace(r, rig="another", mass_g=r.mass_g * 0.5) for r in rest]
    assert capacity.weigh_in(rest + noise, weighed[i]) == capacity.weigh_in(rest, weighed[i])


def test_a_measured_diameter_is_taken_out_of_the_loss(weighed):
    """A coupon from filament 2 % thicker in section is heavier by that and no less good."""
    measured = [dataclasses.replace(r, diameter_mm=1.75) for r in weighed]
    i = near(measured, 9.0)
    thick = dataclasses.replace(
        measured[i], diameter_mm=1.75 * 1.05, mass_g=measured[i].mass_g * 1.05**2
    )
    rest = measured[:i] + measured[i + 1 :]
    plain = capacity.weigh_in(rest, measured[i])
    corrected = capacity.weigh_in(rest, thick)
    assert corrected.loss == pytest.approx(plain.loss, abs=1e-9)
