"""The readings table: CSV or clipboard text in, CSV out; every fault of a table named at once."""

from __future__ import annotations

import csv
import difflib
import io
import re
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from beadworth.core import Place, ReadingsError
from beadworth.material import Material
from beadworth.rig import Rig
from beadworth.text import disarmed, quoted, rearmed
from beadworth.trial.readings.checks import Checks
from beadworth.trial.readings.entry import NOTHING_TAKEN, parse_number
from beadworth.trial.record import Plan, Reading

REQUIRED = ("rig", "material", "temperature_c", "flow_mm3_s", "filament_mm", "mass_g")
OPTIONAL = ("coupon", "replicate", "tare_g", "diameter_mm", "reference", "void", "note")
COLUMNS = REQUIRED + OPTIONAL
DELIMITERS = (",", ";", "\t")
_QUOTED = re.compile(r'[,;\t"\r\n]|^\s|\s$')


def write_readings_csv(readings: Sequence[Reading]) -> str:
    """Readings as CSV with every column; :func:`read_readings_csv` reads back equal readings.

    Comma-separated, decimal point, one line per reading; numbers in the shortest form that
    loses nothing. An apostrophe stands before a text that a spreadsheet would calculate.
    """
    rows = [COLUMNS, *([_cell(getattr(r, name)) for name in COLUMNS] for r in readings)]
    return "".join(",".join(map(_quoted, row)) + "\n" for row in rows)


def _cell(value: Any) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "1" if value else "0"
    if isinstance(value, str):
        return disarmed(value)
    return repr(float(value)) if isinstance(value, float) else str(value)


def _quoted(cell: str) -> str:
    return '"' + cell.replace('"', '""') + '"' if _QUOTED.search(cell) else cell


def read_readings_csv(
    text: str,
    source: str = "readings",
    plan: Plan | None = None,
    *,
    rigs: Mapping[str, Rig] | None = None,
    materials: Mapping[str, Material] | None = None,
    taken: Collection[str] = (),
    plain_names: bool = False,
) -> list[Reading]:
    """Read a readings table: comma, semicolon or tab between columns, decimal point or comma.

    Parameters
    ----------
    text : str
        The table, header first; blank lines and a byte-order mark are skipped.
    source : str
        What messages call it: the file's name.
    plan : Plan, optional
        Rig, material, temperature, flow and coupon must then be those of the plan, which says
        what a coupon is (its replicate, a reference). A row that names no coupon is of the first
        free one of its setting.
    rigs, materials : mapping of name to record, optional
        Give filament diameter and density, so that a mass above what was fed is seen better.
    taken : names, optional
        Coupons that have a reading that counts already; they get no second one.
    plain_names : bool
        Without a plan: refuse rigs, materials and coupons whose new names hold what cannot be
        seen or what a spreadsheet would calculate, as where they are typed.

    Returns
    -------
    list of Reading
        In the order of the rows.

    Raises
    ------
    ReadingsError
        Every fault of the table at once, each with row, column, value and remedy. Rows are
        numbered as a spreadsheet numbers them: the header is row 1, blank lines count.
    """
    rows, names = _split(text.removeprefix("\ufeff"), source)
    checks = Checks(source, plan, rigs or {}, materials or {}, taken, plain_names)
    columns = _header(checks, names, rows)
    if not checks.problems:
        for number, cells in rows[1:]:
            _row(checks, number, cells, columns)
        if len(rows) == 1:
            checks.add("there is a header and no row under it.", 2, "", None,
                       "Add one row per weighing.")  # fmt: skip
    return checks.whole_table()


def _split(text: str, source: str) -> tuple[list[tuple[int, list[str]]], list[str]]:
    """Rows that hold anything, with their numbers, and the header's names as ours are written."""
    best: list[tuple[int, list[str]]] = []
    score, chosen = (-1, -1), ""
    for delimiter in DELIMITERS:
        head = _parse(text, delimiter, source, first_only=True)
        names = _names(head[0][1]) if head else []
        now = (len(set(names) & set(COLUMNS)), len(names))
        if now > score:
            best, score, chosen = head, now, delimiter
    if not best:
        raise ReadingsError(
            "the table is empty.",
            Place(source),
            remedy=f"Give a header ({', '.join(REQUIRED)}) and one row per weighing; "
            f"{NOTHING_TAKEN}",
        )
    rows = _parse(text, chosen, source)
    return rows, _names(rows[0][1])


def _parse(
    text: str, delimiter: str, source: str, *, first_only: bool = False
) -> list[tuple[int, list[str]]]:
    rows = []
    number = 0
    try:
        for number, cells in enumerate(
            csv.reader(io.StringIO(text, newline=""), delimiter=delimiter), start=1
        ):
            if any(cell.strip() for cell in cells):
                rows.append((number, cells))
                if first_only:
                    break
    except csv.Error as error:
        raise ReadingsError(
            f"this is not a table: {error}.",
            Place(source, row=number + 1),
            remedy=f"Save it as plain CSV and import again; {NOTHING_TAKEN}",
        ) from None
    return rows


