"""Numbers as a person writes them: a space before the sign of per cent, a true minus."""

import pytest

from beadworth.text.format import percent, signed, signed_percent


@pytest.mark.parametrize(
    ("value", "places", "text"),
    [
        (-0.0243, 2, "−2.43 %"),
        (0.00528, 3, "+0.528 %"),
        (-0.000004, 2, "0.00 %"),
        (0.0, 1, "0.0 %"),
    ],
)
def test_a_relative_difference_has_its_sign_unless_it_rounds_to_nothing(value, places, text):
    assert signed_percent(value, places) == text
    assert percent(value, places) == text.lstrip("+")


def test_a_difference_has_a_true_minus():
    assert [signed(v, 2) for v in (-1.5, 0.001, 1.5)] == ["−1.50", "0.00", "+1.50"]
