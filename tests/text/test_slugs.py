"""Names as parts of addresses and files: readable where they can be, and apart where not."""

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from beadworth.text import distinct_slug, next_free, slug


@pytest.mark.parametrize(
    ("name", "text"),
    [
        ("Rig A, 0.4 mm", "rig-a-0-4-mm"),
        ("Café Größe", "cafe-grosse"),
        ("--", "rig"),
        ("", "rig"),
    ],
)
def test_a_name_of_latin_letters_stays_readable(name, text):
    assert slug(name, "rig") == text


def test_names_of_other_scripts_differ_and_stay_the_same_each_time():
    first, second = slug("Принтер А", "rig"), slug("Принтер Б", "rig")
    assert first != second
    assert first == slug("принтер а", "rig")
    assert re.fullmatch(r"rig-[0-9a-f]{6}", first)
    assert slug("打印机 2", "rig").startswith("2-")


def test_a_long_name_is_cut_at_the_length_asked_for():
    assert slug("ab " * 40, most=20) == "ab-ab-ab-ab-ab-ab-ab"
    assert len(slug("ж" + "ab " * 40, most=20)) <= 20


@given(st.text(), st.integers(8, 80))
def test_any_name_becomes_what_every_system_takes(name, most):
    made = slug(name, "x", most)
    assert re.fullmatch(r"[a-z0-9]+(-[a-z0-9]+)*", made)
    assert len(made) <= most
    assert slug(made, "x", most) == made


def test_a_name_that_is_taken_gets_the_next_number():
    assert next_free("a", []) == "a"
    assert next_free("a", ["a", "a-2", "a-4"]) == "a-3"


@given(st.text(max_size=30), st.text(max_size=30))
def test_names_that_differ_have_identifiers_that_differ(one, other):
    assert re.fullmatch(r"[a-z0-9]+(-[a-z0-9]+)*", distinct_slug(one))
    assert (distinct_slug(one) == distinct_slug(other)) == (one == other)


def test_names_that_look_alike_have_identifiers_of_their_own():
    assert len({distinct_slug(name) for name in ("A rig", "a rig", "a-rig", "A  rig")}) == 4
    assert distinct_slug("loss-wide") == "loss-wide"
