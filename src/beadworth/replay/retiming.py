"""The same print with other feeds: under the ceiling less a reserve, at the least cost of time.

Only F words change or are added, and comment lines are put in front; every other byte
stays. On lines that carry a checksum the checksum is computed anew, since it covers the F word.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, BinaryIO

import numpy as np
from numpy.typing import NDArray

from beadworth.core import RESERVE, GcodeError, LimitError, Place, Problem, filament_section_mm2
from beadworth.gcode import columns as gcode_columns
from beadworth.gcode import make_problem, read
from beadworth.motion import Limits
from beadworth.replay.ceilings import Ceilings
from beadworth.replay.result import Replay
from beadworth.replay.rewrite import Rewriter, Slower
from beadworth.replay.run import replay
from beadworth.replay.timeline import Block, blocks
from beadworth.rig import Rig
from beadworth.text import percent

if TYPE_CHECKING:
    from beadworth.capacity import Fit


Array = NDArray[np.float64]
ROUNDING = 1e-6
SLOWEST_MM_S = 2 * gcode_columns.SLOWEST_FEED
"""A bead that must be slower is a slip of E, not of speed; a reader would pass over its F."""
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
            if low < -10 or high > top + 10:  # purge lines beside the bed are common
                problems.append(
                    Problem(
                        f"it extrudes from {axis} {low:g} to {high:g} mm, and the rig reaches "
                        f"0 to {top:g} mm.",
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
) -> Retiming:
    """Write a copy of a print that stays under the ceiling less a reserve.

    Parameters
    ----------
    out : binary file
        Written from its start; plain text also where the source is gz.
    reserve : float, 0 to 0.9
        Fraction kept below the ceiling at the temperature in force.

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
    problems = limit_problems(source, rig, before)
    if not 0 <= reserve <= 0.9:
        problems.append(
            Problem("the reserve must lie between 0 and 0.9.", "reserve", reserve, "0.1 is usual.")
        )
    if problems:
        raise LimitError(problems)
    limits = Limits.from_rig(rig)
    section = filament_section_mm2(rig.filament_diameter_mm)
    ceilings = Ceilings(fit, section, fit_rig, fit_material, reserve=reserve)
    wanted = slower_moves(source, rig, limits, ceilings, section)
    writer = Rewriter(source, rig, _header(before, reserve, int(wanted.changed.size)))
    for piece in writer.pieces(wanted):
        out.write(piece)
    return Retiming(int(wanted.changed.size), writer.changed, writer.added, before, reserve)


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
    source: Path | bytes, rig: Rig, limits: Limits, ceilings: Ceilings, section: float
) -> Slower:
    """Plan the print as it is; a move whose peak flow is over gets the speed that is not.

    Slowing moves can only lower the speeds reached by the others, so one pass is enough.
    """
    from beadworth.replay._kernel import slow_to

    numbers, factors = [], []
    for block in blocks(read(source, rig=rig), limits, ceilings, whole=True):
        moves = block.moves
        slower = np.empty(len(moves))
        if slow_to(
            moves.filament_mm, moves.length_mm, block.timing.peak_mm_s, moves.feed_mm_s,
            block.ceiling_mm3_s, section, block.kind, slower,
        ):  # fmt: skip
            index = np.flatnonzero(slower < moves.feed_mm_s)
            if (slower[index] < SLOWEST_MM_S).any():
                raise LimitError(_too_slow(block, index, slower))
            numbers.append(index + block.timing.first)
            factors.append(slower[index] / moves.feed_mm_s[index])
    if not numbers:
        return Slower(np.empty(0, np.int64), np.empty(0))
    return Slower(np.concatenate(numbers), np.concatenate(factors))


def _too_slow(block: Block, index: NDArray[np.int64], slower: Array) -> Problem:
    worst = int(index[np.argmin(slower[index])])
    return Problem(
        f"it feeds {block.moves.filament_mm[worst]:g} mm of filament over "
        f"{block.moves.length_mm[worst]:g} mm: only at {slower[worst]:.2g} mm/s would it stay "
        "under the ceiling.",
        f"line {block.line[worst]}",
        remedy="Check the E words there, and whether E is absolute (M82) or relative (M83).",
    )


def _header(before: Replay, reserve: float, moves: int) -> bytes:
    lines = [
        "; retimed by beadworth: feeds of extruding moves lowered to stay under the melt ceiling",
        f"; reserve {percent(reserve, 0)}, rig {before.rig}, {moves} moves slower; "
        "every other byte is as it was",
        "; hot parts burn; ventilate; never leave a heating printer unattended",
    ]
    return "".join(f"{line.encode('ascii', 'replace').decode()}\n" for line in lines).encode()
