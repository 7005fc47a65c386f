"""Read a G-code file in chunks of move arrays, with everything it asked for on the way.

How each word is read, and by which source, is in docs/reference/gcode.md.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from beadworth.core import GcodeError, filament_section_mm2
from beadworth.gcode import columns
from beadworth.gcode.chunk import Chunk, Floats, Longs, Tables
from beadworth.gcode.problems import KIND_NAMES, GcodeProblem, make_problem
from beadworth.gcode.source import BOM, GZ_MAGIC, OpenSource, Source
from beadworth.gcode.totals import GcodeSummary, other_readings
from beadworth.gcode.unknown import UnknownWords
from beadworth.rig import Rig

CHUNK_BYTES: Final = 3 << 20
FIRST_BYTES: Final = 1 << 17
MAX_LISTED: Final = 200  # problems kept with their place; the rest are counted
_MIN_BYTES: Final = 4096
_COUNTS: Final = [
    columns.i_moves,
    columns.i_events,
    columns.i_arcs,
    columns.i_settings,
    columns.i_problems,
    columns.i_jumps,
]


class Reader:
    """Iterates over the chunks of a file, once; :meth:`summary` then tells the whole.

    Made by :func:`read`.
    """

    def __init__(
        self,
        source: Source,
        rig: Rig | None,
        chunk_bytes: int | None,
        stop_on_problem: bool,
        name: str | None,
        plain: bool = True,
        places: bool = True,
    ) -> None:
        rig = rig or Rig(name="default")
        self._open = OpenSource(source, name)
        self.name = self._open.name
        self._chunk_bytes = max(CHUNK_BYTES if chunk_bytes is None else chunk_bytes, 64)
        self._first_bytes = FIRST_BYTES if chunk_bytes is None else self._chunk_bytes
        self._stop = stop_on_problem
        self._plain, self._places = plain, places
        self._started = False
        self._finished = False
        self._problems: list[GcodeProblem] = []
        self._counts: dict[str, int] = {}
        self.bytes_read = 0
        self._f, self._i = _fresh_state(rig)
        self._unknown = UnknownWords()
        self._layers = np.full((2, columns.LAYER_SLOTS), columns.EMPTY_SLOT, np.int64)
        self._shapes = np.zeros(columns.N_SHAPES * columns.SHAPE_SIZE, np.uint64)

    def __iter__(self) -> Iterator[Chunk]:
        """Read the file chunk by chunk.

        Yields
        ------
        Chunk
            With arrays of its own; memory is bounded where chunks are let go.

        Raises
        ------
        GcodeError
            At the first chunk with a problem, where the reader was told to stop.
        RuntimeError
            On a second pass: make a new reader.
        """
        if self._started:
            raise RuntimeError("this reader was already used; call read() again")
        self._started = True
        try:
            yield from self._chunks()
        finally:
            self._open.close()
        self._finished = True

    def summary(self) -> GcodeSummary:
        """Counts and lengths of the whole file; reads what was not read yet."""
        if not self._started:
            for _ in self:
                pass
        if not self._finished:
            raise RuntimeError("the summary is known once all chunks were read")
        f, i = self._f, self._i
        box = f[columns.f_box : columns.f_box + 6]
        extruding = int(i[columns.i_n_extruding])
        continuous = bool(f[columns.f_climbing] > 0.5 * f[columns.f_extruding]) or bool(
            i[columns.i_layers_full]
        )
        return GcodeSummary(
            source=self.name,
            bytes=self.bytes_read,
            lines=int(i[columns.i_line]),
            moves=int(i[columns.i_n_moves]),
            extruding_moves=extruding,
            extruding_path_mm=float(f[columns.f_extruding]),
            travel_path_mm=float(f[columns.f_travel]),
            filament_net_mm=float(f[columns.f_net]),
            filament_forward_mm=float(f[columns.f_forward]),
            box_mm=(tuple(box[:3].tolist()), tuple(box[3:].tolist())) if extruding else None,
            layers=None if continuous and extruding else int(i[columns.i_n_layers]),
            arcs=int(i[columns.i_n_arcs]),
            bad_arcs=int(i[columns.i_n_bad_arcs]),
            repeated_motions=int(i[columns.i_n_modal]),
            checksums=int(i[columns.i_checksums]),
            unknown_words=self._unknown.words(),
            unknown_more=int(i[columns.i_unknown_more]),
            problems=tuple(self._problems),
            problem_counts=dict(self._counts),
            readings=other_readings(f, i),
            firmware_retractions=int(i[columns.i_n_firmware]),
            firmware_retract_mm=float(f[columns.f_firmware]),
            signs=tuple(i[[columns.i_n_signs, columns.i_n_counter_signs]].tolist()),
            closing_if_absolute=int(i[columns.i_n_absolute]),
        )

    def _chunks(self) -> Iterator[Chunk]:
        """The windows of text through the scanner."""
        from beadworth.gcode._kernel import scan

        f, i = self._f, self._i
        for buffer, base, stop in self._windows():
            begin = 0
            room = max(stop // 24, 256)
            while begin < stop:
                tables = Tables(room)
                i[columns.i_base] = base
                i[_COUNTS] = 0
                i[columns.i_dirty] = 1
                begin = scan(
                    buffer, begin, stop, self._plain, self._places, f, i, tables.fo, tables.io,
                    tables.so, tables.events, tables.arcs, tables.settings, tables.problems,
                    self._unknown.table, self._layers, self._shapes,
                )  # fmt: skip
                self._unknown.learn(buffer, base)
                self._take_problems(tables.problems)
                self.bytes_read = base + min(begin, stop)
                yield tables.chunk(i, places=self._places)
        self._finish()

    def _windows(self) -> Iterator[tuple[NDArray[np.uint8], int, int]]:
        """Buffers of whole lines: the buffer, its place in the text, the length to read."""
        stream = self._open.stream
        store = bytearray(self._chunk_bytes + columns.PAD)
        have, base, first, ended = 0, 0, True, False
        room = self._first_bytes
        while not ended:
            room = min(2 * room, len(store) - columns.PAD)
            if self._open.size > self._chunk_bytes > FIRST_BYTES:  # less at the end than before it
                left = self._open.size - base - have
                room = min(room, have + max(left // 2, FIRST_BYTES))
            while have < room:
                got = stream.readinto(memoryview(store)[have:room])
                if got == 0:
                    ended = True
                    break
                have += got
            if first:
                first = False
                skip = self._look_at_head(bytes(store[:_MIN_BYTES]), have)
                if skip < 0:
                    break
                store[: have - skip] = store[skip:have]
                have, base = have - skip, skip
            if ended and stream.cut:  # a line cut in the middle would ask for another number
                have = max(store.rfind(b"\n", 0, have), store.rfind(b"\r", 0, have)) + 1
            if ended:
                store[have : have + columns.PAD] = b"\n" * columns.PAD
                stop = have
            else:
                feed = store.rfind(b"\n", 0, have)
                stop = max(feed, store.rfind(b"\r", feed + 1, have - 1)) + 1
            if stop == 0 and not ended:
                if have < columns.LONG_LINE + 2:  # a line, its CR, and the byte that may be its LF
                    store = store + bytes(min(len(store), columns.LONG_LINE + 2 - have))
                    continue
                have, dropped, ended = self._drop_line(store, have, base)
                base += dropped
                if not ended or have:
                    continue
                break
            buffer = np.frombuffer(store, np.uint8)
            yield buffer, base, stop
            del buffer
            store[: have - stop] = store[stop:have]
            base += stop
            have -= stop

    def _drop_line(self, store: bytearray, have: int, base: int) -> tuple[int, int, bool]:
        """Read over a line too long to keep; what is kept, what was dropped, whether it ended."""
        stream, line = self._open.stream, int(self._i[columns.i_line]) + 1
        size = 0
        while have:
            ends = [k for k in (store.find(b"\n", 0, have), store.find(b"\r", 0, have)) if k >= 0]
            if ends:
                break
            size += have
            have = stream.readinto(memoryview(store)[: len(store) - columns.PAD])
        else:
            self._note(make_problem("long-line", self.name, line, base, float(size)))
            self._i[columns.i_line] += 1
            self.bytes_read = base + size
            return 0, size, True
        end = min(ends)
        size += end
        self._note(make_problem("long-line", self.name, line, base, float(size)))
        store[: have - end] = store[end:have]  # the line end itself is read as an empty line
        return have - end, size, False

    def _look_at_head(self, head: bytes, have: int) -> int:
        """Bytes to skip before the text begins; -1 where it is no text."""
        head = head[:have]
        if self._open.packed and head.startswith(GZ_MAGIC):
            self._note(make_problem("gz-nested", self.name))
            return -1
        if b"\0" in head:
            self._note(make_problem("not-text", self.name, 1, head.index(b"\0")))
            return -1
        return len(BOM) if head.startswith(BOM) else 0

    def _take_problems(self, table: Floats) -> None:
        """The scanner's problems in words; raises where the caller wants to stop."""
        found = []
        for column in table[:, : int(self._i[columns.i_problems])].T:
            kind, line, byte = (int(v) for v in column[:3])
            found.append(
                make_problem(
                    KIND_NAMES[kind], self.name, line, byte, float(column[columns.PR_VALUE]),
                    int(column[columns.PR_LETTER]),
                )
            )  # fmt: skip
        for kind, count in enumerate(
            self._i[columns.i_count : columns.i_count + columns.MAX_KINDS].tolist()
        ):
            if count:
                name = KIND_NAMES[kind]
                self._counts[name] = self._counts.get(name, 0) + count
        self._i[columns.i_count : columns.i_count + columns.MAX_KINDS] = 0
        self._problems.extend(found[: MAX_LISTED - len(self._problems)])
        if found and self._stop:
            raise GcodeError(found)

    def _note(self, problem: GcodeProblem) -> None:
        """Keep a problem found outside the scanner."""
        self._counts[problem.kind] = self._counts.get(problem.kind, 0) + 1
        self._problems.append(problem)
        if self._stop:
            raise GcodeError(problem)

    def _finish(self) -> None:
        """What can be said only at the end of the file."""
        if self._open.stream.problem is not None:
            self._note(self._open.stream.problem)
        bad, absolute = int(self._i[columns.i_n_bad_arcs]), int(self._i[columns.i_n_absolute])
        if absolute >= 3 and 2 * absolute > bad and 4 * bad > int(self._i[columns.i_n_arcs]):
            self._note(make_problem("absolute-centres", self.name, value=float(absolute)))


