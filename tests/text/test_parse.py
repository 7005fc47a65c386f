"""Lists of numbers as people type them: one reading, or two; page and command alike."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from beadworth.cli.options import parse_ladder as of_an_option
from beadworth.core.errors import InputError, RecordError
from beadworth.core.records import from_mapping
from beadworth.text.parse import ambiguity, parse_numbers, whole_number
from beadworth.trial import TrialSpec
from beadworth.web.forms import parse_numbers as of_a_form
from beadworth.web.routes.findings import typed_sizes

CLEAR = [
    ("210,220,230", [210, 220, 230]),
    ("210,220", [210, 220]),
    ("230,220,210", [230, 220, 210]),
    ("230,210,220", [230, 210, 220]),
    ("8,10,12", [8, 10, 12]),
    ("8, 16", [8, 16]),
    ("8;16", [8, 16]),
    ("2.5,5", [2.5, 5]),
    ("9,5 11", [9.5, 11]),
    ("5:10:2,5", [5, 7.5, 10]),
    ("4:12:2,5", [4, 6.5, 9, 11.5]),
    ("0,5:2:0,5", [0.5, 1, 1.5, 2]),
    ("5:10:2,5,30", [5, 7.5, 10, 30]),
    ("8:12:2,20", [8, 10, 12, 20]),
    ("0,45", [0.45]),
    (",5", [0.5]),
    ("6..22", [6, 22]),
    ("6.5..22", [6.5, 22]),
    ("6-22", [6, 22]),
    ("6 – 22,5", [6, 22.5]),
    ("6 to 22", [6, 22]),
    ("8 to 22 by 2", [8, 10, 12, 14, 16, 18, 20, 22]),
    ("8..12 by 1,5", [8, 9.5, 11]),
]


@pytest.mark.parametrize(("text", "values"), CLEAR)
def test_page_and_command_read_the_same(text, values):
    assert ambiguity(text) is None
    assert list(of_an_option(text, "--flows")) == of_a_form(text) == values


@pytest.mark.parametrize(
    ("text", "one", "other"),
    [
        ("2,5", "2.5", "2 5"),
        ("8,16", "8.16", "8 16"),
        ("212,5", "212.5", "212 5"),
        ("9,5,11", "9.5 11", "9 5 11"),
        ("2,5:22,5:2", "2.5:22.5:2", "2 5:22.5:2"),
    ],
)
def test_what_can_be_read_in_two_ways_is_told_with_both(text, one, other):
    assert of_a_form(text) == [text]
    with pytest.raises(InputError) as told:
        of_an_option(text, "--flows")
    (problem,) = told.value.problems
    assert problem.where == "--flows"
    assert f'"{one}"' in problem.remedy
    assert f'"{other}"' in problem.remedy
    for way in (one, other):
        assert ambiguity(way) is None
        assert all(isinstance(value, float) for value in parse_numbers(way))


def test_a_form_says_what_is_unclear_about_a_ladder():
    typed = {
        "question": "How far does it go?",
        "baseline": "A",
        "material": "PLA",
        "temperatures_c": parse_numbers("212,5"),
        "flows_mm3_s": parse_numbers("8:16:2"),
    }
    with pytest.raises(RecordError, match=r'Write "212\.5" or "212 5"') as told:
        from_mapping(TrialSpec, typed, "the form")
    assert len(told.value.problems) == 1


def test_the_browser_tells_sizes_and_temperatures_that_are_unclear():
    assert typed_sizes("0,45", "widths", ()) == (0.45,)
    with pytest.raises(InputError, match=r'Write "1\.5" or "1 5"'):
        typed_sizes("1,5", "widths", ())


def test_every_fault_of_a_list_is_told_at_once():
    with pytest.raises(InputError) as told:
        of_an_option("8 x 9 4:2:1", "--flows")
    assert [problem.value for problem in told.value.problems] == ["x", "4:2:1"]
    with pytest.raises(InputError, match="no number"):
        of_an_option(" ", "--flows")


@given(st.lists(st.floats(0.01, 500).map(lambda v: round(v, 2)), min_size=1, max_size=12))
def test_points_and_spaces_always_give_back_what_was_meant(values):
    typed = " ".join(f"{value:g}" for value in values)
    assert parse_numbers(typed) == [float(part) for part in typed.split()]
    assert parse_numbers(typed.replace(".", ",")) == parse_numbers(typed) or len(values) == 1


@given(st.text(alphabet="0123456789,.:; -x", max_size=30))
def test_whatever_is_typed_is_read_or_left_as_text(text):
    values = parse_numbers(text)
    assert all(isinstance(value, (float, str)) for value in values)
    unclear = ambiguity(text)
    assert unclear is None or values == [text.strip()]


def test_a_whole_number_has_digits_alone_and_not_too_many():
    for text, number in (("0", 0), ("007", 7), ("999999999", 999_999_999)):
        assert whole_number(text) == number
    for text in ("", " 1", "-1", "+1", "1.0", "1e3", "\u00b2", "1" * 10, "9" * 5000):
        assert whole_number(text) is None
    assert (whole_number("99", digits=2), whole_number("100", digits=2)) == (99, None)
