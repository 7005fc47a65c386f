"""The same print with other feeds: under the ceiling less a reserve, at the least cost of time.

Only F words change or are added, and comment lines are put in front; every other byte
stays. On lines that carry a checksum the checksum is computed anew, since it covers the F word.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO

import numpy as np
from numpy.typing import NDArray

from beadworth.capacity import Fit
from beadworth.errors import LimitError, Problem
from beadworth.gcode import Chunk, read
from beadworth.gcode import _layout as words
from beadworth.gcode.source import GZ_MAGIC
from beadworth.motion import Limits
from beadworth.quantity import filament_section_mm2
from beadworth.replay.ceilings import Ceilings
from beadworth.replay.result import Replay
from beadworth.replay.run import replay
from beadworth.replay.timeline import blocks
from beadworth.rig import Rig

Array = NDArray[np.float64]
TOLERANCE = 1e-9
_STEP = 1 << 20


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
    """What of a print lies outside the rig: temperature, build volume."""
    problems = []
    limit = rig.hot_end.temperature_limit_c
    hottest = max(
        (
            float(np.nanmax(chunk.settings[:, words.SETTINGS.index("hot_end_c")], initial=0.0))
            for chunk in read(source, rig=rig)
        ),
        default=0.0,
    )
    if limit is not None and hottest > limit:
        problems.append(
            Problem(
                f"the print asks for {hottest:g} °C, above the hot end's limit of {limit:g} °C.",
                f"rig {rig.name}, field hot_end.temperature_limit_c",
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
                        f"rig {rig.name}, field build_volume.{axis}_mm",
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
    reserve: float = 0.1,
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
        The print has a problem on a motion line: mend it first.
    """
    before = replay(
        source, rig, fit, fit_rig=fit_rig, fit_material=fit_material, name=name,
        stop_on_problem=False,
    )  # fmt: skip
    problems = limit_problems(source, rig, before)
    if not 0 <= reserve <= 0.9:
        problems.append(
            Problem("the reserve must lie between 0 and 0.9.", "reserve", reserve, "0.1 is usual.")
        )
    if problems:
        raise LimitError(problems)
    limits, _ = Limits.from_rig(rig)
    section = filament_section_mm2(rig.filament_diameter_mm)
    ceilings = Ceilings(fit, section, fit_rig, fit_material, reserve=reserve)
    wanted = slower_moves(source, rig, limits, ceilings, section)
    writer = _Rewriter(source, rig)
    header = _header(before, reserve, int(wanted.changed.size))
    out.write(header)
    for piece in writer.pieces(wanted):
        out.write(piece)
    return Retiming(int(wanted.changed.size), writer.changed, writer.added, before, reserve)


@dataclass(frozen=True)
class _Wanted:
    """Factor on F for the moves that must be slower, by number of the move."""

    changed: NDArray[np.int64]
    factor: Array


def slower_moves(
    source: Path | bytes, rig: Rig, limits: Limits, ceilings: Ceilings, section: float
) -> _Wanted:
    """Plan the print as it is; a move whose peak flow is over gets the speed that is not.

    Slowing moves can only lower the speeds reached by the others, so one pass is enough.
    """
    from beadworth.replay._kernel import slow_to

    numbers, factors = [], []
    for block in blocks(read(source, rig=rig), limits, ceilings):
        moves = block.moves
        slower = np.empty(len(moves))
        if slow_to(
            moves.filament_mm, moves.length_mm, block.timing.peak_mm_s, moves.feed_mm_s,
            block.ceiling_mm3_s, section, block.kind, slower,
        ):  # fmt: skip
            index = np.flatnonzero(slower < moves.feed_mm_s)
            numbers.append(index + block.timing.first)
            factors.append(slower[index] / moves.feed_mm_s[index])
    if not numbers:
        return _Wanted(np.empty(0, np.int64), np.empty(0))
    return _Wanted(np.concatenate(numbers), np.concatenate(factors))


def _header(before: Replay, reserve: float, moves: int) -> bytes:
    lines = [
        "; retimed by beadworth: feeds of extruding moves lowered to stay under the melt ceiling",
        f"; reserve {reserve:.0%}, rig {before.rig}, {moves} moves slower; "
        "every other byte is as it was",
        "; hot parts burn; ventilate; never leave a heating printer unattended",
    ]
    return "".join(f"{line.encode('ascii', 'replace').decode()}\n" for line in lines).encode()