def _names(cells: list[str]) -> list[str]:
    return [re.sub(r"[\s\-]+", "_", cell.strip().lower()) for cell in cells]


def _header(checks: Checks, names: list[str], rows: list[tuple[int, list[str]]]) -> list[str]:
    """The columns' names; every unknown, doubled or missing one is told."""
    number, cells = rows[0]
    if not set(names) & set(COLUMNS):
        checks.add(
            f"this row names none of the columns (seen: {quoted(', '.join(cells))}).",
            number,
            "",
            None,
            f"Start the table with a header: {', '.join(REQUIRED)}, and as needed "
            f"{', '.join(OPTIONAL)}.",
        )
        return names
    for place, (name, cell) in enumerate(zip(names, cells, strict=True), start=1):
        where = number, cell.strip() or str(place)
        if not name:
            if any(len(row) >= place and row[place - 1].strip() for _, row in rows[1:]):
                checks.add(f"column {place} holds values and has no name.", *where, None,
                           "Name it or empty it.")  # fmt: skip
        elif name not in COLUMNS:
            near = difflib.get_close_matches(name, COLUMNS, n=1, cutoff=0.5)
            perhaps = f"Perhaps {near[0]} in that unit. " if near else ""
            checks.add(
                f"there is no column {quoted(cell)}.",
                *where,
                cell.strip(),
                f"{perhaps}Rename or remove it; known: {', '.join(COLUMNS)}.",
            )
        elif names.index(name) != place - 1:
            checks.add(f"column {name} stands twice.", *where, name, "Keep one of the two.")
    for name in REQUIRED:
        if name not in names:
            checks.add(f"column {name} is missing.", number, name, None,
                       "Add it.")  # fmt: skip
    return names


@dataclass(frozen=True)
class _Kind:
    """How the cells of one column are read, and what to write instead of one that cannot be."""

    parse: Callable[[str], Any]
    remedy: str = ""
    low: float | None = None
    """Values must be above it; a mass is checked as a whole with its tare."""
    high: float | None = None


def _flag(text: str) -> bool:
    if text.strip() not in ("0", "1"):
        raise ValueError(f"{quoted(text)} is neither 0 nor 1")
    return text.strip() == "1"


def _words(text: str) -> str:
    return rearmed(text.strip())


def _whole(text: str) -> int:
    value = parse_number(text)
    if not value.is_integer():
        raise ValueError(f"{quoted(text)} is not a whole number")
    return int(value)


def _bare(unit: str) -> str:
    return f"Write a bare number in {unit}."


_KINDS = {
    "rig": _Kind(_words),
    "material": _Kind(_words),
    "temperature_c": _Kind(parse_number, _bare("°C"), 0.0, 700.0),
    "flow_mm3_s": _Kind(parse_number, _bare("mm³/s"), 0.0, 2000.0),
    "filament_mm": _Kind(parse_number, _bare("mm"), 0.0, 1e6),
    "mass_g": _Kind(parse_number, _bare("g")),
    "coupon": _Kind(_words),
    "replicate": _Kind(_whole, "Write a whole number, 1 or more.", 0.0, 1e6),
    "tare_g": _Kind(parse_number, _bare("g")),
    "diameter_mm": _Kind(parse_number, _bare("mm"), 0.5, 5.0),
    "reference": _Kind(_flag, "Write 1 for a reference coupon, 0 or nothing for any other."),
    "void": _Kind(_flag, "Write 1 for a reading that does not count, 0 or nothing else."),
    "note": _Kind(rearmed),
}


def _row(checks: Checks, number: int, cells: list[str], columns: list[str]) -> None:
    """One row: taken whole, or its faults told."""
    beyond = [cell for cell in cells[len(columns) :] if cell.strip()]
    if beyond:
        checks.add(
            f"{len(cells)} cells stand under {len(columns)} columns.",
            number,
            "",
            len(cells),
            "A decimal comma does this where commas separate the columns: write points, or "
            "separate the columns by semicolons.",
        )
        return
    before = len(checks.problems)
    values: dict[str, Any] = {}
    padded = [*cells, *[""] * (len(columns) - len(cells))]
    for name, cell in zip(columns, padded, strict=False):
        if name:
            values[name] = _value(checks, number, name, cell)
    if len(checks.problems) == before:
        given = {name: value for name, value in values.items() if value is not None}
        checks.take(number, Reading(**given))


def _value(checks: Checks, row: int, name: str, cell: str) -> Any:
    """One cell's value; None where it is empty or at fault (then told)."""
    kind = _KINDS[name]
    if not cell.strip():
        if name in REQUIRED:
            checks.add("this cell is empty.", row, name, None, "Fill it.")
        return None
    try:
        value = kind.parse(cell)
    except ValueError as error:
        checks.add(f"{error}.", row, name, cell.strip(), kind.remedy)
        return None
    if kind.low is not None and value <= kind.low:
        checks.add(f"{value:g} must be above {kind.low:g}.", row, name, value, kind.remedy)
        return None
    if kind.high is not None and value > kind.high:
        checks.add(f"{value:g} must not be above {kind.high:g}.", row, name, value, kind.remedy)
        return None
    return value
