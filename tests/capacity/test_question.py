"""Whether a question is answered: intervals against the difference that counts, both sides."""

from types import SimpleNamespace

import pytest

from beadworth.capacity import Ceiling, answered


def ceiling(low, high, temperature_c=210.0):
    return Ceiling("a", "PLA", temperature_c, 0.02, 12.0, low, high, "interval", 0.95)


def compared(*spans):
    differences = tuple(
        SimpleNamespace(temperature_c=200.0 + 10 * i, low=low, high=high, doubt="")
        for i, (low, high) in enumerate(spans)
    )
    return SimpleNamespace(candidate="long zone", differences=differences)


@pytest.mark.parametrize(("width", "state"), [(0.99, "answered"), (1.01, "open")])
def test_one_rig_is_answered_where_every_interval_is_narrow_enough(width, state):
    found = answered([ceiling(12.0, 12.2), ceiling(12.0, 12.0 + width, 220.0)], 1.0)
    assert found.state == state
    assert ("220 °C" in found.sentence) == (state == "open")


def test_a_ceiling_known_from_one_side_is_open():
    assert answered([ceiling(12.0, None)], 5.0).state == "open"


@pytest.mark.parametrize(
    ("span", "state"),
    [
        ((1.01, 4.0), "answered"),  # more than what counts, whatever it is
        ((0.99, 4.0), "open"),
        ((-3.0, 0.99), "answered"),  # less than what counts
        ((-3.0, 1.01), "open"),
        ((0.6, 1.59), "answered"),  # known as well as asked
        ((0.6, 1.61), "open"),
        ((None, 4.0), "open"),
    ],
)
def test_two_rigs_are_answered_where_more_coupons_would_not_change_the_mind(span, state):
    assert answered([], 1.0, compared(span)).state == state
    assert answered([], 1.0, compared((2.0, 3.0), span)).state == state


def test_the_answer_says_what_is_gained_over_all_temperatures():
    found = answered([], 1.0, compared((2.94, 3.5), (3.2, 4.06)))
    assert found.sentence.startswith("Answered: long zone gives 2.9 to 4.1 mm³/s more")
    less = answered([], 1.0, compared((-3.5, -2.94)))
    assert "gives 2.9 to 3.5 mm³/s less" in less.sentence
    either = answered([], 1.0, compared((-0.3, 0.4)))
    assert "from 0.3 mm³/s less to 0.4 more" in either.sentence
