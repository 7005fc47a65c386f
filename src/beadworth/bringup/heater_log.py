"""A heater's log: time, temperature and duty from a CSV file, all its problems reported at once."""

from __future__ import annotations

import csv
import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from beadworth.core import Place, Problem, ReadingsError
from beadworth.text import parse_number

Array = NDArray[np.float64]

COLUMNS = {"time_s": ("time_s", "time"), "temperature_c": ("temperature_c", "temperature"),
           "duty": ("duty",)}  # fmt: skip
LEAST_ROWS = 20
MOST_PROBLEMS = 20
RANGES = {"temperature_c": (-50.0, 600.0), "duty": (0.0, 1.0)}
REMEDIES = {
    "temperature_c": "Temperatures are in °C; an open or shorted sensor shows like this.",
    "duty": "Duty is a share from 0 to 1; divide per cent by 100, or 0 to 255 by 255.",
}


@dataclass(frozen=True)
class HeaterLog:
    """Readings in the order taken; each duty holds until the next reading."""

    time_s: Array
    temperature_c: Array
    duty: Array

    def thinned(self, rows: int = 600) -> dict[str, list[float]]:
        """At most ``rows`` of it as plain data, to be stored for its picture."""
        picked = np.unique(np.linspace(0, self.time_s.size - 1, rows).astype(int))
        return {
            name: [round(float(value), 4) for value in getattr(self, name)[picked]]
            for name in COLUMNS
        }


def read_heater_log(text: str, source: str) -> HeaterLog:
    """Read a log from CSV text with the columns time_s, temperature_c and duty (0 to 1).

    Semicolons may part the columns (then commas are decimal commas); other columns are ignored.

    Raises
    ------
    ReadingsError
        Missing columns, cells that are no numbers or out of range, time that runs back, too few
        rows: all at once (the first 20), each with row and column.
    """
    lines = [line for line in text.splitlines() if line.strip() and not line.startswith("#")]
    semicolons = bool(lines) and ";" in lines[0]
    rows = list(csv.reader(lines, delimiter=";" if semicolons else ","))
    heads = [cell.strip().lower() for cell in rows[0]] if rows else []
    where = {
        name: next((heads.index(alias) for alias in aliases if alias in heads), -1)
        for name, aliases in COLUMNS.items()
    }
    missing = [name for name, at in where.items() if at < 0]
    if missing:
        raise ReadingsError(
            [
                Problem(
                    f"there is no column {name}.",
                    f"{source}, header",
                    ", ".join(heads),
                    "The first line names the columns: time_s,temperature_c,duty.",
                )
                for name in missing
            ]
        )
    problems: list[Problem] = []
    table = np.full((len(rows) - 1, 3), math.nan)
    for number, row in enumerate(rows[1:], 2):
        for column, (name, at) in enumerate(where.items()):
            value = parse_number(row[at] if at < len(row) else "")
            problem = _cell_problem(name, value, row[at] if at < len(row) else None)
            if problem:
                what, remedy = problem
                place = Place(source, row=number, column=name)
                problems.append(Problem(what, place, row[at] if at < len(row) else None, remedy))
            else:
                table[number - 2, column] = value
    problems += _order_problems(table[:, 0], source)
    if problems:
        more = len(problems) - MOST_PROBLEMS
        if more > 0:
            problems = [*problems[:MOST_PROBLEMS], Problem(f"and {more} more like these.", source)]
        raise ReadingsError(problems)
    if len(table) < LEAST_ROWS:
        raise ReadingsError(
            f"{len(table)} rows are too few to separate gain, time constant and dead time.",
            source,
            len(table),
            f"Log once a second from before the heater is switched on; at least {LEAST_ROWS}.",
        )
    return HeaterLog(table[:, 0], table[:, 1], table[:, 2])


def _cell_problem(name: str, value: float | None, seen: str | None) -> tuple[str, str] | None:
    if value is None:
        return f"{seen!r} is no number." if seen else "the cell is empty.", (
            "Give a number in every row, or leave the row out."
        )
    low, high = RANGES.get(name, (-math.inf, math.inf))
    if not low <= value <= high:
        return f"{value:g} is outside {low:g} to {high:g}.", REMEDIES[name]
    return None


def _order_problems(time: Array, source: str) -> list[Problem]:
    back = np.flatnonzero(np.diff(time) <= 0)
    return [
        Problem(
            f"time goes from {time[i]:g} to {time[i + 1]:g} s.",
            Place(source, row=int(i) + 3, column="time_s"),
            float(time[i + 1]),
            "Times must rise; cut the log where it was restarted.",
        )
        for i in back
    ]
