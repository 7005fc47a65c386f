"""The next coupons narrow the ceilings, more than as many others do, and by what was promised."""

import numpy as np
import pytest
from loops import some

from beadworth import capacity
from beadworth.core.errors import FitError

pytestmark = pytest.mark.usefixtures("short_fits")

CEILINGS = {205.0: 12.0, 215.0: 13.5, 225.0: 14.8}
COARSE = np.linspace(7.0, 19.0, 5)


def mean_width(readings):
    ceilings = capacity.fit(readings).ceilings
    assert all(c.bound == "interval" for c in ceilings)
    return float(np.mean([c.high - c.low for c in ceilings]))


def with_more(truths, truth, rng, readings, settings):
    for temperature, flow, count in settings:
        readings = readings + truths.trial(
            truth, {temperature: CEILINGS[temperature]}, [flow], count, rng
        )
    return readings


def test_chosen_coupons_beat_an_even_ladder(truths):
    truth = truths.soft_knee(12.0)
    chosen, even, promised = [], [], []
    for seed in range(some(1, long=8)):
        rng = np.random.default_rng([21, seed])
        start = truths.trial(truth, CEILINGS, COARSE, 1, rng)
        answer = capacity.next_coupons(start, 9)
        settings = [(c.temperature_c, c.flow_mm3_s, c.count) for c in answer.coupons]
        chosen.append(mean_width(with_more(truths, truth, rng, start, settings)))
        ladder = [(t, q, 1) for t in CEILINGS for q in (8.5, 13.0, 17.5)]
        even.append(mean_width(with_more(truths, truth, rng, start, ladder)))
        promised.append(answer.mean_after)
        assert answer.mean_after < answer.mean_now
    assert np.mean(chosen) < 0.9 * np.mean(even)
    assert np.mean(promised) == pytest.approx(np.mean(chosen), rel=0.25)


def test_k_coupons_are_chosen_on_the_step_and_inside_the_limits(truths):
    rng = np.random.default_rng(22)
    start = truths.trial(truths.hard_limit, CEILINGS, COARSE, 1, rng)
    answer = capacity.next_coupons(start, 7, flow_limits_mm3_s=(8.0, 15.0), flow_step_mm3_s=0.5)
    assert sum(c.count for c in answer.coupons) == 7
    for c in answer.coupons:
        assert 8.0 <= c.flow_mm3_s <= 15.0
        assert (c.flow_mm3_s / 0.5) == pytest.approx(round(c.flow_mm3_s / 0.5))
        assert c.temperature_c in CEILINGS
    assert "7 more coupons" in answer.sentence


def test_the_widest_criterion_goes_where_it_is_widest(truths):
    rng = np.random.default_rng(23)
    truth = truths.soft_knee(12.0)
    start = truths.trial(truth, {205.0: 12.0}, np.linspace(7, 19, 9), 3, rng)
    start += truths.trial(truth, {225.0: 14.8}, np.linspace(7, 19, 4), 1, rng)
    answer = capacity.next_coupons(start, 4, criterion="widest")
    hot = sum(c.count for c in answer.coupons if c.temperature_c == 225.0)
    assert hot >= 3
    assert answer.widest_after < answer.widest_now


def test_a_ladder_that_ended_early_is_carried_on_upwards(truths):
    rng = np.random.default_rng(24)
    start = truths.trial(truths.hard_limit, {220.0: 16.0}, np.linspace(7, 14, 5), 2, rng)
    assert capacity.fit(start).ceilings[0].bound == "at-least"
    answer = capacity.next_coupons(start, 3)
    assert answer.widths[0].one_sided
    assert max(c.flow_mm3_s for c in answer.coupons) > 14


def test_two_rigs_share_the_coupons_and_one_can_be_named(truths):
    rng = np.random.default_rng(25)
    rows = truths.trial(truths.hard_limit, {210.0: 12.0}, np.linspace(7, 17, 9), 4, rng, rig="a")
    rows += truths.trial(truths.hard_limit, {210.0: 15.0}, np.linspace(7, 21, 4), 1, rng, rig="b")
    both = capacity.next_coupons(rows, 4)
    assert sum(c.count for c in both.coupons if c.rig == "b") > 2
    assert {c.rig for c in capacity.next_coupons(rows, 2, rig="a").coupons} == {"a"}


@pytest.mark.parametrize("k", [0, 61])
def test_how_many_is_bounded(truths, k):
    rows = truths.trial(truths.hard_limit, CEILINGS, COARSE, 1, np.random.default_rng(1))
    with pytest.raises(FitError, match=f"{k} coupons cannot be chosen"):
        capacity.next_coupons(rows, k)


def test_limits_without_a_step_in_them_are_refused(truths):
    rows = truths.trial(truths.hard_limit, CEILINGS, COARSE, 1, np.random.default_rng(1))
    with pytest.raises(FitError, match="no multiple of 2 mm³/s"):
        capacity.next_coupons(rows, 2, flow_limits_mm3_s=(8.1, 9.9), flow_step_mm3_s=2.0)


def test_no_more_coupons_are_chosen_than_should_do_it(truths):
    rng = np.random.default_rng(27)
    start = truths.trial(truths.hard_limit, {220.0: 14.0}, np.linspace(7.0, 19.0, 9), 1, rng)
    most = capacity.next_coupons(start, 8)
    goal = 0.5 * (most.mean_now + most.mean_after)
    few = capacity.next_coupons(start, 8, width_mm3_s=goal)
    made = sum(c.count for c in few.coupons)
    assert 1 <= made < 8
    assert few.mean_after <= goal
    assert few.sentence.startswith(f"{made} more coupon")
    assert "should do it" in few.sentence
    assert "mm³/s and 220 °C" in few.sentence
    out_of_reach = capacity.next_coupons(start, 3, width_mm3_s=0.01)
    assert sum(c.count for c in out_of_reach.coupons) == 3
    assert "0.01 are asked for" in out_of_reach.sentence