_NUMBER = re.compile(rb"[+-]?(?:\d+\.?\d*|\.\d+)")


class _Rewriter:
    """Walks the text and the moves together; hands out the text with F words put in."""

    def __init__(self, source: Path | bytes, rig: Rig) -> None:
        self.source, self.rig = source, rig
        self.changed = 0
        self.added = 0
        self._per_mm_s = 60.0  # the number in the text for 1 mm/s: minutes, millimetres
        self._slow_before = False

    def pieces(self, wanted: _Wanted) -> Iterator[bytes]:
        """The text of the copy, piece by piece."""
        number = place = 0
        with _text_of(self.source) as text:
            for chunk in read(self.source, rig=self.rig):
                factor = np.ones(len(chunk))
                end = int(np.searchsorted(wanted.changed, number + len(chunk)))
                factor[wanted.changed[place:end] - number] = wanted.factor[place:end]
                place, number = end, number + len(chunk)
                yield from self._chunk(chunk, factor, text)
            while part := text.read(_STEP):
                yield part

    def _chunk(self, chunk: Chunk, factor: Array, text: BinaryIO) -> Iterator[bytes]:
        slow = factor < 1.0
        # the move after a slow one gets its own feed back
        after = np.concatenate([[self._slow_before], slow[:-1]]) if len(slow) else slow
        self._slow_before = bool(slow[-1]) if len(slow) else self._slow_before
        self._learn_unit(chunk, text)
        for m in np.flatnonzero(slow | after).tolist():
            if not slow[m] and chunk.f_len[m]:
                continue  # it says its own feed already
            start = int(chunk.offset[m])
            while (left := start - text.tell()) > 0:
                yield text.read(min(left, _STEP))
            line = text.readline()
            at, length = int(chunk.f_at[m]) - start, int(chunk.f_len[m])
            word = _f_word(float(chunk.feed_mm_s[m] * factor[m]) * self._per_mm_s)
            new = line[at : at + 1] + word if length else b" F" + word
            line = line[:at] + new + line[at + length :]
            self.changed += bool(length)
            self.added += not length
            yield _with_checksum(line) if chunk.flags[m] & words.CHECKSUM else line

    def _learn_unit(self, chunk: Chunk, text: BinaryIO) -> None:
        """How the file writes speeds (mm/min, inch/min), from the first F word of a chunk."""
        given = np.flatnonzero((chunk.f_len > 1) & (chunk.feed_mm_s > 0))
        if given.size and text.seekable():
            m, here = int(given[0]), text.tell()
            text.seek(int(chunk.f_at[m]))
            number = _NUMBER.search(text.read(int(chunk.f_len[m])))
            text.seek(here)
            if number is not None:
                self._per_mm_s = float(number[0]) / float(chunk.feed_mm_s[m])


def _text_of(source: Path | bytes) -> BinaryIO:
    """The unpacked text as a seekable stream."""
    import gzip
    import io

    if isinstance(source, bytes):
        packed = source[:2] == GZ_MAGIC
        return io.BytesIO(gzip.decompress(source) if packed else source)
    file = open(source, "rb")  # noqa: SIM115 - closed by the caller's with
    packed = file.read(2) == GZ_MAGIC
    file.seek(0)
    return gzip.GzipFile(fileobj=file) if packed else file  # type: ignore[return-value]


def _f_word(value: float) -> bytes:
    """A feed rounded down, so that the ceiling holds, with digits enough to cost no time."""
    digits = 1 if value >= 100 else 3
    scale = 10**digits
    return f"{np.floor(value * scale * (1 + TOLERANCE)) / scale:.{digits}f}".encode()


def _with_checksum(line: bytes) -> bytes:
    """The line with its ``*checksum`` made right: XOR of every byte before the star."""
    star = line.rfind(b"*")
    told = re.match(rb"\s*\d+", line[star + 1 :])
    if star < 0 or told is None:
        return line
    value = 0
    for byte in line[:star]:
        value ^= byte
    return line[: star + 1] + str(value).encode() + line[star + 1 + told.end() :]
