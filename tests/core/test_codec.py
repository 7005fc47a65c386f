"""The one codec: what it writes, what it reads back, and the shape it publishes."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import UTC, date, datetime
from enum import Enum
from typing import Any, ClassVar, Generic, Literal, TypeVar

import jsonschema
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from beadworth.core import (
    LEFT_OUT,
    SEVEN_DIGITS,
    InputError,
    Place,
    Problem,
    Record,
    RecordError,
    Unbounded,
    flat,
    from_json,
    named,
    read_back_as,
    shape,
    to_json,
)


class Colour(Enum):
    GREY = "grey"


class Spool(Record):
    """A record inside a dataclass."""

    name: str
    price: float | None = None


@dataclass(frozen=True)
class Point:
    x_mm: float
    y_mm: Unbounded = math.inf


@dataclass(frozen=True)
class Whole:
    """Every kind of field."""

    name: str
    kind: Literal["a", "b"]
    count: int
    on: date
    at: datetime
    spool: Spool
    first: Point
    points: tuple[Point, ...]
    pair: tuple[float, float] | None
    by_name: Mapping[str, Point]
    curve: NDArray[np.float64] = field(metadata=SEVEN_DIGITS)
    flag: bool = False
    hidden: int = field(default=7, metadata=read_back_as(7))


def whole(**changes: Any) -> Whole:
    given: dict[str, Any] = {
        "name": "Stilt", "kind": "a", "count": 3, "on": date(2031, 4, 3),
        "at": datetime(2031, 4, 3, 12, 30, tzinfo=UTC), "spool": Spool(name="grey"),
        "first": Point(1.5), "points": (Point(1.0, 2.0), Point(3.0)), "pair": (0.5, 1.0),
        "by_name": {"a": Point(1.0)}, "curve": np.array([1 / 3, math.nan, 2.0]),
    }  # fmt: skip
    return Whole(**given | changes)


def check(value: Any, kind: Any = None) -> Any:
    """The JSON of a value, after it was held against its published shape."""
    data = json.loads(json.dumps(to_json(value), allow_nan=False))
    schema = shape(kind or type(value)).model_json_schema(mode="serialization")
    jsonschema.Draft202012Validator(schema).validate(data)
    return data


def test_a_dataclass_is_written_by_its_fields():
    assert check(whole()) == {
        "name": "Stilt", "kind": "a", "count": 3, "on": "2031-04-03",
        "at": "2031-04-03T12:30:00+00:00", "spool": {"name": "grey"},
        "first": {"x_mm": 1.5, "y_mm": None},
        "points": [{"x_mm": 1.0, "y_mm": 2.0}, {"x_mm": 3.0, "y_mm": None}],
        "pair": [0.5, 1.0], "by_name": {"a": {"x_mm": 1.0, "y_mm": None}},
        "curve": [0.3333333, None, 2.0], "flag": False,
    }  # fmt: skip


def test_what_is_written_is_read_back():
    one = whole(curve=np.array([0.25, 2.0]))
    again = from_json(Whole, to_json(one), "whole")
    assert again.curve.dtype == np.float64
    np.testing.assert_array_equal(again.curve, one.curve)
    again = from_json(Whole, to_json(one) | {"curve": []}, "whole")
    assert again.first == one.first
    assert (again.points, again.pair, again.by_name) == (one.points, one.pair, one.by_name)
    assert (again.on, again.at, again.spool, again.hidden) == (one.on, one.at, one.spool, 7)


@given(st.builds(Point, st.floats(-1e9, 1e9), st.one_of(st.just(math.inf), st.floats(-9, 9))))
def test_any_point_comes_back_equal(point):
    assert from_json(Point, json.loads(json.dumps(to_json(point))), "point") == point


def test_a_field_with_a_default_may_be_missing_when_read():
    assert from_json(Point, {"x_mm": 2}, "point") == Point(2.0)


@pytest.mark.parametrize(
    ("change", "path", "words"),
    [
        ({"kind": "c"}, ("kind",), "'c' is none of"),
        ({"count": "three"}, ("count",), "'three' is not a whole number."),
        ({"flag": 1}, ("flag",), "1 is neither true nor false."),
        ({"points": [{"x_mm": 1.0}, {"x_mm": "far"}]}, ("points", 1, "x_mm"), "not a number"),
        ({"spool": {"name": "x", "prise": 1.0}}, ("spool", "prise"), "no field of this name"),
        ({"colour": "red"}, ("colour",), "no field of this name"),
        ({"on": "tomorrow"}, ("on",), "tomorrow"),
        ({"curve": ["a"]}, ("curve", 0), "not a number"),
    ],
)
def test_each_fault_of_what_is_read_is_told_with_its_path(change, path, words):
    data = to_json(whole(curve=np.array([1.0]))) | change
    with pytest.raises(RecordError) as refused:
        from_json(Whole, data, "whole")
    (problem,) = refused.value.problems
    assert problem.path == Place("whole", field=path)
    assert words in problem.what


def test_all_faults_are_told_at_once():
    with pytest.raises(RecordError) as refused:
        from_json(Point, {"y_mm": "far", "z_mm": 1.0}, "point")
    found = {problem.path.dotted for problem in refused.value.problems}
    assert found == {"x_mm", "y_mm", "z_mm"}


@dataclass(frozen=True)
class Renamed:
    """A dataclass whose JSON is not its fields."""

    inside: Point = field(metadata=flat())
    part: Whole = field(metadata=flat("name", "count"))
    secret: object = field(metadata=LEFT_OUT)
    words: str = field(metadata=named("from"))
    json_also: ClassVar = {"sentence": "as_sentence"}

    @property
    def as_sentence(self) -> str | None:
        return f"{self.words}."


def test_flat_left_out_renamed_and_computed_keys():
    assert check(Renamed(Point(1.0, 2.0), whole(), object(), "here")) == {
        "x_mm": 1.0, "y_mm": 2.0, "name": "Stilt", "count": 3, "from": "here",
        "sentence": "here.",
    }  # fmt: skip


R = TypeVar("R", bound=Record)


@dataclass(frozen=True)
class Box(Generic[R]):
    record: R


def test_a_type_variable_is_filled_in():
    assert check(Box(Spool(name="a", price=2.0)), Box[Spool]) == {
        "record": {"name": "a", "price": 2.0}
    }


def test_every_key_is_always_there_and_no_other():
    schema = shape(Whole).model_json_schema(mode="serialization")
    assert set(schema["required"]) == set(schema["properties"]) == set(to_json(whole()))
    assert schema["additionalProperties"] is False


@pytest.mark.parametrize(
    ("value", "data"),
    [
        (math.nan, None), (-math.inf, None), (np.float32(0.5), 0.5), (np.int64(3), 3),
        (np.bool_(True), True), (np.array([[1.0, math.inf]]), [[1.0, None]]),
        ({"a": (1, date(2031, 1, 1))}, {"a": [1, "2031-01-01"]}), (Colour.GREY, "grey"),
        (Place("w.csv", row=2), {"source": "w.csv", "row": 2}),
    ],
)  # fmt: skip
def test_values_of_their_own(value, data):
    made = to_json(value)
    assert made == data
    assert type(made) is type(data)


def test_a_problem_is_written_as_every_refusal_shows_it():
    problem = Problem("x.", Place("w.csv", row=2), math.inf, "Weigh.")
    assert to_json(problem) == {
        "what": "x.", "where": "w.csv, row 2", "path": {"source": "w.csv", "row": 2},
        "value": None, "remedy": "Weigh.",
    }  # fmt: skip
    shape(Problem).model_validate(to_json(problem))
    assert to_json(InputError(problem).to_json()["error"]["problems"]) == [to_json(problem)]


def test_what_has_no_json_is_refused():
    with pytest.raises(TypeError, match="object has no JSON"):
        to_json({"a": object()})
