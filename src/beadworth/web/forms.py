"""Forms: fields with units, what was typed kept as typed, and problems beside their fields.

A form is a table of :class:`Group` and :class:`Field`. :func:`collect` turns what was
typed into the plain data a record is made from; the record's own rules find what is
wrong, in the words the terminal shows; :func:`by_field` puts each problem beside the
field it names.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, Literal

from beadworth.core import MISSING, BeadworthError, Problem
from beadworth.text import decimal, numbers
from beadworth.web.units import factor, parted

Kind = Literal["number", "whole", "numbers", "text", "long", "choice", "truth", "date"]


@dataclass(frozen=True)
class Field:
    """One field of a form; ``path`` is that of the record, dots between tables."""

    path: str
    label: str
    unit: str = ""
    help: str = ""
    kind: Kind = "number"
    choices: tuple[tuple[str, str], ...] = ()
    """Value and words, for ``choice``."""
    required: bool = False
    wanted: str = ""
    """What cannot be done without it, said beside the label of a field that may stay empty."""
    empty: str = "not known"
    """What leaving a choice open means."""
    scale: float = 1.0
    """The record's value per unit typed: 0.01 where per cent is typed for a fraction."""
    suggest: tuple[str, ...] = ()
    """Values offered while typing, for ``text``."""


@dataclass(frozen=True)
class Group:
    """Fields under one heading; ``folded`` ones open on demand."""

    title: str
    intro: str
    fields: tuple[Field, ...]
    folded: bool = False


@dataclass(frozen=True)
class Form:
    """What was typed and what is wrong with it."""

    typed: dict[str, str]
    problems: tuple[Problem, ...] = ()
    beside: Mapping[str, tuple[Problem, ...]] | None = None
    """Problems by field path; those of no field stand at the top only."""

    def at(self, path: str) -> tuple[Problem, ...]:
        """The problems of one field."""
        return (self.beside or {}).get(path, ())


def fields(groups: Iterable[Group]) -> Iterator[Field]:
    """Every field of a form."""
    for group in groups:
        yield from group.fields


def typed_in(groups: Sequence[Group], form: Mapping[str, Any]) -> dict[str, str]:
    """What was typed, by field path, as typed."""
    return {field.path: str(form.get(field.path, "")).strip() for field in fields(groups)}


def collect(groups: Sequence[Group], typed: Mapping[str, str]) -> dict[str, Any]:
    """What was typed as plain nested data; fields left empty are left out.

    What cannot be read as its field's kind is passed on as text, so that the
    record's rules name it along with everything else that is wrong.
    """
    data: dict[str, Any] = {}
    for field in fields(groups):
        text = typed.get(field.path, "")
        if not text:
            continue
        *tables, last = field.path.split(".")
        table = data
        for name in tables:
            table = table.setdefault(name, {})
        table[last] = _value(field, text)
    return data


def laid_over(
    before: Mapping[str, Any], groups: Sequence[Group], data: Mapping[str, Any]
) -> dict[str, Any]:
    """What was typed laid over a record: fields the form does not show stay as they were."""
    kept = _without({field.path for field in fields(groups)}, before, "")
    return _merged(kept, data)


def _without(paths: set[str], data: Mapping[str, Any], prefix: str) -> dict[str, Any]:
    kept: dict[str, Any] = {}
    for name, value in data.items():
        path = f"{prefix}{name}"
        if path in paths:
            continue
        if isinstance(value, Mapping):
            inner = _without(paths, value, f"{path}.")
            if inner:
                kept[name] = inner
        else:
            kept[name] = value
    return kept


def _merged(under: Mapping[str, Any], over: Mapping[str, Any]) -> dict[str, Any]:
    both = dict(under)
    for name, value in over.items():
        below = both.get(name)
        both[name] = (
            _merged(below, value)
            if isinstance(below, Mapping) and isinstance(value, Mapping)
            else value
        )
    return both


def _value(field: Field, text: str) -> Any:
    if field.kind == "truth":
        return {"yes": True, "no": False}.get(text, text)
    if field.kind == "numbers":
        return numbers(text)
    if field.kind == "whole":
        return int(text) if re.fullmatch(r"[+-]?\d{1,12}", text) else text
    if field.kind == "number":
        value = _in_unit(text, field.unit)
        return text if value is None else round(value * field.scale, 12)
    return text


def _in_unit(text: str, unit: str) -> float | None:
    """A number, with or without a unit that can be turned into the field's."""
    digits, typed = parted(text)
    value = decimal(digits)
    times = factor(typed, unit) if typed else 1.0
    return None if value is None or times is None else value * times


def typed_from(groups: Sequence[Group], data: Mapping[str, Any]) -> dict[str, str]:
    """A record's plain data as it would be typed."""
    return {field.path: _text(field, _look_up(data, field.path)) for field in fields(groups)}


def _look_up(data: Mapping[str, Any], path: str) -> Any:
    value: Any = data
    for name in path.split("."):
        if not isinstance(value, Mapping) or name not in value:
            return None
        value = value[name]
    return value


def _text(field: Field, value: Any) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, (list, tuple)):
        return "  ".join(f"{item:g}" for item in value)
    if isinstance(value, (int, float)):
        return f"{value / field.scale:.10g}"
    return str(value)


def by_field(groups: Sequence[Group], error: BeadworthError) -> dict[str, tuple[Problem, ...]]:
    """The problems of an error by the field each names (``…, field hot_end.nozzle_mm``)."""
    paths = {field.path for field in fields(groups)}
    beside: dict[str, tuple[Problem, ...]] = {}
    for problem in error.problems:
        found = re.search(r"(?:^|, )field ([\w.]+)", problem.where)
        path = found.group(1) if found else ""
        while path and path not in paths:
            path = path.rpartition(".")[0]
        if path:
            beside[path] = (*beside.get(path, ()), problem)
    return beside


def refused(groups: Sequence[Group], typed: dict[str, str], error: BeadworthError) -> Form:
    """The form again, as typed, with its problems."""
    scales = {field.path: field.scale for field in fields(groups)}
    beside = by_field(groups, error)
    said = {
        id(problem): _in_form_words(problem, scales[path])
        for path, problems in beside.items()
        for problem in problems
    }
    return Form(
        typed,
        tuple(said.get(id(problem), problem) for problem in error.problems),
        {path: tuple(said[id(problem)] for problem in all_) for path, all_ in beside.items()},
    )


def _in_form_words(problem: Problem, scale: float) -> Problem:
    """A field is filled in, not added; where per cent is typed for a fraction, say both."""
    if problem.what == MISSING:
        return replace(problem, what="This is needed.", remedy="Fill it in.")
    if scale == 1.0 or not isinstance(problem.value, (int, float)):
        return problem
    aside = f"Counted as a fraction: {problem.value:g} is {problem.value / scale:g} %."
    return replace(problem, remedy=f"{problem.remedy} {aside}".strip())
