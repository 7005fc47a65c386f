"""Cells no spreadsheet calculates, and names that can be seen whole."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from beadworth.text import disarmed, name_problem, rearmed

FORMULAS = ("=1+1", "+1", "-cmd", "@SUM(A1)", "\t=1", "\r=1", "'=1", "''@x")


@pytest.mark.parametrize("text", FORMULAS)
def test_a_formula_gets_an_apostrophe(text):
    assert disarmed(text) == f"'{text}"


@pytest.mark.parametrize("text", ["", "a rig", "'quoted'", "1.78", "a=b", "it's"])
def test_other_text_stays(text):
    assert disarmed(text) == text == rearmed(text)


@given(st.text(alphabet="'=+-@\t\ra ", max_size=6) | st.text(max_size=20))
def test_what_was_disarmed_comes_back_and_is_no_formula(text):
    assert rearmed(disarmed(text)) == text
    assert not disarmed(text).startswith(("=", "+", "-", "@", "\t", "\r"))


@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("A\u202eB", "cannot be seen (U+202E)"),
        ("A\u2066B", "cannot be seen (U+2066)"),
        ("A\u200bB", "cannot be seen (U+200B)"),
        ("A\x07B", "cannot be seen (U+0007)"),
        ("A\nB", "cannot be seen (U+000A)"),
        ("A ", "begins or ends with a blank"),
        ("\u00a0A", "begins or ends with a blank"),
        ("A  B", "two blanks in a row"),
        ("=A", "begins with ="),
        ("+A", "begins with +"),
        ("-A", "begins with -"),
        ("@A", "begins with @"),
    ],
)
def test_a_name_that_misleads_is_told(name, said):
    assert said in name_problem(name)


@pytest.mark.parametrize("name", ["A", "A B", "Rig-1", "Größe 0,4", "Принтер А", "打印机 2", "a=b"])
def test_other_names_are_names(name):
    assert name_problem(name) is None
