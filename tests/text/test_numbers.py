"""Numbers as a person writes them: a true minus, no exponent, no sign on nothing."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from beadworth.text import (
    fixed,
    grams,
    number,
    parse_number,
    percent,
    signed,
    signed_percent,
    with_unit,
)

FINITE = st.floats(allow_nan=False, allow_infinity=False)
USUAL = st.floats(-1e9, 1e9).filter(lambda v: v == 0 or abs(v) > 1e-6)


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (12.5, "12.5"),
        (-0.04, "−0.04"),
        (-0.0, "0"),
        (12345.6, "12346"),
        (99999.6, "100000"),
        (0.00001234, "0.00001234"),
        (1e-6, "0.000001"),
        (9.9e-7, "9.9×10⁻⁷"),
        (-3.31719e19, "−3.317×10¹⁹"),
        (999e12, "999000000000000"),
        (1e15, "1×10¹⁵"),
        (None, "–"),
        (math.nan, "–"),
        (math.inf, "∞"),
        (-math.inf, "−∞"),
    ],
)
def test_a_number_has_its_significant_digits(value, text):
    assert number(value) == text


@given(FINITE)
def test_no_number_has_an_exponent_or_the_hyphen_of_a_keyboard(value):
    for text in (number(value), number(value, 1), number(value, 12), fixed(value, 3)):
        assert "e" not in text
        assert "-" not in text


@given(USUAL)
def test_a_number_written_is_read_back(value):
    assert parse_number(number(value, 17)) == value
    assert parse_number(number(value)) == pytest.approx(value, rel=5.1e-4)


@given(st.floats(-1e300, 1e300), st.integers(0, 4))
def test_only_what_is_not_nothing_has_a_sign(value, places):
    for text in (fixed(value, places), signed(value, places), percent(value, places)):
        digits = "".join(c for c in text if c.isdigit())
        assert text.startswith(("−", "+")) <= (int(digits) != 0)
        assert (text[0] == "−") == (value < 0 and int(digits) != 0)
    assert (signed(value, places)[0] == "+") == (float(f"{value:.{places}f}") > 0)


@given(st.floats(-1e9, 1e9), st.integers(0, 4))
def test_fixed_decimals_are_within_half_a_unit_of_the_last(value, places):
    read = parse_number(fixed(value, places))
    assert read is not None
    assert abs(read - value) <= 0.5 * 10**-places * (1 + 1e-6) + 1e-7


def test_what_rounds_to_nothing_has_no_minus():
    assert [fixed(-0.04), fixed(-0.05001), fixed(-0.5, 0)] == ["0.0", "−0.1", "0"]
    assert [fixed(None), fixed(math.nan), fixed(math.inf)] == ["–", "–", "∞"]


def test_thousands_are_parted_by_a_narrow_space():
    assert fixed(-1234567.891, 2, thousands=True) == "−1\u202f234\u202f567.89"
    assert fixed(999.9, 1, thousands=True) == "999.9"


@pytest.mark.parametrize(
    ("value", "places", "text"),
    [
        (-0.0243, 2, "−2.43 %"),
        (0.00528, 3, "+0.528 %"),
        (-0.000004, 2, "0.00 %"),
        (0.0, 1, "0.0 %"),
        (None, 1, "–"),
        (math.nan, 1, "–"),
    ],
)
def test_a_relative_difference_has_its_sign_unless_it_rounds_to_nothing(value, places, text):
    assert signed_percent(value, places) == text
    assert percent(value, places) == text.lstrip("+")


def test_the_gap_before_per_cent_can_be_one_that_never_breaks():
    assert percent(0.02, 0, gap="\u00a0") == "2\u00a0%"


def test_a_difference_has_a_true_minus():
    assert [signed(v, 2) for v in (-1.5, 0.001, 1.5)] == ["−1.50", "0.00", "+1.50"]


@pytest.mark.parametrize(
    ("value", "readability", "text"),
    [
        (0.9, 0.01, "0.90"),
        (1.8, 0.001, "1.800"),
        (0.905, 0.01, "0.905"),  # typed from a finer balance
        (12.0, 1.0, "12"),
        (12.5, 1.0, "12.5"),
        (0.9, 0.005, "0.900"),
        (0.9, None, "0.9"),
        (None, 0.01, "–"),
    ],
)
def test_a_mass_has_the_digits_of_its_balance(value, readability, text):
    assert grams(value, readability) == text


@pytest.mark.parametrize(
    ("value", "unit", "text"), [("12.2", "mm³/s", "12.2 mm³/s"), ("54", "°", "54°"), ("9", "", "9")]
)
def test_a_unit_stands_apart_but_for_the_degree(value, unit, text):
    assert with_unit(value, unit) == text
