"""An accelerometer's record of an axis: modes, the ripple they leave, what filters would leave."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Final

import numpy as np
from numpy.typing import NDArray

from beadworth.cause.filters import filters_left, ripple_mm, worst_ripple_mm
from beadworth.cause.finding import Interval
from beadworth.cause.vibration import Mode, modes, read_record, spectrum_of
from beadworth.core import LEFT_OUT, InputError, Problem

ERRORS: Final = (-0.2, -0.1, -0.05, 0.0, 0.05, 0.1, 0.2)
"""Errors of the frequency at which filters are told."""
ACCELERATIONS_MM_S2: Final = (500.0, 1000.0, 2000.0, 4000.0, 8000.0)
SPEED_STEP_MM_S: Final = 100.0


@dataclass(frozen=True)
class Ripple:
    """What a mode leaves at one acceleration, µm."""

    acceleration_mm_s2: float
    worst_um: float
    """Of any change of speed."""
    of_step_um: float
    """Of the change of speed that was asked about."""


@dataclass(frozen=True)
class FilterLeft:
    """What one command filter leaves of a vibration, as shares, by error of the frequency."""

    filter: str
    left: tuple[float, ...]


@dataclass(frozen=True)
class ModeFound:
    """One mode of an axis, and what follows from it."""

    axis: str
    hertz: Interval
    damping: Interval
    times_floor: float
    ripples: tuple[Ripple, ...]
    filters: tuple[FilterLeft, ...]


@dataclass(frozen=True)
class AxisSpectrum:
    """Welch's spectrum of one axis, and its modes."""

    axis: str
    modes: tuple[ModeFound, ...]
    """The strongest first."""
    frequencies_hz: NDArray[np.float64] = field(metadata=LEFT_OUT)
    density: NDArray[np.float64] = field(metadata=LEFT_OUT)
    """(m/s²)²/Hz."""


@dataclass(frozen=True)
class Vibration:
    """All that a record says."""

    rate_hz: float
    seconds: float
    speed_step_mm_s: float
    errors: tuple[float, ...]
    """Of the frequency, as shares: what the filters are told by."""
    axes: tuple[AxisSpectrum, ...]


def read_vibration(
    data: bytes, name: str, accelerations_mm_s2: Sequence[float] = ACCELERATIONS_MM_S2,
    speed_step_mm_s: float = SPEED_STEP_MM_S,
) -> Vibration:  # fmt: skip
    """Read an accelerometer's table.

    Parameters
    ----------
    data : bytes
        With ``time_s`` and ``x_m_s2`` (or ``_mm_s2``, ``_g``; y, z).
    name : str
        For messages.
    accelerations_mm_s2 : sequence of float, > 0
        At which the ripple is told.
    speed_step_mm_s : float, > 0
        A change of speed to tell it of.

    Raises
    ------
    ReadingsError
        What is wrong with the table, all at once.
    InputError
        Accelerations or a change of speed not above 0.
    """
    problems = [
        Problem(f"{value:g} is not above 0.", where, value, "Give what the printer is set to.")
        for where, values in (("acceleration", accelerations_mm_s2),
                              ("change of speed", (speed_step_mm_s,)))
        for value in values if not value > 0
    ]  # fmt: skip
    if problems:
        raise InputError(problems)
    record = read_record(data, name)
    a = np.array(sorted(accelerations_mm_s2), float)
    axes = []
    for axis in record.axes:
        found = tuple(_found(mode, a, speed_step_mm_s) for mode in modes(record, axis))
        axes.append(AxisSpectrum(axis, found, *spectrum_of(record, axis)))
    seconds = len(next(iter(record.axes.values()))) / record.rate_hz
    return Vibration(record.rate_hz, seconds, speed_step_mm_s, ERRORS, tuple(axes))


def _found(mode: Mode, a: NDArray[np.float64], step: float) -> ModeFound:
    worst = 1e3 * worst_ripple_mm(a, mode.hertz, mode.damping)
    of_step = 1e3 * ripple_mm(a, step, mode.hertz, mode.damping)
    left = filters_left(mode.hertz, mode.damping, np.array(ERRORS))
    return ModeFound(
        mode.axis, Interval.around(mode.hertz, mode.hertz_u, 0.0),
        Interval.around(mode.damping, mode.damping_u, 0.0),
        mode.times_floor,
        tuple(Ripple(*(float(v) for v in row)) for row in zip(a, worst, of_step, strict=True)),
        tuple(FilterLeft(kind, tuple(float(v) for v in values)) for kind, values in left.items()),
    )  # fmt: skip
