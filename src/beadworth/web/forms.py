"""Forms: fields with units, what was typed held as typed, and problems beside their fields.

A form is a table of :class:`Group` and :class:`Field`, written by hand where its order and words
matter and made from a record otherwise (:mod:`beadworth.web.record_fields`). :func:`collect`
turns what was typed into the plain data a record is made from; the record's own rules find what
is wrong, in the words the terminal shows; :func:`refused` puts each problem beside the field
whose path it names.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, Literal

from beadworth.core import MISSING, BeadworthError, Problem
from beadworth.text import parse_number, parse_numbers
from beadworth.web.units import factor, parted

Kind = Literal[
    "number", "whole", "numbers", "text", "long", "choice", "truth", "date", "estimate", "pairs"
]
ESTIMATE = (("", "value"), (".low", "low"), (".high", "high"))
"""Endings of the three boxes of an estimate, and the field of the record each fills."""


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
    headed: tuple[tuple[str, tuple[tuple[str, str], ...]], ...] = ()
    """More choices, under headings."""
    required: bool = False
    wanted: str = ""
    """What cannot be done without it, said beside the label of a field that may stay empty."""
    empty: str = "not known"
    """What leaving a choice open means."""
    scale: float = 1.0
    """The record's value per unit typed: 0.01 where per cent is typed for a fraction."""
    suggest: tuple[str, ...] = ()
    """Values offered while typing, for ``text``."""
    start: str = ""
    """What a new form holds."""
    example: str = ""
    """Shown in an empty box."""
    names: tuple[str, ...] = ()
    """The path in parts, where a part has dots of its own."""

    @property
    def steps(self) -> tuple[str, ...]:
        """The path in parts."""
        return self.names or tuple(self.path.split("."))

    @property
    def boxes(self) -> tuple[str, ...]:
        """The names its entries are sent under."""
        return tuple(self.path + end for end, _ in ESTIMATE) if self.kind == "estimate" else (
            self.path,
        )  # fmt: skip


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
    """What was typed, by field path, as typed; a field that was not sent holds its start."""
    return {
        box: str(form.get(box, field.start if box == field.path else "")).strip()
        for field in fields(groups)
        for box in field.boxes
    }


def collect(groups: Sequence[Group], typed: Mapping[str, str]) -> dict[str, Any]:
    """What was typed as plain nested data; fields left empty are left out.

    What cannot be read as its field's kind is passed on as text, so that the
    record's rules name it along with everything else that is wrong.
    """
    data: dict[str, Any] = {}
    for field in fields(groups):
        value = _estimate(field, typed) if field.kind == "estimate" else _one(field, typed)
        if value is not None:
            put(data, field.steps, value)
    return data


def put(data: dict[str, Any], steps: Sequence[str], value: Any) -> None:
    """Put a value into nested data, its tables made on the way."""
    for name in steps[:-1]:
        data = data.setdefault(name, {})
    data[steps[-1]] = value


def look_up(data: Any, steps: Sequence[str]) -> Any:
    """A value of nested data; None where it is not there."""
    for name in steps:
        if not isinstance(data, Mapping) or name not in data:
            return None
        data = data[name]
    return data


def laid_over(
    before: Mapping[str, Any], groups: Sequence[Group], data: Mapping[str, Any]
) -> dict[str, Any]:
    """What was typed laid over a record: fields the form does not have stay as they were."""
    return _merged(_without({field.steps for field in fields(groups)}, before, ()), data)


def _without(
    gone: set[tuple[str, ...]], data: Mapping[str, Any], tables: tuple[str, ...]
) -> dict[str, Any]:
    left: dict[str, Any] = {}
    for name, value in data.items():
        steps = (*tables, name)
        if steps in gone:
            continue
        if isinstance(value, Mapping):
            inner = _without(gone, value, steps)
            if inner:
                left[name] = inner
        else:
            left[name] = value
    return left


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


