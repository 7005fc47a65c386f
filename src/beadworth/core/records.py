"""What every record shares: strict frozen models, TOML in and out, errors that teach.

A record is a pydantic model that refuses unknown fields and takes no value of
another type on trust. :func:`from_mapping` and :func:`from_toml` turn pydantic's
complaints into our own :class:`~beadworth.core.errors.Problem` list, all at once.
"""

from __future__ import annotations

import difflib
import json
import re
import tomllib
from collections.abc import Sequence
from typing import Any, TypeVar, get_args

from pydantic import BaseModel, ConfigDict, ValidationError

from beadworth.core.errors import Place, Problem, RecordError
from beadworth.text import ambiguity


class Record(BaseModel):
    """A frozen record: unknown fields are refused, types are not bent."""

    model_config = ConfigDict(frozen=True, extra="forbid", strict=True, allow_inf_nan=False)


R = TypeVar("R", bound=Record)

MISSING = "this field is missing."
"""What is said of a field that has to be there and is not."""

_SAID = {
    "float_type": "{seen} is not a number.",
    "float_parsing": "{seen} is not a number.",
    "finite_number": "{seen} is not a finite number.",
    "int_type": "{seen} is not a whole number.",
    "int_parsing": "{seen} is not a whole number.",
    "int_from_float": "{seen} is not a whole number.",
    "bool_type": "{seen} is neither true nor false.",
    "bool_parsing": "{seen} is neither true nor false.",
    "string_type": "{seen} is not text.",
    "string_too_short": "{seen} is shorter than {min_length} characters.",
    "string_too_long": "this is longer than {max_length} characters.",
    "tuple_type": "{seen} is not a list of values.",
    "list_type": "{seen} is not a list of values.",
    "too_short": "too few values: {actual_length} given, at least {min_length} needed.",
    "too_long": "too many values: {actual_length} given, at most {max_length} taken.",
    "model_type": "{seen} is not a table of fields.",
    "model_attributes_type": "{seen} is not a table of fields.",
    "date_from_datetime_parsing": "{seen} is not a day.",
    "date_parsing": "{seen} is not a day.",
    "literal_error": "{seen} is none of {expected}.",
    "greater_than": "{seen} is not above {gt:g}.",
    "greater_than_equal": "{seen} is below {ge:g}.",
    "less_than": "{seen} is not below {lt:g}.",
    "less_than_equal": "{seen} is above {le:g}.",
}
"""What is said of a value, by pydantic's name for what is wrong with it."""


def from_mapping(kind: type[R], data: dict[str, Any], source: str) -> R:
    """Make a record from plain data.

    Raises
    ------
    RecordError
        Every field that is missing, unknown, of the wrong type or out of range,
        each with its path, the value seen and the remedy.
    """
    # Through JSON: pydantic's strict mode then takes a list for a tuple, as TOML and forms give it.
    text = json.dumps(data, default=str)
    try:
        return kind.model_validate_json(text)
    except ValidationError as error:
        raise RecordError(problems_of(error, kind, source)) from None


def parse_toml(text: str, source: str) -> dict[str, Any]:
    """TOML text as plain data; ``source`` is the file name used in messages.

    Raises
    ------
    RecordError
        Text that is not TOML, with the line and column.
    """
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        at = re.search(r"\(at line (\d+)", str(error))
        raise RecordError(
            f"this is not TOML: {error}.",
            where=source,
            path=Place(source, line=int(at[1]) if at else None),
            remedy="Correct the line named and try again; nothing was imported.",
        ) from None


def from_toml(kind: type[R], text: str, source: str) -> R:
    """Make a record from TOML text (see :func:`from_mapping` and :func:`parse_toml`)."""
    return from_mapping(kind, parse_toml(text, source), source)


def to_mapping(record: Record) -> dict[str, Any]:
    """The record as plain data, fields that were left unknown left out."""
    return record.model_dump(mode="json", exclude_none=True)


def to_toml(record: Record) -> str:
    """The record as TOML text that :func:`from_toml` reads back to an equal record."""
    import tomli_w

    return tomli_w.dumps(to_mapping(record))


def problems_of(error: ValidationError, kind: type[BaseModel], source: str) -> list[Problem]:
    """Pydantic's complaints about a model in our own words, each with its place."""
    return [_problem(item, kind, source) for item in _worth_saying(error.errors())]


def _worth_saying(items: Sequence[Any]) -> list[Any]:
    """The complaints, without those that a list is too short because an item of it is wrong."""
    paths = [item["loc"] for item in items]
    return [
        item
        for item in items
        if item["type"] != "too_short"
        or all(path == item["loc"] or path[: len(item["loc"])] != item["loc"] for path in paths)
    ]


def _problem(item: Any, kind: type[BaseModel], source: str) -> Problem:
    """One pydantic complaint in our own words."""
    where = Place(source, field=tuple(item["loc"]))
    path = where.dotted
    value = item.get("input")
    message = str(item["msg"])
    meaning = _meaning(kind, item["loc"])
    if item["type"] == "missing":
        return Problem(MISSING, where, None, f"Add {path}{meaning and f' ({meaning})'}.")
    if item["type"] == "extra_forbidden":
        fields = _table(kind, item["loc"][:-1]).model_fields
        near = difflib.get_close_matches(str(item["loc"][-1]), fields, n=1, cutoff=0.75)
        perhaps = (
            f"Perhaps {near[0]} ({_meaning(kind, (*item['loc'][:-1], near[0]))}). " if near else ""
        )
        return Problem(
            f"no field of this name is known (seen: {value!r}).",
            where,
            value,
            f"{perhaps}Correct the spelling or remove it; known here: {', '.join(fields)}.",
        )
    if item["type"] == "value_error":
        return Problem(message.removeprefix("Value error, "), where, value)
    if item["type"] == "beadworth":
        return Problem(message, where, value, str(item["ctx"]["remedy"]))
    if item["type"] in ("float_type", "float_parsing") and isinstance(item["loc"][-1], int):
        unclear = ambiguity(value) if isinstance(value, str) else None
        if unclear:
            return Problem(unclear[0], where, value, unclear[1])
    remedy = f"Correct this value: {meaning}." if meaning else "Correct this value."
    seen = repr(value) if isinstance(value, str) else str(value)
    said = _SAID.get(item["type"])
    what = said.format(seen=seen, **item.get("ctx", {})) if said else f"{message} (seen: {seen})."
    return Problem(what, where, value, remedy)


def _meaning(kind: type[BaseModel], path: tuple[int | str, ...]) -> str:
    """What the field of a path means, with its unit, as its record describes it."""
    names = [part for part in path if isinstance(part, str)]
    if not names:
        return ""
    field = _table(kind, tuple(names[:-1])).model_fields.get(names[-1])
    return ((field.description if field else None) or "").partition("; ")[0]


def _table(kind: type[BaseModel], path: tuple[int | str, ...]) -> type[BaseModel]:
    """The model of the (sub)table a path leads to, so that a message names its fields."""
    for part in path:
        field = kind.model_fields.get(str(part))
        if field is None:
            continue
        kind = _model_in(field.annotation) or kind
    return kind


def _model_in(annotation: Any) -> type[BaseModel] | None:
    """The record type inside an annotation (optional, tuple of records), if there is one."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    return next(filter(None, map(_model_in, get_args(annotation))), None)
