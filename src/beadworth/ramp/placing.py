"""Where in a trace each temperature of a flow ramp begins.

Heating takes a time nobody knows beforehand, so a program and its trace share no clock. The steps
of a temperature, with their pauses, are laid over the trace at every second; the places at which
all temperatures together explain most of how the mass rose are taken.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from beadworth.core import Problem, ReadingsError
from beadworth.ramp.record import Section
from beadworth.ramp.trace import Seconds, Trace, second_means

Array = NDArray[np.float64]

OVER_S = 10
"""The mass rises over so many seconds are compared."""
FASTEST_MG_S = 100.0
"""A rise above it is a cup put on, not a flow."""
LEAST_LIKENESS = 0.8
"""Correlation below which the steps of a program are not in a trace."""


@dataclass(frozen=True)
class Placed:
    """One temperature of a ramp, found in a trace."""

    section: Section
    start_s: float
    """Time of the trace at its first extrusion, to a second or two."""
    likeness: float
    """Correlation of how the mass rose with the flow that was asked for."""


def place_sections(seconds: Seconds, sections: Sequence[Section]) -> tuple[Placed, ...]:
    """Find every temperature of a ramp in a trace, in their order.

    Raises
    ------
    ReadingsError
        A trace shorter than the ramp, or one in which a temperature's steps are not to be seen.
    """
    time = np.arange(seconds.time_s[0], seconds.time_s[-1], 1.0)
    needed = sum(s.seconds for s in sections)
    if time.size < needed:
        raise ReadingsError(
            f"the trace lasts {time.size / 60:.0f} min, the ramp's own steps "
            f"{needed / 60:.0f} min.",
            "trace", round(time.size / 60.0, 1),
            "Give the whole trace, from before the program's start to after its end, and the "
            "ramp it belongs to.",
        )  # fmt: skip
    mass = np.interp(time, seconds.time_s, seconds.mass_mg)
    rise = (mass[OVER_S:] - mass[:-OVER_S]) / OVER_S
    rise = np.where((rise > FASTEST_MG_S) | (rise < -FASTEST_MG_S / 4), 0.0, rise)
    square = np.concatenate([[0.0], np.cumsum(rise**2)])
    gains, likes, sizes = [], [], []
    for section in sections:
        asked = _asked(section)
        size = asked.size
        product = _sliding(rise, asked)
        norm = float(asked @ asked)
        own = square[size:] - square[:-size]
        gains.append(np.maximum(product, 0.0) ** 2 / norm)
        likes.append(product / np.sqrt(norm * np.maximum(own, 1e-12)))
        sizes.append(size)
    starts = _in_order(gains, sizes)
    placed = tuple(
        Placed(section, float(time[0] + at), float(like[at]))
        for section, at, like in zip(sections, starts, likes, strict=True)
    )
    _check(placed)
    return placed


def place_trace(trace: Trace, sections: Sequence[Section]) -> tuple[Placed, ...]:
    """The same from a trace as it was read."""
    return place_sections(second_means(trace), sections)


def _asked(section: Section) -> Array:
    """Mean flow asked for over :data:`OVER_S`, second by second from the first extrusion."""
    ends = [0.0, *(s.end_s for s in section.steps)]
    fed = np.concatenate([[0.0], np.cumsum([s.volume_mm3 for s in section.steps])])
    at = np.arange(0.0, section.seconds - OVER_S, 1.0)
    return np.asarray((np.interp(at + OVER_S, ends, fed) - np.interp(at, ends, fed)) / OVER_S)


def _sliding(series: Array, pattern: Array) -> Array:
    """Inner products of a pattern with a series at every place where it fits."""
    size = 1 << (series.size + pattern.size).bit_length()
    found = np.fft.irfft(np.fft.rfft(series, size) * np.conj(np.fft.rfft(pattern, size)), size)
    return np.asarray(found[: series.size - pattern.size + 1])


def _in_order(gains: list[Array], sizes: list[int]) -> list[int]:
    """Places, one after another without overlap, whose gains add up to most."""
    best: list[Array] = []
    for k, gain in enumerate(gains):
        total = gain.copy()
        if k:
            before = np.maximum.accumulate(best[-1])
            shift = sizes[k - 1]
            room = np.full(gain.size, -np.inf)
            n = max(0, min(gain.size - shift, before.size))
            room[shift : shift + n] = before[:n]
            room[shift + n :] = before[n - 1] if n else -np.inf
            total = total + room
        best.append(total)
    places = [int(best[-1].argmax())]
    for k in range(len(gains) - 2, -1, -1):
        last = max(1, places[0] - sizes[k] + 1)
        places.insert(0, int(best[k][:last].argmax()))
    return places


def _check(placed: Sequence[Placed]) -> None:
    problems = [
        Problem(
            f"the steps at {p.section.temperature_c:g} °C are not to be seen in the trace "
            f"(correlation {p.likeness:.2f}, {LEAST_LIKENESS:g} is the least).",
            "trace",
            round(p.likeness, 3),
            "Give the ramp that this trace was recorded with. If it is the right one, the mass did "
            "not rise as the flow asked: look for a jam, a cup that touches, or a balance that "
            "stops below a limit.",
        )
        for p in placed
        if p.likeness < LEAST_LIKENESS
    ]
    if problems:
        raise ReadingsError(problems)
