"""One family of errors, one JSON shape."""

import json

import pytest

from beadworth.core import errors
from beadworth.core.errors import BeadworthError, Place, Problem, ReadingsError

FAMILY = [
    kind
    for kind in vars(errors).values()
    if isinstance(kind, type) and issubclass(kind, BeadworthError) and kind is not BeadworthError
]


def test_words_hold_place_fault_and_remedy():
    problem = Problem(
        "5.21 g is too much.", "w.csv, row 14, column mass_g", 5.21, "Check the tare."
    )
    assert str(problem) == "w.csv, row 14, column mass_g: 5.21 g is too much. Check the tare."


def test_all_problems_are_kept_in_order():
    error = ReadingsError([Problem("one."), Problem("two.")])
    assert str(error) == "one.\ntwo."
    assert [p["what"] for p in error.to_json()["error"]["problems"]] == ["one.", "two."]


@pytest.mark.parametrize("kind", FAMILY, ids=lambda kind: kind.__name__)
def test_each_child_inherits_a_builtin_and_has_a_kind_and_code(kind):
    assert issubclass(kind, (ValueError, LookupError, RuntimeError, OSError))
    assert kind.kind != BeadworthError.kind
    assert kind.exit_code > 1
    shape = kind("x").to_json()["error"]
    assert set(shape) == {"kind", "message", "problems"}


def test_json_holds_only_plain_values():
    text = json.dumps(ReadingsError(Problem("x.", value=object())).to_json())
    assert '"value": null' in text


@pytest.mark.parametrize(
    ("place", "words", "data"),
    [
        (Place(), "", {}),
        (Place("w.csv"), "w.csv", {"source": "w.csv"}),
        (
            Place("w.csv", row=14, column="mass_g"),
            "w.csv, row 14, column mass_g",
            {"source": "w.csv", "row": 14, "column": "mass_g"},
        ),
        (Place("rig.toml", line=3), "rig.toml, line 3", {"source": "rig.toml", "line": 3}),
        (
            Place.of_field("rig Stilt", "fans.0.volts_v"),
            "rig Stilt, field fans.0.volts_v",
            {"source": "rig Stilt", "field": ["fans", 0, "volts_v"]},
        ),
        (
            Place("readings.csv", row=2).within("one.zip"),
            "one.zip, readings.csv, row 2",
            {"source": "one.zip", "table": "readings.csv", "row": 2},
        ),
    ],
)
def test_a_place_says_in_words_and_in_json_only_what_applies(place, words, data):
    assert str(place) == words
    assert place.to_json() == data
    problem = Problem("x.", place)
    assert (problem.where, problem.path) == (words, place)
    assert problem.to_json()["path"] == data


def test_a_place_in_words_of_its_own_keeps_the_path_beside_them():
    place = Place.of_field("trial plan", "flows_mm3_s")
    problem = Problem("x.", "trial plan, --flows", path=place)
    assert problem.where == "trial plan, --flows"
    assert problem.to_json()["path"] == {"source": "trial plan", "field": ["flows_mm3_s"]}
    assert Problem("x.", "mass").to_json()["path"] is None


def test_a_problem_of_a_part_names_the_whole_first_in_words_and_path():
    inner = Problem("x.", Place("readings.csv", row=2, column="mass_g"), 5.0, "Weigh.")
    outer = inner.within("one.zip")
    assert str(outer) == "one.zip, readings.csv, row 2, column mass_g: x. Weigh."
    assert outer.path == Place("one.zip", table="readings.csv", row=2, column="mass_g")
    assert Problem("x.", "mass").within("one.zip").path == Place("one.zip")
    assert Problem("x.").within("one.zip").where == "one.zip"


@pytest.mark.parametrize("kind", FAMILY)
def test_an_error_takes_the_parts_of_its_one_problem(kind):
    where = Place("w.csv", row=14)
    error = kind("5.21 g is too much.", where, 5.21, remedy="Check the tare.")
    assert error.problems == (Problem("5.21 g is too much.", where, 5.21, "Check the tare."),)
    assert str(error) == "w.csv, row 14: 5.21 g is too much. Check the tare."
