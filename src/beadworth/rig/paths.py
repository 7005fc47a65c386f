"""Field paths: every value of a rig by its dotted name, read, looked up and described."""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache
from typing import Any, get_args

from pydantic import BaseModel
from pydantic.fields import FieldInfo


def walk(kind: type[BaseModel], prefix: str = "") -> Iterator[tuple[str, FieldInfo]]:
    """Every field of a record and of the records inside it; ``*`` stands for a list's index."""
    for name, info in kind.model_fields.items():
        path = f"{prefix}{name}"
        yield path, info
        inner = record_in(info.annotation)
        if inner is not None and not _is_mapping(info.annotation):
            dots = f"{path}.*." if _is_list(info.annotation) else f"{path}."
            yield from walk(inner, dots)


@cache
def known_paths(kind: type[BaseModel]) -> frozenset[str]:
    """The paths of all values that are no tables themselves."""
    return frozenset(path for path, info in walk(kind) if record_in(info.annotation) is None)


@cache
def descriptions(kind: type[BaseModel]) -> dict[str, str]:
    """What each path means, as its record says."""
    return {path: info.description or "" for path, info in walk(kind)}


def describe(kind: type[BaseModel], path: str) -> str:
    """The meaning of one path, without what stands after its unit."""
    plain = ".".join("*" if part.isdecimal() else part for part in path.split("."))
    return descriptions(kind).get(plain, "").partition("; ")[0]


def look_up(record: BaseModel, path: str) -> Any:
    """The value at a path; None where it or a table before it is not there."""
    value: Any = record
    for part in path.split("."):
        if isinstance(value, tuple):
            index = int(part) if part.isdecimal() else len(value)
            value = value[index] if index < len(value) else None
        else:
            value = getattr(value, part, None)
        if value is None:
            return None
    return value


def replaced(record: Any, path: str, value: Any) -> Any:
    """The same record with one value changed; ranges are not checked again."""
    head, _, rest = path.partition(".")
    if isinstance(record, tuple):
        index = int(head)
        inner = replaced(record[index], rest, value) if rest else value
        return (*record[:index], inner, *record[index + 1 :])
    inner = replaced(getattr(record, head), rest, value) if rest else value
    return record.model_copy(update={head: inner})


def record_in(annotation: Any) -> type[BaseModel] | None:
    """The record type inside an annotation, if there is one."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    for part in get_args(annotation):
        found = record_in(part)
        if found is not None:
            return found
    return None


def _is_list(annotation: Any) -> bool:
    return getattr(annotation, "__origin__", None) is tuple or any(
        _is_list(part) for part in get_args(annotation)
    )


def _is_mapping(annotation: Any) -> bool:
    return getattr(annotation, "__origin__", None) is dict
