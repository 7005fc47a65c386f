"""One codec: our dataclasses and records as plain JSON data, back again, and their shape.

:func:`to_json` writes what every command prints with ``--json``, what the HTTP interface
answers and what the bench stores; :func:`from_json` reads it back, checked; :func:`shape` is
the pydantic model of that JSON, from which the published schemas are made. So what is
written, read and published follows from one definition: the dataclass.

A dataclass says where its JSON differs from its fields: ``field(metadata=LEFT_OUT)``,
``field(metadata=named("other"))``, ``field(metadata=flat())`` for an inner dataclass whose keys
stand beside the others, ``field(metadata=SEVEN_DIGITS)`` for a long array; and
``json_also = {"sentence": "sentence"}`` names keys and the properties written under them.
"""

from __future__ import annotations

import json
import math
import types
from collections.abc import Callable, Mapping, Sequence
from dataclasses import MISSING, dataclass, fields, is_dataclass
from datetime import date
from enum import Enum
from functools import cache
from typing import Annotated, Any, TypeVar, Union, get_args, get_origin, get_type_hints

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, TypeAdapter, ValidationError
from pydantic import create_model as _create_model
from pydantic_core import PydanticUndefined

from beadworth.core.errors import Place, Problem, RecordError
from beadworth.core.records import Record, problems_of, to_mapping

T = TypeVar("T")
LEFT_OUT: Mapping[str, Any] = {"json": None}
"""Of a field that is not written."""
SEVEN_DIGITS: Mapping[str, Any] = {"digits": 7}
"""Of an array written with the digits that a fitted curve is worth."""


def flat(*only: str) -> Mapping[str, Any]:
    """Of an inner dataclass whose keys, all or only some, stand among those of the outer one."""
    return {"flat": only}


def read_back_as(value: Any) -> Mapping[str, Any]:
    """Of a field that is not written, and what it holds when the rest was read back."""
    return {"json": None, "read_back_as": value}


def named(key: str) -> Mapping[str, Any]:
    """Of a field written under another key."""
    return {"json": key}


class _NotBounded:
    """Marks a number that may be infinite; JSON has null for it."""


Unbounded = Annotated[float, _NotBounded]
"""A number that may be infinite, such as degrees of freedom; null in JSON."""


@dataclass(frozen=True)
class _Key:
    """One key of a dataclass's JSON, or one inner dataclass that stands flat in it."""

    name: str
    attribute: str
    flat: bool = False
    only: tuple[str, ...] = ()
    digits: int | None = None


@cache
def _keys(kind: Any) -> tuple[_Key, ...]:
    found = []
    for one in fields(kind):
        name = one.metadata.get("json", one.name)
        if name is not None:
            meta = one.metadata
            found.append(
                _Key(name, one.name, "flat" in meta, meta.get("flat", ()), meta.get("digits"))
            )
    return *found, *(_Key(key, name) for key, name in getattr(kind, "json_also", {}).items())


def to_json(value: Any) -> Any:  # noqa: PLR0911 - one for each kind of value
    """Plain data for ``json.dumps``: infinities and NaN as null, dates as ISO 8601 text.

    Raises
    ------
    TypeError
        A value that has no JSON.
    """
    if value is None or isinstance(value, (bool, str)):
        return value
    if isinstance(value, Enum):
        return to_json(value.value)
    if isinstance(value, int):
        return int(value)  # pyrefly: ignore[unnecessary-type-conversion] - of a subclass
    if isinstance(value, float):
        return float(value) if math.isfinite(value) else None
    if isinstance(value, (Problem, Place)):
        return to_json(value.to_json())
    if is_dataclass(value) and not isinstance(value, type):
        return _of_dataclass(value)
    if isinstance(value, Record):
        return to_json(to_mapping(value))
    if isinstance(value, Mapping):
        return {str(key): to_json(item) for key, item in value.items()}
    if isinstance(value, (list, tuple)):
        return [to_json(item) for item in value]
    if isinstance(value, date):  # a datetime is one too
        return value.isoformat()
    if hasattr(value, "tolist"):  # a number or an array of numpy
        return to_json(value.tolist())
    raise TypeError(f"{type(value).__name__} has no JSON")


def _of_dataclass(value: Any) -> dict[str, Any]:
    data: dict[str, Any] = {}
    kind: Any = type(value)
    for key in _keys(kind):
        inner = getattr(value, key.attribute)
        if key.flat:
            written = to_json(inner)
            data |= {name: written[name] for name in key.only or written}
        elif key.digits is not None:
            data[key.name] = [
                float(f"{v:.{key.digits}g}") if math.isfinite(v) else None for v in inner.tolist()
            ]
        else:
            data[key.name] = to_json(inner)
    return data


def from_json(kind: type[T], data: Any, source: str) -> T:
    """The dataclass that :func:`to_json` wrote.

    Parameters
    ----------
    kind : type
        A dataclass without left out, renamed or flat fields.
    data : plain data
        Fields that have a default may be missing; unknown ones are refused.
    source : str
        What messages call it.

    Raises
    ------
    RecordError
        Every field that is missing, unknown or of another type, with its path.
    """
    plain: Any = kind
    try:
        made: T = _adapter(plain).validate_json(json.dumps(data, default=str))
    except ValidationError as error:
        raise RecordError(problems_of(error, shape(plain), source)) from None
    return made


