"""Rows measured along a wall, by calipers or dial indicator: evidence, and size without a lamp.

Such a row holds what all layers under its jaws share, in mm and not in brightness: it parts what
goes with place from what does not, and gives the size of a wave with no lamp to guess.
"""

from __future__ import annotations

import csv
import io
import math
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from beadworth.cause.evidence import degrees_at, log_mean, log_ratio
from beadworth.cause.finding import WIDER, Interval
from beadworth.cause.profile import Basis, wave_power, whitener
from beadworth.cause.ranking import OTHER, Ranking, normalised
from beadworth.cause.sources import Source
from beadworth.cause.wall import WallSide
from beadworth.core import InputError, Place, Problem, ReadingsError
from beadworth.text import parse_number

FEWEST: Final = 24
MOST: Final = 2000
CYCLES: Final = 3.0
"""A wave of fewer cycles over the row looks like its trend."""
UNEVEN: Final = 0.1
"""Share of a step by which a place may lie off."""


@dataclass(frozen=True)
class GaugeRow:
    """Offsets along a wall at even steps."""

    start_mm: float
    step_mm: float
    offsets_mm: NDArray[np.float64]

    @property
    def length_mm(self) -> float:
        """Length of the row, mm."""
        return float(self.step_mm * self.offsets_mm.size)


def read_gauge(data: bytes, source: str) -> GaugeRow:
    """Read a table of two columns: place along the wall and offset, both in mm.

    Parameters
    ----------
    data : bytes
        Comma-, semicolon- or tab-separated text; a heading line is passed over.
    source : str
        For messages.

    Raises
    ------
    ReadingsError
        Cells that are no numbers, fewer than :data:`FEWEST` or more than :data:`MOST` rows, steps
        that are not even: all at once.
    """
    text = data.decode("utf-8-sig", errors="replace")
    mark = next((m for m in (";", "\t") if m in text), "," if "," in text else " ")
    lines = [(n, line) for n, line in enumerate(text.splitlines(), start=1) if line.strip()]
    problems: list[Problem] = []
    found: list[tuple[float, float]] = []
    numbers: list[int] = []
    for place, (number, line) in enumerate(lines):
        cells = line.split() if mark == " " else next(csv.reader(io.StringIO(line), delimiter=mark))
        values = [value for cell in cells[:2] if (value := parse_number(cell)) is not None]
        if len(values) == 2:
            found.append((values[0], values[1]))
            numbers.append(number)
        elif place > 0:
            problems.append(Problem(f"{line[:40]!r} is no place and offset.",
                                    Place(source, row=number), line[:40],
                                    "Write both in mm, as 4.5,0.02."))  # fmt: skip
        if len(problems) == 20:
            break
    if not problems and not FEWEST <= len(found) <= MOST:
        problems.append(Problem(f"{len(found)} rows are not {FEWEST} to {MOST}.", source,
                                len(found), "Measure at even steps along the wall."))  # fmt: skip
    if problems:
        raise ReadingsError(problems)
    table = np.array(found)
    steps = np.diff(table[:, 0])
    usual = float(np.median(steps))
    off = np.flatnonzero(np.abs(steps - usual) > UNEVEN * abs(usual))
    if usual <= 0 or off.size:
        first = int(off[0]) if off.size else 0
        row, step = numbers[first + 1], float(steps[first])
        raise ReadingsError(
            f"the step to row {row} is {step:g} mm where {usual:g} mm is usual.",
            Place(source, row=row), step, "Measure at even steps, in order.",
        )  # fmt: skip
    return GaugeRow(float(table[0, 0]), usual, table[:, 1])


def gauge_evidence(row: GaugeRow, k: NDArray[np.float64]) -> NDArray[np.float64]:
    """Log evidence of waves of k cycles/mm in a row against noise alone.

    The noise is red: its covariance comes from a robust floor of the row's own spectrum; 0 where
    the row holds fewer than :data:`CYCLES`, or has fewer than two and a half readings a wave.
    """
    data = whitener(row.offsets_mm, row.step_mm)
    x = row.step_mm * np.arange(row.offsets_mm.size)[:, None]
    angle = 2 * np.pi * k * x
    power = wave_power(data @ row.offsets_mm, Basis(data @ np.cos(angle), data @ np.sin(angle)))
    logs = log_ratio(power, degrees_at(k * row.length_mm))
    seen = (k * row.length_mm >= CYCLES) & (k * row.step_mm <= 0.4)
    return np.where(seen, logs, 0.0)


def with_gauge(ranking: Ranking, row: GaugeRow, wall: WallSide) -> Ranking:
    """A ranking with a measured row beside the photos.

    Parameters
    ----------
    ranking : Ranking
    row : GaugeRow
    wall : WallSide
        Along which it was measured.

    Returns
    -------
    Ranking
        The probability of what goes with place is multiplied by its evidence in the row, averaged
        over the periods that the photos leave; 'none of these' by that of any wave; others stay.
    """
    logs: dict[str, float] = {}
    for name, tried in ranking.tried.items():
        if tried.source.kind == "place":
            k = tried.source.travel_per_mm(wall) / tried.periods
            logs[name] = log_mean(gauge_evidence(row, k), tried.logs + tried.weights)
    any_k = np.geomspace(CYCLES / row.length_mm, 0.4 / row.step_mm, 1000)
    logs[OTHER] = float(np.logaddexp(0.0, log_mean(gauge_evidence(row, any_k))) - math.log(2))
    p = {n: math.log(max(q, 1e-300)) + logs.get(n, 0.0) for n, q in ranking.probabilities.items()}
    top = max(p.values())
    weights = {name: math.exp(value - top) for name, value in p.items()}
    return replace(ranking, probabilities=normalised(weights))


def gauge_size_um(row: GaugeRow, source: Source, period: float, wall: WallSide) -> Interval | None:
    """Half the height of a source's wave in a row, µm, with its 95 % interval; None: not in it.

    Generalised least squares with the row's own noise, found again without the wave; the interval
    of an amplitude from that of its two parts.
    """
    k = source.travel_per_mm(wall) / period if source.kind == "place" else 0.0
    if k * row.length_mm < CYCLES or k * row.step_mm > 0.4:
        return None
    x = row.step_mm * np.arange(row.offsets_mm.size)
    pair = np.stack([np.cos(2 * np.pi * k * x), np.sin(2 * np.pi * k * x)], 1)
    fit: np.ndarray = np.zeros(2)
    whiten = np.eye(x.size)
    for _ in range(5):  # noise and wave are found in turn
        whiten = whitener(row.offsets_mm - pair @ fit, row.step_mm)
        fit = np.linalg.lstsq(whiten @ pair, whiten @ row.offsets_mm, rcond=None)[0]
    rest = whiten @ (row.offsets_mm - pair @ fit)
    basis = whiten @ pair
    variance = float(rest @ rest) / max(x.size - 6, 1)
    u = WIDER * math.sqrt(variance * float(np.trace(np.linalg.inv(basis.T @ basis))) / 2)
    size = float(np.hypot(fit[0], fit[1]))
    return Interval.around(1e3 * size, 1e3 * u, 0.0)


def check_gauge(row: GaugeRow, wall: WallSide) -> None:
    """Refuse a row that is longer than its wall.

    Raises
    ------
    InputError
    """
    if row.length_mm > 1.1 * wall.length_mm:
        raise InputError(
            f"the row is {row.length_mm:.0f} mm long, the wall {wall.length_mm:.0f} mm.", "gauge",
            row.length_mm, "Give the places in mm along the wall that is in the photo.",
        )  # fmt: skip
