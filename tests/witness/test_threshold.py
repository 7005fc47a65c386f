"""Thresholds from grades: they hold the truth, say when they cannot, and compare as ceilings do."""

import numpy as np
import pytest
import witness_graders
from loops import fewest, some

from beadworth.capacity import Ceiling
from beadworth.core import InputError
from beadworth.witness.threshold import Look, Threshold, difference, expected_width, threshold


def test_intervals_hold_the_truth():
    """Bar: 93 to 98 %, never crossed and cleanly apart each 90 % at least. 500 long."""
    count = some(30, long=500)
    rng = np.random.default_rng(21)
    holds, uncrossed, apart = np.array([witness_graders.holds(rng) for _ in range(count)]).T
    assert holds.sum() >= fewest(count, 0.95)
    assert holds[uncrossed].sum() >= fewest(int(uncrossed.sum()), 0.9)
    assert holds[apart].sum() >= fewest(int(apart.sum()), 0.9)
    if count >= 500:
        assert 0.93 <= holds.mean() <= 0.98
        assert holds[uncrossed].mean() >= 0.9
        assert holds[apart].mean() >= 0.9


def given(first_bad, bands=12, worst=3):
    return [Look(float(n), 0 if n < first_bad else worst) for n in range(1, bands + 1)]


def test_a_clean_step_lies_between_its_bands():
    found = threshold({"a": given(7), "b": given(7), "c": given(7)}, "flow_mm3_s")
    assert found.bound == "interval"
    assert 6 < found.value < 7
    assert 4.5 < found.low < 6.2
    assert 6.8 < found.high < 8.5
    assert found.draws.shape == (201,)
    assert (np.diff(found.draws) >= 0).all()


def test_walls_that_stay_good_give_a_bound_inside_the_ladder():
    found = threshold({"a": given(99), "b": given(99)}, "flow_mm3_s")
    assert (found.bound, found.value, found.high) == ("at-least", None, None)
    assert 10 < found.low <= 12


def test_walls_that_are_bad_from_the_first_give_an_upper_bound():
    found = threshold({"a": given(0), "b": given(0)}, "flow_mm3_s")
    assert (found.bound, found.value, found.low) == ("at-most", None, None)
    assert 1 <= found.high < 3


def test_a_ladder_that_worsens_downwards_is_the_same_ladder_turned_over():
    up = threshold({"a": given(7), "b": given(8)}, "level")
    turned = {
        name: [Look(13 - look.level, look.grade) for look in looks]
        for name, looks in {"a": given(7), "b": given(8)}.items()
    }
    down = threshold(turned, "layer_time_s", worse=-1)
    assert (down.low, down.high) == (pytest.approx(13 - up.high), pytest.approx(13 - up.low))
    assert down.value == pytest.approx(13 - up.value)
    assert down.draws == pytest.approx(13 - up.draws[::-1])


def test_graders_who_differ_widen_the_interval():
    alike = threshold({"a": given(7), "b": given(7), "c": given(7)}, "level")
    apart = threshold({"a": given(5), "b": given(7), "c": given(9)}, "level")
    assert apart.high - apart.low > 1.5 * (alike.high - alike.low)


def test_more_graders_narrow_it_more_bands_hardly_do():
    """In shares of the ladder."""
    one, three, six = (expected_width(12, g, runs=8) / 12 for g in (1, 3, 6))
    fine = expected_width(24, 3, runs=8) / 24
    assert one > 1.3 * three > 1.3 * six
    assert fine > 0.75 * three


def test_a_threshold_of_flow_is_a_ceiling():
    found = threshold({"a": given(7), "b": given(7)}, "flow_mm3_s")
    ceiling = found.ceiling("r", "m", 215.0)
    assert isinstance(ceiling, Ceiling)
    assert (ceiling.flow_mm3_s, ceiling.low, ceiling.high) == (found.value, found.low, found.high)
    assert found.posterior(215.0).flow_mm3_s.shape == (201,)
    with pytest.raises(InputError, match="a threshold of passes is no ceiling of a flow"):
        threshold({"a": given(7)}, "passes").ceiling("r", "m", 215.0)


def test_two_thresholds_are_held_against_each_other():
    low = threshold({"a": given(5), "b": given(5), "c": given(5)}, "level")
    high = threshold({"a": given(10), "b": given(10), "c": given(10)}, "level")
    span = difference(low, high)
    assert span.low > 1.5
    assert span.value == pytest.approx(5, abs=0.7)
    assert span.high < 8.5
    never = threshold({"a": given(99)}, "level")
    one_sided = difference(low, never)
    assert (one_sided.value, one_sided.high) == (None, None)
    assert one_sided.low == pytest.approx(never.low - low.high)


def test_what_is_no_ladder_is_refused():
    with pytest.raises(InputError, match="2 levels make no ladder"):
        threshold({"a": [Look(1.0, 0), Look(2.0, 3)]}, "level")
    with pytest.raises(InputError, match="grades go from 0 to 4"):
        threshold({"a": [Look(1.0, 0), Look(2.0, 5), Look(3.0, 4)]}, "level")


def test_nothing_to_say_is_said():
    flat = {"a": [Look(float(n), 2 * (n % 2)) for n in range(12)]}
    found: Threshold = threshold(flat, "level")
    assert found.bound in ("unknown", "at-least", "at-most") or found.high - found.low > 5
