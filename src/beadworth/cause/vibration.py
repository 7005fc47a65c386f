"""An accelerometer's record of an axis: spectra, and modes with frequency and damping."""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from beadworth.core import GRAVITY_M_S2, Place, Problem, ReadingsError
from beadworth.text import parse_number

LIMIT_ROWS = 2_000_000
LIMIT_BYTES = 80_000_000
UNITS = {"m_s2": 1.0, "mm_s2": 1e-3, "g": GRAVITY_M_S2}
"""What stands after an axis' name in the heading, and how many m/s² it is."""
FEWEST_ROWS = 256
STEP_HZ = 1.0
LOWEST_HZ = 8.0
"""Modes of an axis lie higher; common practice, no source."""
TIMES_FLOOR = 8.0
"""Power over the floor from which a peak is a mode; chosen on simulated records."""
MOST_MODES = 4
BESIDE, UNTOLD = 0.22, 10.0
"""A peak this near a stronger mode, as a share, whose damping is known to no better than so many
times itself, is scatter on the other's flank; chosen on simulated records."""


@dataclass(frozen=True)
class Record:
    """Acceleration over time at even steps."""

    rate_hz: float
    axes: dict[str, np.ndarray]
    """m/s², by the axis' name."""


@dataclass(frozen=True)
class Mode:
    """A peak of the spectrum, fitted as one damped oscillator on a level floor."""

    axis: str
    hertz: float
    hertz_u: float
    """Standard uncertainty."""
    damping: float
    damping_u: float
    times_floor: float


def read_record(data: bytes, source: str) -> Record:
    """Read a table with the columns ``time_s`` and ``x_m_s2`` (or ``_mm_s2``, ``_g``; y, z).

    Parameters
    ----------
    data : bytes
        Comma- or semicolon-separated text with one heading line.
    source : str
        Its name, for messages.

    Raises
    ------
    ReadingsError
        What is wrong, all at once: columns, cells that are no numbers, time that does not go
        evenly (no step off by more than half), too few rows, too large.
    """
    if len(data) > LIMIT_BYTES:
        raise ReadingsError(
            f"{len(data) / 1e6:.0f} MB are more than the {LIMIT_BYTES / 1e6:g} MB taken.",
            source,
            len(data),
            "Cut it to the axis' moves.",
        )
    text = data.decode("utf-8-sig", errors="replace")
    head = text[: text.find("\n") + 1] or text
    rows = csv.reader(io.StringIO(text), delimiter=";" if ";" in head else ",")
    try:
        names = [name.strip().lower() for name in next(rows, [])]
        table = _numbers(rows, _chosen(names, source), source)
    except csv.Error as error:
        raise ReadingsError(f"this is no table of text: {error}.", source,
                            remedy="Save it as comma-separated text.") from None  # fmt: skip
    wanted = [name for name in names if _unit(name) is not None]
    return Record(
        _rate(table[:, 0], source),
        {name.split("_")[0]: table[:, j] * (_unit(name) or 1.0)
         for j, name in enumerate(wanted, start=1)},
    )  # fmt: skip


def _chosen(names: list[str], source: str) -> list[tuple[int, str]]:
    """Places and names of the columns that are read, the time first."""
    wanted = [(i, n) for i, n in enumerate(names) if _unit(n) is not None]
    problems = []
    if "time_s" not in names:
        problems.append(Problem("the column time_s is missing.", Place(source, column="time_s"),
                                remedy="Give the time in seconds."))  # fmt: skip
    if not wanted:
        problems.append(
            Problem(
                "no column holds an acceleration.",
                source,
                ", ".join(names)[:60],
                "Name them x_m_s2, y_mm_s2, z_g, whichever unit it is.",
            )
        )
    axes = [name[0] for _, name in wanted]
    problems += [
        Problem(f"{axes.count(axis)} columns hold {axis}.", source, ", ".join(names)[:60],
                "Leave one column for each axis.")
        for axis in sorted(set(axes)) if axes.count(axis) > 1
    ]  # fmt: skip
    if problems:
        raise ReadingsError(problems)
    return [(names.index("time_s"), "time_s"), *wanted]


def _unit(name: str) -> float | None:
    axis, _, unit = name.partition("_")
    return UNITS.get(unit) if axis in ("x", "y", "z") else None


def _numbers(rows: Iterable[list[str]], chosen: list[tuple[int, str]], source: str) -> np.ndarray:
    out: list[list[float]] = []
    problems: list[Problem] = []
    for number, row in enumerate(rows, start=2):
        if not any(cell.strip() for cell in row):
            continue
        if len(out) >= LIMIT_ROWS:
            problems.append(Problem(f"more than {LIMIT_ROWS:,} rows.", Place(source, row=number),
                                    remedy="Cut the record to the axis' moves."))  # fmt: skip
            break
        values = []
        for i, name in chosen:
            cell = row[i].strip() if i < len(row) else ""
            try:
                values.append(float(cell))
            except ValueError:
                values.append(_other_number(cell))
            if not math.isfinite(values[-1]):
                problems.append(Problem(f"'{cell[:30]}' is no number.",
                                        Place(source, row=number, column=name), cell[:30],
                                        "Give a number in every cell."))  # fmt: skip
        if len(problems) >= 20:
            break
        out.append(values)
    if not problems and len(out) < FEWEST_ROWS:
        problems.append(Problem(f"{len(out)} rows are too few; {FEWEST_ROWS} are the least.",
                                source, len(out), "Record a second or more."))  # fmt: skip
    if problems:
        raise ReadingsError(problems)
    return np.array(out)