def _fresh_state(rig: Rig) -> tuple[Floats, Longs]:
    """The state before the first line."""
    f = np.zeros(columns.N_FSTATE)
    i = np.zeros(columns.N_ISTATE, np.int64)
    f[columns.f_feed] = math.nan
    f[columns.f_scale] = 1.0
    f[columns.f_set : columns.f_set + columns.N_SETTING] = math.nan
    f[columns.f_set + columns.TOOL] = 0.0
    f[columns.f_set + columns.FEED_OVERRIDE] = f[columns.f_set + columns.FLOW_OVERRIDE] = 1.0
    f[columns.f_temps : columns.f_temps + columns.MAX_TOOLS] = math.nan
    f[columns.f_box : columns.f_box + 3] = math.inf
    f[columns.f_box + 3 : columns.f_box + 6] = -math.inf
    f[columns.f_layer_z] = math.nan
    f[columns.f_retract_mm] = rig.extruder.retract_mm
    f[columns.f_retract_mm_s] = rig.extruder.retract_mm_s
    i[columns.i_motion] = -1
    i[columns.i_plane] = 17
    i[columns.i_units] = 21
    i[columns.i_layer] = -1
    i[columns.i_follow] = int(rig.motion.e_follows_g90 or False)
    i[columns.i_absolute_centre] = int(rig.motion.absolute_arc_centres or False)
    f[columns.f_diameter] = rig.filament_diameter_mm
    f[columns.f_per_e] = 1.0
    if rig.extruder.volumetric_e:
        f[columns.f_per_e] = 1.0 / filament_section_mm2(rig.filament_diameter_mm)
    i[columns.i_alt_relative + columns.ALT_RELATIVE] = 1
    i[columns.i_diverged] = 1 << columns.ALT_RELATIVE
    return f, i


