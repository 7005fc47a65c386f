"""A table of a package read against its schema: every cell that does not fit is told."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Callable
from typing import Any

from beadworth.core import Place, Problem
from beadworth.datapackage.schema import Column, TableSpec

Row = dict[str, Any]
LARGEST = 1e12
"""Beyond it no quantity here can be, and squares would overflow."""
MOST_TOLD = 20
"""Cells told of one table before the rest is only counted."""
_REMEDY = "Ask whoever made the package for a whole one. Nothing was imported."
_NUMBER = re.compile(r"[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d{1,3})?", re.ASCII)
_WHOLE = re.compile(r"[+-]?\d{1,15}", re.ASCII)


def read_table(spec: TableSpec, text: str, tell: Callable[[Problem], None]) -> list[Row]:
    """The rows as Python values; what is wrong is told, and such rows are left out.

    Parameters
    ----------
    spec : TableSpec
    text : str
        The CSV file.
    tell : callable
        Takes each problem.
    """
    told = 0

    def complain(what: str, row: int | None = None, column: str = "", value: Any = None) -> None:
        nonlocal told
        told += 1
        if told <= MOST_TOLD:
            tell(Problem(what, Place(spec.path, row=row, column=column), value, _REMEDY))

    try:
        lines = list(csv.reader(io.StringIO(text, newline=""), strict=True))
    except csv.Error as error:
        complain(f"this is not a table: {error}.", 1)
        return []
    names = [column.name for column in spec.columns]
    if not lines or lines[0] != names:
        seen = ", ".join(lines[0])[:200] if lines else "nothing"
        complain(f"the columns are {seen}, not {', '.join(names)} as the schema says.", 1)
        return []
    if len(lines) - 1 > spec.most_rows:
        complain(f"{len(lines) - 1} rows are more than the {spec.most_rows} allowed.")
        return []
    rows = []
    for number, cells in enumerate(lines[1:], start=2):
        if len(cells) != len(names):
            complain(f"{len(cells)} cells stand under {len(names)} columns.", number)
            continue
        before = told
        row = {
            column.name: _cell(column, cell, number, complain)
            for column, cell in zip(spec.columns, cells, strict=True)
        }
        if told == before:
            rows.append(row)
    _keys(spec, rows, complain)
    if told > MOST_TOLD:
        tell(Problem(f"{told - MOST_TOLD} more cells are at fault.", spec.path, None, _REMEDY))
    return rows


def _keys(spec: TableSpec, rows: list[Row], complain: Callable[..., None]) -> None:
    """Each row once by its primary key."""
    seen: set[tuple[Any, ...]] = set()
    for row in rows:
        key = tuple(row[name] for name in spec.key)
        if key in seen:
            said = ", ".join(f"{n} {v}" for n, v in zip(spec.key, key, strict=True))
            complain(f"{said} stands twice, but names one row only.")
        seen.add(key)


def _cell(column: Column, cell: str, row: int, complain: Callable[..., None]) -> Any:
    if cell == "":
        if column.required:
            complain("this cell is empty.", row, column.name)
        return None
    value: Any = cell
    if column.type == "boolean":
        value = {"true": True, "false": False}.get(cell)
    elif column.type == "integer":
        value = int(cell) if _WHOLE.fullmatch(cell) else None
    elif column.type == "number":
        value = float(cell) if _NUMBER.fullmatch(cell) else None
        value = value if value is not None and abs(value) <= LARGEST else None
    if value is None:
        complain(f"{cell[:40]!r} is no {column.type}.", row, column.name, cell[:40])
    elif column.enum and value not in column.enum:
        complain(f"{cell[:40]!r} is none of {', '.join(column.enum)}.", row, column.name, cell[:40])
    elif column.minimum is not None and value < column.minimum:
        complain(f"{cell[:40]} is below the least of {column.minimum:g}.", row, column.name, value)
    elif column.maximum is not None and value > column.maximum:
        complain(f"{cell[:40]} is above the most of {column.maximum:g}.", row, column.name, value)
    return value