def _other_number(cell: str) -> float:
    """A number written with a comma, or not a number."""
    try:
        found = parse_number(cell)
    except ValueError:
        found = None
    return float("nan") if found is None else float(found)


def _rate(time_s: np.ndarray, source: str) -> float:
    steps = np.diff(time_s)
    usual = float(np.median(steps))
    bad = np.flatnonzero(np.abs(steps - usual) > 0.5 * abs(usual))
    if usual <= 0 or bad.size:
        row = int(bad[0]) + 3 if bad.size else 3
        raise ReadingsError(
            f"time steps by {steps[row - 3] * 1e3:.3g} ms where {usual * 1e3:.3g} ms is usual.",
            Place(source, row=row, column="time_s"), float(time_s[row - 2]),
            "Give a record without gaps, its rows in order.",
        )  # fmt: skip
    return (time_s.size - 1) / float(time_s[-1] - time_s[0])


def spectrum_of(record: Record, axis: str) -> tuple[np.ndarray, np.ndarray]:
    """Welch's power spectral density (P. Welch, IEEE Trans. Audio 15 (1967) 70), Hann windows.

    Parameters
    ----------
    record : Record
    axis : str

    Returns
    -------
    frequencies (Hz), density ((m/s²)²/Hz)
        In steps of :data:`STEP_HZ` where the record is long enough: at least four windows, each
        over half of the next, are averaged.
    """
    from scipy.signal import welch

    values = np.asarray(record.axes[axis], np.float64)
    size = int(np.clip(record.rate_hz / STEP_HZ, 64, values.size / 2.5))
    f, density = welch(values, record.rate_hz, nperseg=size, detrend="constant")
    return np.asarray(f), np.asarray(density)


def modes(record: Record, axis: str) -> list[Mode]:
    """Modes of an axis, strongest first, at most :data:`MOST_MODES`.

    A mode is fitted over its own width as |H|² of one oscillator with acceleration in and
    acceleration out, f⁴/((f² − f₀²)² + (2ζ·f·f₀)²), on a level floor; the window's own width is
    folded in. Uncertainties come from the scatter of Welch's averages. A peak beside a stronger
    one that is far narrower than the record can show (:data:`UNTOLD`) is none.
    """
    f, density = spectrum_of(record, axis)
    floor = _floor(density)
    over = density / floor
    taken = np.zeros(f.size, bool)
    found: list[Mode] = []
    for i in np.argsort(-over):
        if over[i] < TIMES_FLOOR or len(found) == MOST_MODES:
            break
        if taken[i] or f[i] < LOWEST_HZ or i in (0, f.size - 1):
            continue
        half = max(4, int(0.12 * f[i] / (f[1] - f[0])))
        near = slice(max(i - half, 1), min(i + half + 1, f.size))
        fitted = _fit_mode(f[near], density[near], float(f[i]), f[1] - f[0])
        # the flank of a mode leads back to its crest
        flank = fitted is not None and bool(taken[int(np.argmin(np.abs(f - fitted[0])))])
        taken[near] = True
        if fitted is not None and not flank:
            mode = Mode(axis, *fitted, float(over[i]))
            if not _is_scatter(mode, found):
                found.append(mode)
    return found


def _is_scatter(mode: Mode, stronger: list[Mode]) -> bool:
    """Whether a peak is the scatter of the averages on the flank of a stronger mode."""
    beside = any(abs(mode.hertz / other.hertz - 1) < BESIDE for other in stronger)
    return beside and mode.damping_u > UNTOLD * mode.damping


def _floor(density: np.ndarray) -> np.ndarray:
    from scipy.ndimage import median_filter

    size = max(9, density.size // 4) | 1
    return np.asarray(median_filter(density, size, mode="nearest") / np.log(2) + 1e-30)


def _fit_mode(
    f: np.ndarray, density: np.ndarray, guess: float, step: float
) -> tuple[float, float, float, float] | None:
    from scipy.optimize import least_squares

    kernel = np.array([0.25, 0.5, 0.25]) ** 2  # power of a Hann window's main lobe, by step
    kernel /= kernel.sum()
    fine = 4
    dense = np.linspace(f[0] - step, f[-1] + step, fine * (f.size + 1) + 1)

    def model(theta: np.ndarray) -> np.ndarray:
        height, f0, zeta, ground = np.exp(theta)
        peak = 1 / ((dense**2 - f0**2) ** 2 + (2 * zeta * dense * f0) ** 2)
        peak *= (2 * zeta) ** 2 * dense**4
        smooth = sum(w * np.interp(f + s * step, dense, peak)
                     for w, s in zip(kernel, (-1, 0, 1), strict=True))  # fmt: skip
        return np.asarray(np.log(height * smooth + ground))

    start = np.log([density.max(), guess, 0.03, np.median(density) + 1e-30])
    low = start + np.log([1e-3, 0.9, 0.05, 1e-6])
    high = start + np.log([1e3, 1.1, 12.0, 1e3])
    seen = np.log(density + 1e-30)

    def rest(theta: np.ndarray) -> np.ndarray:
        return model(theta) - seen

    fit = least_squares(rest, start, bounds=(low, high))
    spare = f.size - 4
    if spare < 3:
        return None
    variance = float(np.sum(fit.fun**2)) / spare
    jacobian = np.asarray(fit.jac)
    covariance = np.linalg.pinv(jacobian.T @ jacobian) * variance * 1.5  # neighbours share windows
    f0, zeta = float(np.exp(fit.x[1])), float(np.exp(fit.x[2]))
    return (f0, f0 * float(np.sqrt(covariance[1, 1])),
            zeta, zeta * float(np.sqrt(covariance[2, 2])))  # fmt: skip
