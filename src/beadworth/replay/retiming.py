"""The same print with other feeds: under the ceiling less a reserve, at the least cost of time.

Only F words change or are added, and comment lines are put in front; every other byte
stays. On lines that carry a checksum the checksum is computed anew, since it covers the F word.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, BinaryIO

import numpy as np
from numpy.typing import NDArray

from beadworth.core import RESERVE, GcodeError, LimitError, Place, Problem, filament_section_mm2
from beadworth.gcode import Reader, make_problem, read
from beadworth.gcode import columns as gcode_columns
from beadworth.motion import Limits, MoveTable
from beadworth.replay.ceilings import Ceilings
from beadworth.replay.result import Replay
from beadworth.replay.rewrite import HEADER, Rewriter, Slower, copy_as_it_is, packing
from beadworth.replay.run import replay
from beadworth.replay.timeline import blocks, moves_of
from beadworth.replay.waits import Waits
from beadworth.rig import Rig
from beadworth.text import percent

if TYPE_CHECKING:
    from beadworth.capacity import Fit


Array = NDArray[np.float64]
ROUNDING = 1e-6
SLOWEST_MM_S = 2 * gcode_columns.SLOWEST_FEED
"""A bead that must be slower is a slip of E, not of speed; a reader would pass over its F."""
OTHER_HOT_END = 0.2
"""Share of the extruding moves; more than this slower is no matter of a few feeds."""
MORE_PEAK = 1.06
"""A ramp from a lower speed may be shorter where jerk is limited, which leaves more to the peak: at
most (8·√1.5/9)^(2/3) = 1.0583 times it, from 0 instead of a third of it (equation 22)."""
MARGIN_MM = 10.0
"""Purge lines beside the bed are common."""
CUT = ("gz-truncated", "gz-damaged", "gz-nested", "gz-bomb", "gz-trailing", "not-text")
"""Problems after which the rest of the file is not known."""


@dataclass(frozen=True)
class Retiming:
    """What was done to a print."""

    moves: int
    """Moves whose feed was lowered."""
    words_changed: int
    words_added: int
    before: Replay
    reserve: float
    by_peak: bool = False
    """Only as slow as the speeds reached on this rig ask for; else it holds on any."""

    @property
    def other_hot_end(self) -> bool:
        """Whether so many moves are slower that the file looks made for another hot end."""
        return self.moves > OTHER_HOT_END * self.before.summary.extruding_moves


def limit_problems(source: Path | bytes, rig: Rig, found: Replay) -> list[Problem]:
    """What of a print lies outside the rig (temperature, build volume), or is not for retiming."""
    problems = []
    limit = rig.hot_end.temperature_limit_c
    hottest, inverse_time = 0.0, False
    for chunk in read(source, rig=rig):
        events = chunk.events
        heats = (events.code == gcode_columns.SET_HOT_END) | (
            events.code == gcode_columns.WAIT_HOT_END
        )
        hottest = max(hottest, float(np.nanmax(events.value[heats], initial=0.0)))
        inverse_time = inverse_time or bool((chunk.flags & gcode_columns.INVERSE_TIME).any())
    if inverse_time:
        problems.append(
            Problem(
                "it gives feeds as inverse time (G93), where F is no speed.",
                found.summary.source,
                remedy="Give feeds per minute (G94).",
            )
        )
    if limit is not None and hottest > limit:
        problems.append(
            Problem(
                f"the print asks for {hottest:g} °C, above the hot end's limit of {limit:g} °C.",
                Place.of_field(f"rig {rig.name}", "hot_end.temperature_limit_c"),
                hottest,
                "Prepare it for a lower temperature, or name the rig it is meant for.",
            )
        )
    volume, box = rig.build_volume, found.summary.box_mm
    if volume is not None and box is not None:
        for axis, low, high, top in zip(
            "xyz", *box, (volume.x_mm, volume.y_mm, volume.z_mm), strict=True
        ):
            from_corner = low >= -MARGIN_MM and high <= top + MARGIN_MM
            centred = axis != "z" and max(-low, high) <= top / 2 + MARGIN_MM
            if not (from_corner or centred):
                problems.append(
                    Problem(
                        f"it extrudes from {axis} {low:g} to {high:g} mm, and the rig reaches "
                        f"0 to {top:g} mm"
                        + ("." if axis == "z" else f" (or {top / 2:g} either way of its middle)."),
                        Place.of_field(f"rig {rig.name}", f"build_volume.{axis}_mm"),
                        high,
                        "Name the rig the print is meant for.",
                    )
                )
    return problems


def retime(
    source: Path | bytes,
    out: BinaryIO,
    rig: Rig,
    fit: Fit,
    *,
    fit_rig: str | None = None,
    fit_material: str | None = None,
    reserve: float = RESERVE,
    name: str | None = None,
    by_peak: bool = False,
    packed: bool = False,
) -> Retiming:
    """Write a copy of a print that stays under the ceiling less a reserve.

    A print that does already is written as it is, byte for byte. Priming, set apart from the print,
    keeps its feeds.

    Parameters
    ----------
    out : binary file
        Written from its start.
    reserve : float, 0 to 0.9
        Fraction kept below the ceiling at the temperature in force.
    by_peak : bool
        Slow only the moves whose reached flow is over it on this rig. Else every bead's
        commanded feed is capped, and the copy holds at any acceleration.
    packed : bool
        Write gz.

    Raises
    ------
    LimitError
        The print leaves the rig's limits, or gives feeds as inverse time (G93); nothing
        is written.
    GcodeError
        The end of the text is not known (a cut or damaged gz); nothing is written.
    """
    before = replay(
        source, rig, fit, fit_rig=fit_rig, fit_material=fit_material, name=name,
        stop_on_problem=False,
    )  # fmt: skip
    cut = [kind for kind in CUT if kind in before.summary.problem_counts]
    if cut:
        raise GcodeError([make_problem(kind, before.summary.source) for kind in cut])
    rig = before.read_as
    problems = [*limit_problems(source, rig, before), *_unknown(before)]
    if not 0 <= reserve <= 0.9:
        problems.append(
            Problem("the reserve must lie between 0 and 0.9.", "reserve", reserve, "0.1 is usual.")
        )
    if problems:
        raise LimitError(problems)
    limits = Limits.from_rig(rig)
    section = filament_section_mm2(rig.filament_diameter_mm)
    ceilings = Ceilings(fit, section, fit_rig, fit_material, reserve=reserve)
    wanted = slower_moves(source, rig, limits, ceilings, section, by_peak=by_peak)
    moves = wanted.changed.size
    if not moves:
        copy_as_it_is(source, out, packed=packed)
        return Retiming(0, 0, 0, before, reserve, by_peak)
    writer = Rewriter(source, rig, _header(before, reserve, moves))
    with packing(out, packed=packed) as target:
        for piece in writer.pieces(wanted):
            target.write(piece)
    return Retiming(moves, writer.changed, writer.added, before, reserve, by_peak)


def _unknown(found: Replay) -> list[Problem]:
    """Temperatures at which no copy can be promised to stay under the ceiling."""
    return [
        Problem(
            f"whether the hot end gives a flow is not known at {celsius:g} °C, so no copy can be "
            "promised to stay under the ceiling there.",
            found.summary.source,
            celsius,
            f"Weigh coupons at {celsius:g} °C, or print at a temperature that was weighed.",
        )
        for celsius in found.unknown_c
    ]


def check_copy(made: Retiming, after: Replay) -> None:
    """Hold a copy, replayed, against what was promised.

    Raises
    ------
    LimitError
        It is over the ceiling less the reserve, or another path or filament than the print's.
    """
    before = made.before.summary
    least = min((x.headroom for x in after.layers if x.headroom is not None), default=None)
    changes = [
        ("moves", before.moves, after.summary.moves),
        ("path, mm", before.extruding_path_mm, after.summary.extruding_path_mm),
        ("filament, mm", before.filament_net_mm, after.summary.filament_net_mm),
    ]
    problems = [
        Problem(f"the copy has {new:g} of {name} where the print has {old:g}.", name, new,
                "Keep the print as it is, and report this file.")
        for name, old, new in changes
        if abs(new - old) > 1e-9 * max(abs(old), 1.0)
    ]  # fmt: skip
    if least is not None and least < 1.0 / (1.0 - made.reserve) - 1.0 - ROUNDING:
        problems.append(
            Problem(
                f"the copy keeps {percent(1.0 - 1.0 / (1.0 + least), 1)} below the ceiling at its "
                f"tightest, less than the reserve of {percent(made.reserve, 1)}.",
                "reserve",
                made.reserve,
                "Keep the print as it is, and report this file.",
            )
        )
    if problems:
        raise LimitError(problems)


def slower_moves(
    source: Path | bytes,
    rig: Rig,
    limits: Limits,
    ceilings: Ceilings,
    section: float,
    *,
    by_peak: bool = False,
) -> Slower:
    """Which moves get which part of their feed, so that none asks for more than its ceiling.

    By peak, the print is planned as it is; slowing moves can only lower the speeds reached by the
    others (or raise them by ``MORE_PEAK``, where jerk is limited), so one pass is enough.
    """
    from beadworth.replay._kernel import slow_to

    reader, before = read(source, rig=rig), 0
    numbers, factors = [], []
    for moves, reached, ceiling in _reached(reader, limits, ceilings, by_peak=by_peak):
        slower = np.empty(len(moves))
        if slow_to(
            moves.filament_mm, moves.length_mm, reached, moves.feed_mm_s, ceiling, section,
            moves.context["kind"], slower,
        ):  # fmt: skip
            index = np.flatnonzero(slower < moves.feed_mm_s)
            if (slower[index] < SLOWEST_MM_S).any():
                raise LimitError(_too_slow(moves, index, slower))
            numbers.append(index + before)
            factors.append(slower[index] / moves.feed_mm_s[index])
        before += len(moves)
    if not numbers:
        return Slower(np.empty(0, np.int64), np.empty(0))
    return Slower(np.concatenate(numbers), np.concatenate(factors))


def _reached(
    reader: Reader, limits: Limits, ceilings: Ceilings, *, by_peak: bool
) -> Iterator[tuple[MoveTable, Array, Array]]:
    """Moves in order, the speed to judge each by, and its ceiling."""
    if by_peak:
        for block in blocks(reader, limits, ceilings):
            most = 1.0 if block.timing.jerk_mm_s3 is None else MORE_PEAK
            yield block.moves, most * block.timing.peak_mm_s, block.ceiling_mm3_s
        return
    for moves, _, _ in moves_of(reader, limits, ceilings, Waits()):
        yield moves, moves.feed_mm_s, np.take(ceilings.table()[1], moves.context["condition"])


def _too_slow(moves: MoveTable, index: NDArray[np.int64], slower: Array) -> Problem:
    worst = int(index[np.argmin(slower[index])])
    return Problem(
        f"it feeds {moves.filament_mm[worst]:g} mm of filament over "
        f"{moves.length_mm[worst]:g} mm: only at {slower[worst]:.2g} mm/s would it stay "
        "under the ceiling.",
        f"line {moves.context['line'][worst]}",
        remedy="Check the E words there, and whether E is absolute (M82) or relative (M83).",
    )


def _header(before: Replay, reserve: float, moves: int) -> bytes:
    lines = [
        HEADER + ": feeds of extruding moves lowered to stay under the melt ceiling",
        f"; reserve {percent(reserve, 0)}, rig {before.rig}, {moves} moves slower; "
        "every other byte is as it was",
        "; hot parts burn; ventilate; never leave a heating printer unattended",
    ]
    return "".join(f"{line}\n" for line in lines).encode("ascii", "replace")
