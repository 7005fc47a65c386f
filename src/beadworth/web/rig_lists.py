"""What a rig's record holds as lists, and how well its values are known, as forms.

Rows of fans, holes and slots stand under the paths the record itself uses (``fans.0.volts_v``),
so its own rules put a problem beside the cell it names. A row left empty is no row.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from beadworth.core import Record, to_mapping
from beadworth.rig import Fan, Hole, Rig, Slot, look_up
from beadworth.web.forms import Field, Group, collect, fields, put
from beadworth.web.forms import look_up as value_at
from beadworth.web.record_fields import fields_of
from beadworth.web.rig_sheet import parts_of

SPARE_ROWS = 2
"""Empty rows offered below what is there."""
MOST_ROWS = 60


@dataclass(frozen=True)
class RowsOf:
    """One list of the record: where it stands, what it is called, what its rows are."""

    path: str
    title: str
    one: str
    intro: str
    kind: type[Record]


LISTS = (
    RowsOf("fans", "Fans", "Fan", "Volts and current stand on their labels.", Fan),
    RowsOf(
        "mounting.part.holes",
        "Holes of the part",
        "Hole",
        "Positions from any one corner of the mounting face, seen from in front of it.",
        Hole,
    ),
    RowsOf(
        "mounting.part.slots",
        "Slots of the part",
        "Slot",
        "From the same corner to their middle.",
        Slot,
    ),
    RowsOf(
        "mounting.carriage.holes",
        "Holes of the carriage",
        "Hole",
        "From a corner of the carriage; it need not be the part's: the check turns and shifts.",
        Hole,
    ),
    RowsOf("mounting.carriage.slots", "Slots of the carriage", "Slot", "", Slot),
)
ORIGINS = (
    ("measured", "measured"),
    ("datasheet", "data sheet"),
    ("handbook", "handbook"),
    ("assumed", "assumed"),
)


def columns(kind: type[Record]) -> tuple[Field, ...]:
    """The cells of a row, paths within the row; a choice may be left open, which is its default."""
    return tuple(field for _, field in fields_of(kind, ()))


def rows_of(rig: Rig, rows: RowsOf, more: int = 0) -> int:
    """How many rows the form shows: those there, two spare ones, and ``more`` asked for."""
    there = look_up(rig, rows.path) or ()
    return min(len(there) + SPARE_ROWS + more, MOST_ROWS)


def list_groups(counts: Mapping[str, int]) -> tuple[Group, ...]:
    """Every cell of every row as a form, one group per list."""
    groups = []
    for rows in LISTS:
        cells = tuple(
            Field(
                f"{rows.path}.{number}.{cell.path}", f"{rows.title}, {number + 1}: {cell.label}",
                cell.unit, cell.help, cell.kind, cell.choices,
            )
            for number in range(counts[rows.path])
            for cell in columns(rows.kind)
        )  # fmt: skip
        groups.append(Group(rows.title, rows.intro, cells))
    return tuple(groups)


def short_rows(rows: RowsOf, count: int) -> list[tuple[Field, ...]]:
    """The same cells row by row, with the words of the column alone."""
    return [
        tuple(
            replace(cell, path=f"{rows.path}.{number}.{cell.path}") for cell in columns(rows.kind)
        )
        for number in range(count)
    ]


def typed_lists(rig: Rig) -> dict[str, Any]:
    """The lists of a rig as nested data whose keys are row numbers, as the form names them."""
    data: dict[str, Any] = {}
    for rows in LISTS:
        for number, row in enumerate(look_up(rig, rows.path) or ()):
            put(data, (*rows.path.split("."), str(number)), to_mapping(row))
    return data


def with_lists(before: Mapping[str, Any], typed: Mapping[str, str], counts: Mapping[str, int]) -> (
    tuple[dict[str, Any], dict[str, str]]
):  # fmt: skip
    """A record's plain data with the lists as typed, and where each typed row went.

    Returns
    -------
    (data, moved)
        ``moved`` leads from a row's path in the record to its path in the form, so that problems
        find their cells; what is known of a value moves with its row.
    """
    found = collect(list_groups(counts), typed)
    data = {name: value for name, value in before.items() if name != "known"}
    moved: dict[str, str] = {}
    renumbered: dict[str, str | None] = {}
    for rows in LISTS:
        filled: list[dict[str, Any]] = []
        cells = value_at(found, rows.path.split(".")) or {}
        for number in range(counts[rows.path]):
            old = f"{rows.path}.{number}"
            row = cells.get(str(number))
            renumbered[old] = f"{rows.path}.{len(filled)}" if row else None
            if row:
                moved[f"{rows.path}.{len(filled)}"] = old
                filled.append(row)
        data = _set(data, rows.path, filled)
    known = {}
    for path, value in (before.get("known") or {}).items():
        row_path = ".".join(path.split(".")[:-1])
        new = renumbered.get(row_path, row_path)
        if new is not None:
            known[f"{new}.{path.rpartition('.')[2]}" if row_path else path] = value
    if known:
        data["known"] = known
    return data, moved


KnownRows = list[tuple[str, list[tuple[str, tuple[Field, ...]]]]]
"""By part: each value as it reads, and the cells for how well it is known."""


def known_rows(rig: Rig) -> KnownRows:
    """Uncertainty, origin and note of every single value a rig records, by part."""
    units = {field.path: field.unit for _, field in fields_of(Rig, ())}
    made: KnownRows = []
    for part in parts_of(rig):
        own = [
            (f"{line.label}: {line.value} {line.unit}".strip(), _known_cells(rig, line.path, units))
            for line in part.lines
            if line.path in units  # what is known of a list's values stands in the TOML record
        ]
        made += [(part.title, own)] if own else []
    return made


def known_groups(rows: KnownRows) -> tuple[Group, ...]:
    """The same as a form, each cell named in full."""
    return tuple(
        Group(
            title,
            "",
            tuple(
                replace(cell, label=f"{value}, {cell.label.lower()}")
                for value, cells in own
                for cell in cells
            ),
        )
        for title, own in rows
    )


def _known_cells(rig: Rig, path: str, units: Mapping[str, str]) -> tuple[Field, ...]:
    """The cells of one value; words and counts have no uncertainty."""
    cells = [
        Field("origin", "Where from", kind="choice", choices=ORIGINS, empty="not stated"),
        Field("note", "Note", kind="text"),
    ]
    if isinstance(look_up(rig, path), float):
        cells.insert(0, Field("u", "u", units[path]))
    return tuple(
        replace(cell, path=f"known.{path}.{cell.path}", names=("known", path, cell.path))
        for cell in cells
    )


def with_known(
    before: Mapping[str, Any], groups: tuple[Group, ...], typed: Mapping[str, str]
) -> dict[str, Any]:
    """A record's plain data with what is known of its values as typed."""
    here = {field.names[1] for field in fields(groups)}
    elsewhere = {p: v for p, v in (before.get("known") or {}).items() if p not in here}
    return {**before, "known": elsewhere | collect(groups, typed).get("known", {})}


def _set(data: Mapping[str, Any], path: str, rows: list[Any]) -> dict[str, Any]:
    """The same data with a list in its place; an empty one is left out, and so are its tables."""
    head, _, rest = path.partition(".")
    made = dict(data)
    if rest:
        inner = _set(made.get(head) or {}, rest, rows)
        if inner:
            made[head] = inner
        else:
            made.pop(head, None)
    elif rows:
        made[head] = rows
    else:
        made.pop(head, None)
    return made