def read(
    source: Source,
    *,
    rig: Rig | None = None,
    chunk_bytes: int | None = None,
    stop_on_problem: bool = False,
    name: str | None = None,
    places: bool = True,
) -> Reader:
    """Open a G-code file, plain or gz, or its bytes.

    Parameters
    ----------
    source : path, or bytes
        A ``str`` is a path.
    rig : Rig, optional
        For G10 and G11 (retraction length and speed) and ``e_follows_g90``.
    chunk_bytes : int, optional
        Text read at a time; memory grows with it, not with the file. Where left out, less at
        first, then 3 MiB, and less again towards the end, so that whoever waits for the first
        moves, or works through the last, waits a moment.
    stop_on_problem : bool
        Raise at the first chunk with a problem instead of going on.
    name : str, optional
        What messages call the source.
    places : bool
        Say where each line and its F word stand in the text; without, ``offset``, ``f_at`` and
        ``f_len`` of the chunks are empty, and reading takes less time.

    Raises
    ------
    GcodeError
        The file cannot be opened.
    """
    return Reader(source, rig, chunk_bytes, stop_on_problem, name, places=places)


def summary(source: Source, rig: Rig | None = None, **options: Any) -> GcodeSummary:
    """Counts and lengths of a G-code file; the arguments are those of :func:`read`."""
    return read(source, rig=rig, **options).summary()