def _one(field: Field, typed: Mapping[str, str]) -> Any:
    text = typed.get(field.path, "")
    return _value(field, text) if text else None


def _estimate(field: Field, typed: Mapping[str, str]) -> Any:
    """A value, limits, or both, as a record writes them; the text where one is no number."""
    given = {}
    for end, name in ESTIMATE:
        text = typed.get(field.path + end, "")
        if text:
            value = parse_number(text)
            if value is None:
                return text
            given[name] = value
    return given.get("value") if list(given) == ["value"] else given or None


def _value(field: Field, text: str) -> Any:
    if field.kind == "truth":
        return {"yes": True, "no": False}.get(text, text)
    if field.kind == "numbers":
        return parse_numbers(text)
    if field.kind == "pairs":
        return [line.strip() for line in text.splitlines() if line.strip()]
    if field.kind == "whole":
        return int(text) if re.fullmatch(r"[+-]?\d{1,12}", text) else text
    if field.kind == "number":
        value = _in_unit(text, field.unit)
        return text if value is None else round(value * field.scale, 12)
    return text


def _in_unit(text: str, unit: str) -> float | None:
    """A number, with or without a unit that can be turned into the field's."""
    digits, typed = parted(text)
    value = parse_number(digits)
    times = factor(typed, unit) if typed else 1.0
    return None if value is None or times is None else value * times


def typed_from(groups: Sequence[Group], data: Mapping[str, Any]) -> dict[str, str]:
    """A record's plain data as it would be typed."""
    typed: dict[str, str] = {}
    for field in fields(groups):
        value = look_up(data, field.steps)
        if field.kind == "estimate":
            parts = value if isinstance(value, Mapping) else {"value": value}
            typed |= {field.path + end: _text(field, parts.get(name)) for end, name in ESTIMATE}
        else:
            typed[field.path] = _text(field, value)
    return typed


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


def refused(
    groups: Sequence[Group],
    typed: dict[str, str],
    error: BeadworthError,
    moved: Mapping[str, str] | None = None,
) -> Form:
    """The form again, as typed, each problem beside the field whose path it names.

    Parameters
    ----------
    moved : mapping, optional
        Where parts of the record stand in the form under another path: record's to form's.
    """
    known = {field.path: field for field in fields(groups)}
    problems: list[Problem] = []
    beside: dict[str, tuple[Problem, ...]] = {}
    for problem in error.problems:
        path = _in_form(problem.path.dotted if problem.path else "", moved or {})
        while path and path not in known:
            path = path.rpartition(".")[0]
        worded = _in_form_words(problem, known[path], typed) if path else problem
        problems.append(worded)
        if path:
            beside[path] = (*beside.get(path, ()), worded)
    return Form(typed, tuple(problems), beside)


def _in_form(path: str, moved: Mapping[str, str]) -> str:
    for old in sorted(moved, key=len, reverse=True):
        if path == old or path.startswith(f"{old}."):
            return moved[old] + path[len(old) :]
    return path


def _in_form_words(problem: Problem, field: Field, typed: Mapping[str, str]) -> Problem:
    """A field is filled in, not added; a line has its number; per cent stands by its fraction."""
    if problem.what == MISSING:
        how = "Choose one." if field.kind in ("choice", "truth") else "Fill it in."
        return replace(problem, what="This is needed.", remedy=how)
    last = problem.path.field[-1] if problem.path and problem.path.field else None
    if field.kind == "pairs" and isinstance(last, int):
        lines = [n for n, line in enumerate(typed[field.path].splitlines(), 1) if line.strip()]
        return replace(problem, what=f"line {lines[last]}: {problem.what}")
    if field.scale == 1.0 or not isinstance(problem.value, (int, float)):
        return problem
    aside = f"Counted as a fraction: {problem.value:g} is {problem.value / field.scale:g} %."
    return replace(problem, remedy=f"{problem.remedy} {aside}".strip())
