"""One family of errors, one JSON shape."""

import json

import pytest

from beadworth.core import errors
from beadworth.core.errors import BeadworthError, Problem, ReadingsError

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
