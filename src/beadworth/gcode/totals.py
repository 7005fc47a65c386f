"""What a G-code file asks for as a whole, and what another way of reading it would change."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Final

import numpy as np
from numpy.typing import NDArray

from beadworth.core import LEFT_OUT
from beadworth.gcode import columns
from beadworth.gcode.problems import GcodeProblem

MATTERS: Final = 0.01  # a reading that changes the filament by more than this is reported
Point = tuple[float, ...]


@dataclass(frozen=True)
class UnknownWord:
    """An unrecognised command: how often, and the first lines (at most ten)."""

    word: str
    count: int
    lines: tuple[int, ...]


@dataclass(frozen=True)
class OtherReading:
    """Another way to read the file, and the filament it would then ask for."""

    reading: str
    what: str
    filament_net_mm: float
    filament_forward_mm: float
    change: float
    """A fraction of the totals as we read them."""
    taken: bool = False
    """Whether this is the reading the answer rests on."""
    why: str = ""
    """What speaks for a reading that was taken, or offered."""


@dataclass(frozen=True)
class GcodeSummary:
    """Counts and lengths of a whole file.

    Attributes
    ----------
    moves : int
        Motion commands that change X, Y or Z, full circles included.
    extruding_moves : int
        Of these, those with E forward.
    extruding_path_mm, travel_path_mm : float
        Path length of these, and of the other moves.
    filament_net_mm, filament_forward_mm : float
        Sum of E, and of its forward part (recovery after retraction included), as
        programmed: before the flow override.
    box_mm : ((x, y, z), (x, y, z)) or None
        Least and greatest coordinates of the extruding moves, bulges of arcs included.
    layers : int or None
        Number of heights at which something is extruded while moving in XY; None where z
        rises on more than half of the extruding path (a continuous print).
    repeated_motions : int
        Lines with axis words and no motion command.
    unknown_more : int
        Unknown words beyond the ones listed.
    problems : tuple of GcodeProblem
        The first of them; ``problem_counts`` counts all by kind.
    readings : tuple of OtherReading
        Those that would change the filament by more than 1 %; a replay puts the ones that it
        took before them.
    firmware_retractions, firmware_retract_mm : int, float
        G10 and G11 carried out, and what G10 drew back by the rig's length: not in the totals.
    signs : (int, int)
        E words that only the other reading of G90 and G91 makes plausible, and those that only
        this one does.
    closing_if_absolute : int
        Impossible arcs whose radii agree with absolute centres.
    """

    source: str
    bytes: int
    lines: int
    moves: int
    extruding_moves: int
    extruding_path_mm: float
    travel_path_mm: float
    filament_net_mm: float
    filament_forward_mm: float
    box_mm: tuple[Point, Point] | None
    layers: int | None
    arcs: int
    bad_arcs: int
    repeated_motions: int
    checksums: int
    unknown_words: tuple[UnknownWord, ...]
    unknown_more: int
    problems: tuple[GcodeProblem, ...]
    problem_counts: dict[str, int]
    readings: tuple[OtherReading, ...]
    firmware_retractions: int
    firmware_retract_mm: float
    signs: tuple[int, ...] = field(metadata=LEFT_OUT)
    closing_if_absolute: int = field(metadata=LEFT_OUT)


def other_readings(f: NDArray[np.float64], i: NDArray[np.int64]) -> tuple[OtherReading, ...]:
    """The readings that matter, from the scanner's state at the end of a file."""
    follow = bool(i[columns.i_follow])
    words = {
        columns.ALT_G90: (
            "g90-leaves-e" if follow else "g90-sets-e",
            "G90 and G91 leave E alone" if follow else "G90 and G91 set the E mode too",
        ),
        columns.ALT_RELATIVE: ("e-relative-at-start", "E is relative until M82 is given"),
        columns.ALT_EXPONENT: (
            "e-in-number-is-a-word",
            "a lower-case e inside a number is an E word",
        ),
        columns.ALT_MODAL: (
            "no-command-no-motion",
            "a line with axis words and no command does nothing",
        ),
    }
    net, forward = float(f[columns.f_net]), float(f[columns.f_forward])
    found = [
        _reading(
            name,
            what,
            net,
            forward,
            float(f[columns.f_alt_net + k]),
            float(f[columns.f_alt_forward + k]),
        )
        for k, (name, what) in words.items()
    ]
    found.append(
        _reading(
            "flow-override",
            "the flow override (M221) counts, as it does on the machine",
            net,
            forward,
            float(f[columns.f_flow_net]),
            float(f[columns.f_flow_forward]),
        )
    )
    return tuple(reading for reading in found if reading.change > MATTERS)


def _reading(
    name: str, what: str, net: float, forward: float, more_net: float, more_forward: float
) -> OtherReading:
    """One reading with its change: the larger of those of the two totals."""
    base = max(abs(net), 1e-12)
    change = max(abs(more_net) / base, abs(more_forward) / max(forward, 1e-12))
    if max(abs(more_net), abs(more_forward)) < 1e-9:
        change = 0.0
    sentence = (
        f"If {what}, the filament is {net + more_net:.3f} mm net and "
        f"{forward + more_forward:.3f} mm forward instead of {net:.3f} and {forward:.3f} mm."
    )
    return OtherReading(name, sentence, net + more_net, forward + more_forward, change)
