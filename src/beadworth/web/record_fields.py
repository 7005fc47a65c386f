"""A place in the form for every field of a record, the newest too.

The tables of :mod:`beadworth.web.fields_records` name the fields most people fill in, in
an order of their own. What a record holds besides is given a plain field made from the
record's own description, so that a field added to a record is in its form the same day.
"""

from __future__ import annotations

import re
import types
from collections.abc import Iterator, Sequence
from datetime import date
from typing import Annotated, Any, Literal, Union, get_args, get_origin

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from beadworth.web.forms import Field, Group, Kind, fields

INTRO = "For what physics and checks can say beyond a trial. What you do not know, leave empty."
UNSHOWN = frozenset({"simulated"})
"""No choice of the person's: an invented record stays marked."""


def whole_form(kind: type[BaseModel], groups: Sequence[Group]) -> tuple[Group, ...]:
    """The groups, and folded ones for every field of the record they leave out."""
    named = {field.path for field in fields(groups)} | UNSHOWN
    rest: dict[str, list[Field]] = {}
    for tables, field in fields_of(kind, ()):
        if field.path not in named:
            rest.setdefault(_title(tables)[0], []).append(field)
    more = (Group(title, INTRO, tuple(own), folded=True) for title, own in rest.items())
    return (*groups, *more)


def fields_of(
    kind: type[BaseModel], tables: tuple[str, ...]
) -> Iterator[tuple[tuple[str, ...], Field]]:
    """Each field that is one value, with the tables it stands in."""
    for name, info in kind.model_fields.items():
        inner = _plain(info.annotation)
        if isinstance(inner, type) and issubclass(inner, BaseModel):
            yield from fields_of(inner, (*tables, name))
            continue
        field = _field(tables, name, info, inner)
        if field is not None:
            yield tables, field


def pick(kind: type[BaseModel], *paths: str) -> tuple[Field, ...]:
    """Fields of a record by their paths, in that order; all of them where none is named."""
    every = {field.path: field for _, field in fields_of(kind, ())}
    return tuple(every[path] for path in paths or every)


def _field(tables: tuple[str, ...], name: str, info: FieldInfo, inner: Any) -> Field | None:
    """One field by its record's description; its first example is what a new form holds.

    None for a list of tables, which stands in TOML only and stays when the form is saved.
    """
    kind = _kind_of(inner)
    if kind is None:
        return None
    _, parts = _title(tables)
    label, unit, help_ = words_of(info.description or name.replace("_", " "))
    label = ", ".join([*(part.replace("_", " ") for part in parts), label])
    choices = tuple((str(c), str(c)) for c in get_args(inner)) if kind == "choice" else ()
    if kind == "truth":
        choices = (("yes", "yes"), ("no", "no"))
    help_ = help_[:1].upper() + help_[1:]
    start = str(info.examples[0]) if info.examples else ""
    return Field(
        ".".join((*tables, name)), label[:1].upper() + label[1:], unit, help_, kind, choices,
        start=start,
    )  # fmt: skip


def _title(tables: tuple[str, ...]) -> tuple[str, tuple[str, ...]]:
    """The title of a field's group, and the tables its label has yet to name."""
    if not tables:
        return "Further properties", ()
    if tables[0] == "axes" and len(tables) > 1:
        return f"Axis {tables[1]}", tables[2:]
    return f"{tables[0].replace('_', ' ').capitalize()}, further", tables[1:]


def _plain(annotation: Any) -> Any:
    """The type inside Annotated and Optional."""
    while get_origin(annotation) in (Annotated, Union, types.UnionType):
        inside = [part for part in get_args(annotation) if part is not type(None)]
        annotation = inside[0]
    return annotation


def _kind_of(annotation: Any) -> Kind | None:
    if get_origin(annotation) is Literal:
        return "choice"
    if get_origin(annotation) is tuple:
        item = _plain(get_args(annotation)[0])
        return "numbers" if item is float else "pairs" if get_origin(item) is tuple else None
    kinds: dict[Any, Kind] = {
        bool: "truth", int: "whole", float: "number", str: "text", date: "date",
    }  # fmt: skip
    return kinds.get(annotation)


def words_of(description: str) -> tuple[str, str, str]:
    """Label, unit and help of a description: ``what it is, unit; more``."""
    head, _, more = description.partition("; ")
    found = re.fullmatch(r"(.+), ([^,\s]{1,12})", head)
    return (found[1], found[2], more) if found else (head, "", more)