@cache
def _adapter(kind: Any) -> TypeAdapter[Any]:
    return TypeAdapter(_json_type(kind))


@cache
def shape(kind: Any) -> type[BaseModel]:
    """The pydantic model of a dataclass's JSON: its keys, all of them always there.

    ``kind`` may be a dataclass or, of one with a type variable, ``Kind[Inner]``; a record is
    its own shape, only that what is unknown is left out.
    """
    plain: Any = get_origin(kind) or kind
    if issubclass(plain, Problem):
        return ProblemShape
    if issubclass(plain, Record):
        record: type[BaseModel] = plain
        return record
    inner = get_args(kind)
    hints = get_type_hints(plain, include_extras=True)
    defaults = {
        one.name: PydanticUndefined if one.default is MISSING else one.default
        for one in fields(plain)
    }
    content: dict[str, Any] = {}
    for key in _keys(plain):
        if key.attribute in hints:
            hint = hints[key.attribute]
        else:
            getter = getattr(plain, key.attribute).fget
            hint = get_type_hints(getter, include_extras=True)["return"]
        if isinstance(hint, TypeVar):
            hint = inner[0] if inner else hint.__bound__
        if key.flat:
            content |= {
                name: (info.annotation, info)
                for name, info in shape(hint).model_fields.items()
                if not key.only or name in key.only
            }
        else:
            content[key.name] = (_json_type(hint), defaults.get(key.attribute, PydanticUndefined))
    name = plain.__name__ + "".join(one.__name__ for one in inner)
    made: type[BaseModel] = _create_model(
        name, __config__=_CONFIG, __doc__=plain.__doc__, __module__=plain.__module__, **content
    )
    _SOURCES[name] = plain
    return made


class PlaceShape(BaseModel):
    """A place for programs: only the keys that apply are there."""

    model_config = ConfigDict(extra="forbid")
    source: str = Field("", description="file, record, form or request that was given")
    table: str = Field("", description="table or file inside the source")
    line: int | None = Field(None, description="line of a text, from 1")
    row: int | None = Field(None, description="row of a table, from 1; its heading is row 1")
    column: str = Field("", description="name of a table's column")
    field: list[str | int] = Field([], description="path of a record's field, outermost first")


class ProblemShape(BaseModel):
    """One thing that is wrong with an input."""

    model_config = ConfigDict(extra="forbid")
    what: str = Field(description="what is wrong, with the number and the limit")
    where: str = Field(description="the place in words")
    path: PlaceShape | None = Field(description="the place for programs, where it is known")
    value: float | str | bool | None = Field(description="the value seen")
    remedy: str = Field(description="what to do")


_CONFIG = ConfigDict(
    strict=True, extra="forbid", frozen=True, json_schema_serialization_defaults_required=True
)
_SOURCES: dict[str, type] = {}
"""The dataclasses that shapes were made of, by the shape's name."""


def shape_sources() -> Mapping[str, type]:
    """The dataclass of every shape made so far, by the shape's name."""
    return _SOURCES


def _builder(kind: Any) -> Callable[[BaseModel], Any] | None:
    """Makes the dataclass of its shape; None where its JSON does not hold all its fields."""
    plain = get_origin(kind) or kind
    if issubclass(plain, Problem):
        return None
    rest = {
        one.name: one.metadata["read_back_as"]
        for one in fields(plain)
        if "read_back_as" in one.metadata
    }
    there = {key.name for key in _keys(plain) if not key.flat and key.name == key.attribute}
    if there | set(rest) != {one.name for one in fields(plain)} or hasattr(plain, "json_also"):
        return None
    return lambda model: plain(**rest, **{name: getattr(model, name) for name in there})


def _to_array(values: list[float | None]) -> Any:
    import numpy as np

    return np.array(values, dtype=np.float64)


def _json_type(hint: Any) -> Any:  # noqa: PLR0911 - one for each kind of type
    """A type as its JSON is: dataclasses by their shapes, arrays as lists, and how to read it."""
    plain = get_origin(hint)
    if is_dataclass(plain or hint):
        build = _builder(hint)
        made = shape(hint)
        return Annotated[made, AfterValidator(build)] if build else made
    if plain is None:
        return hint
    inner = get_args(hint)
    if plain is Annotated:
        if _NotBounded in inner:
            return Annotated[
                float | None, AfterValidator(lambda value: math.inf if value is None else value)
            ]
        return Annotated[(_json_type(inner[0]), *inner[1:])]  # pyrefly: ignore[invalid-annotation]
    if getattr(plain, "__name__", "") == "ndarray":
        return Annotated[list[float | None], AfterValidator(_to_array)]
    if plain in (Union, types.UnionType):
        return Union[tuple(map(_json_type, inner))]  # noqa: UP007 # pyrefly: ignore[invalid-annotation]
    if isinstance(plain, type) and issubclass(plain, Mapping):
        return dict[str, _json_type(inner[1])]  # pyrefly: ignore[invalid-annotation]
    if plain is tuple:
        items = [one if one is ... else _json_type(one) for one in inner]
        return tuple.__class_getitem__(tuple(items))
    if isinstance(plain, type) and issubclass(plain, Sequence):
        return list[_json_type(inner[0])]  # pyrefly: ignore[invalid-annotation]
    return hint
