"""A balance's trace: read from a table, checked, and reduced to one-second means."""

from __future__ import annotations

import csv
import io
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from beadworth.core import Place, Problem, ReadingsError
from beadworth.text import parse_number

Array = NDArray[np.float64]

COLUMNS = ("time_s", "mass_g", "stable")
LIMIT_BYTES = 60_000_000
LIMIT_ROWS = 1_000_000
FEWEST_ROWS = 60
GAP_S = 2.0
"""A longer silence is told."""
MOST_NAMED = 20
KNOCK_MADS = 4.0
"""A reading this many median deviations off the others of its second does not count."""


@dataclass(frozen=True)
class Trace:
    """What a balance read, row by row."""

    time_s: Array
    mass_g: Array
    stable: NDArray[np.bool_] | None = None
    """Whether the balance called the reading stable; None where it does not say."""

    @property
    def seconds(self) -> float:
        """From the first row to the last."""
        return float(self.time_s[-1] - self.time_s[0])


@dataclass(frozen=True)
class Seconds:
    """Robust means of one second each; seconds without a row are left out."""

    time_s: Array
    """Middle of the readings of each second."""
    mass_mg: Array


def read_trace_csv(text: str, source: str = "trace.csv") -> Trace:
    """Read a trace: columns ``time_s``, ``mass_g`` and, where there is one, ``stable``.

    Parameters
    ----------
    text : str
        Comma, semicolon or tab between columns, header first; decimal point, or a comma where
        the columns are not split by one. Other columns are passed over.
    source : str
        What messages call it.

    Returns
    -------
    Trace

    Raises
    ------
    ReadingsError
        Everything wrong at once: missing columns, cells that are no numbers, time that does not
        rise, too few rows or too many.
    """
    if len(text) > LIMIT_BYTES:
        raise ReadingsError(
            f"{len(text) / 1e6:.0f} MB are more than the {LIMIT_BYTES / 1e6:g} MB taken.",
            source, len(text), "Cut the trace to the ramp, or record fewer readings a second.",
        )  # fmt: skip
    text = text.removeprefix("\ufeff")
    head = text[: text.find("\n") + 1] or text
    mark = max(",;\t", key=head.count)
    try:
        rows = list(csv.reader(io.StringIO(text), delimiter=mark))
    except csv.Error as error:
        raise ReadingsError(f"this is no table of text: {error}.", source,
                            remedy="Save it as comma-separated text.") from None  # fmt: skip
    names = [name.strip().lower() for name in rows[0]] if rows else []
    missing = [name for name in COLUMNS[:2] if name not in names]
    if missing:
        raise ReadingsError(
            [
                Problem(f"the column {name} is missing.", Place(source, column=name),
                        remedy="Give time in seconds and mass in grams: time_s,mass_g,stable.")
                for name in missing
            ]
        )  # fmt: skip
    return _trace(rows, names, source)


def _trace(rows: list[list[str]], names: list[str], source: str) -> Trace:
    at_time, at_mass = names.index("time_s"), names.index("mass_g")
    at_stable = names.index("stable") if "stable" in names else -1
    values: list[tuple[float, float, bool]] = []
    problems: list[Problem] = []
    for number, row in enumerate(rows[1:], start=2):
        if not any(cell.strip() for cell in row):
            continue
        pair = [_number(row, i, n, number, source, problems)
                for i, n in ((at_time, "time_s"), (at_mass, "mass_g"))]  # fmt: skip
        if values and not problems and pair[0] < values[-1][0]:
            problems.append(
                Problem(
                    f"time goes back from {values[-1][0]:g} to {pair[0]:g} s.",
                    Place(source, row=number, column="time_s"), pair[0],
                    "Give the rows in the order they were read, one recording to a file.",
                )
            )  # fmt: skip
        said = row[at_stable].strip().lower() if 0 <= at_stable < len(row) else ""
        values.append((pair[0], pair[1], said in ("1", "true", "yes", "s", "st", "stable")))
        if len(problems) >= MOST_NAMED:
            break
        if len(values) > LIMIT_ROWS:
            problems.append(Problem(f"more than {LIMIT_ROWS:,} rows.", Place(source, row=number),
                                    remedy="Record fewer readings a second."))  # fmt: skip
            break
    if not problems and len(values) < FEWEST_ROWS:
        problems.append(Problem(f"{len(values)} rows are too few; {FEWEST_ROWS} are the least.",
                                source, len(values), "Record the whole program."))  # fmt: skip
    if problems:
        raise ReadingsError(problems)
    table = np.array([(t, m) for t, m, _ in values])
    stable = np.array([s for _, _, s in values]) if at_stable >= 0 else None
    return Trace(table[:, 0], table[:, 1], stable)


def _number(
    row: list[str], i: int, name: str, number: int, source: str, problems: list[Problem]
) -> float:
    cell = row[i].strip() if i < len(row) else ""
    found = parse_number(cell)
    if found is not None:
        return found
    problems.append(Problem(f"'{cell[:30]}' is no number.", Place(source, row=number, column=name),
                            cell[:30], "Give a number in every cell."))  # fmt: skip
    return float("nan")


def write_trace_csv(trace: Trace) -> str:
    """A trace as the table that :func:`read_trace_csv` reads back."""
    lines = ["time_s,mass_g" + (",stable" if trace.stable is not None else "")]
    for i, (t, m) in enumerate(zip(trace.time_s.tolist(), trace.mass_g.tolist(), strict=True)):
        tail = "" if trace.stable is None else f",{int(trace.stable[i])}"
        lines.append(f"{t!r},{m!r}{tail}")
    return "\n".join(lines) + "\n"


def second_means(trace: Trace) -> Seconds:
    """One mean for each second; readings far off the rest of their second do not count.

    A knock (a lump that lands) shows in a reading or two. Deviations are from the straight line
    through the second's median, since the mass grows meanwhile; the limit is
    :data:`KNOCK_MADS` median absolute deviations, never under three display steps.
    """
    time, mass = trace.time_s, 1000.0 * trace.mass_g
    second = np.floor(time - time[0]).astype(np.int64)
    first = np.flatnonzero(np.diff(second, prepend=-1))
    count = np.diff(np.append(first, second.size))
    most = int(count.max())
    place = first[:, None] + np.arange(most)
    there = np.arange(most) < count[:, None]
    rows = np.where(there, mass[np.minimum(place, mass.size - 1)], np.nan)
    times = np.where(there, time[np.minimum(place, time.size - 1)], np.nan)
    middle = np.nanmedian(rows, axis=1, keepdims=True)
    off = np.abs(rows - middle)
    spread = 1.4826 * np.nanmedian(off, axis=1, keepdims=True)
    steps = np.diff(np.unique(mass))
    step = float(steps[steps > 1e-6].min()) if (steps > 1e-6).any() else 0.0
    good = there & (off <= np.maximum(KNOCK_MADS * spread, 3.0 * step))
    weight = good.sum(axis=1)
    return Seconds(
        np.where(good, times, 0.0).sum(axis=1) / weight,
        np.where(good, rows, 0.0).sum(axis=1) / weight,
    )
