"""Which line of a TOML text a problem stands in."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace

from beadworth.core import BeadworthError, Problem


def with_lines(error: BeadworthError, text: str) -> tuple[Problem, ...]:
    """The problems of a refusal, each with its line in a TOML text, where it is known."""
    return tuple(_with_line(problem, text) for problem in error.problems)


def _with_line(problem: Problem, text: str) -> Problem:
    place = problem.path
    if place is None or place.line is not None or not place.field:
        return problem
    return replace(problem, path=replace(place, line=toml_line(text, place.dotted)))


def toml_line(text: str, path: str) -> int | None:
    """The line of a TOML text that gives the value of a dotted path, or its table.

    A plain reading of headings and keys, good enough to point at a line; None where the path
    is not written there.
    """
    want = _plain_path(path)
    table: Sequence[str] = ()
    near: int | None = None
    for line_number, line in enumerate(text.splitlines(), 1):
        heading = re.match(r"\s*\[\[?\s*([^\]]+?)\s*\]\]?\s*(#.*)?$", line)
        if heading:
            table = _keys(heading[1])
            if table and list(table) == want[: len(table)]:
                near = line_number
            continue
        key = re.match(r"\s*([\w.\-\"' ]+?)\s*=", line)
        if key:
            whole = [*table, *_keys(key[1])]
            if whole == want:
                return line_number
            if whole == want[: len(whole)]:
                near = line_number
    return near


def _plain_path(path: str) -> list[str]:
    """The keys of a dotted path; places in lists left out."""
    return [key for key in _keys(path) if not key.isdigit()]


def _keys(text: str) -> list[str]:
    return [
        (quoted or bare).strip()
        for quoted, bare in re.findall(r"[\"']([^\"']+)[\"']|([\w\-]+)", text)
    ]
