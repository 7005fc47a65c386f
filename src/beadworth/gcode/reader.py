"""Read a G-code file in chunks of move arrays, with everything it asked for on the way.

How each word is read, and by which source, is in docs/reference/gcode.md.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from beadworth.errors import GcodeError
from beadworth.gcode import _layout as at
from beadworth.gcode.pool import POOL
from beadworth.gcode.problems import KIND_NAMES, GcodeProblem, make_problem
from beadworth.gcode.source import BOM, GZ_MAGIC, OpenSource, Source
from beadworth.gcode.totals import GcodeSummary, UnknownWord, other_readings
from beadworth.rig import Rig

Floats = NDArray[np.float64]
Ints = NDArray[np.int32]
Longs = NDArray[np.int64]

CHUNK_BYTES: Final = 3 << 20
FIRST_BYTES: Final = 1 << 17
MAX_LISTED: Final = 200  # problems kept with their place; the rest are counted
_EVENT_ROOM: Final = 4096
_MIN_BYTES: Final = 4096
_COUNTS: Final = [at.i_moves, at.i_events, at.i_arcs, at.i_settings, at.i_problems, at.i_jumps]


@dataclass(frozen=True)
class Arcs:
    """The arcs of a chunk, in the order of their moves.

    Attributes
    ----------
    move : int array
        Index of the move in the chunk.
    centre_u_mm, centre_v_mm, radius_mm : float arrays
        Centre in the plane's two axes (G17 x y, G18 z x, G19 y z), radius at the start.
    sweep_rad : float array
        Signed angle, whole turns included; positive from the first to the second axis (G3).
    plane : int array
        17, 18 or 19.
    """

    move: Longs
    centre_u_mm: Floats
    centre_v_mm: Floats
    radius_mm: Floats
    sweep_rad: Floats
    plane: Ints


@dataclass(frozen=True)
class Events:
    """What happens between moves: dwells, heating, homing, tool changes.

    Attributes
    ----------
    before : int array
        Index of the move in the chunk that comes next (the count of moves for the last).
    code : int array
        One of ``DWELL HOME TOOL_CHANGE WAIT_HOT_END WAIT_BED SET_HOT_END SET_BED PAUSE
        SYNC PROGRAM_END`` of this package.
    line : int array
        Line, from 1.
    value : float array
        Seconds, °C, or for ``HOME`` the axes as bits (1 x, 2 y, 4 z).
    tool : int array
        The tool meant.
    """

    before: Longs
    code: Ints
    line: Longs
    value: Floats
    tool: Ints


@dataclass(frozen=True)
class Chunk:
    """The moves of some consecutive lines, one array element per move.

    A move is a G0 to G3 that changes X, Y, Z or E, a full circle, or a G10 or G11.

    Attributes
    ----------
    line : int64 array
        Line, from 1.
    offset : int64 array
        Byte at which the line starts, from 0, in the unpacked text.
    f_at, f_len : int64 and int32 arrays
        Where the F word stands and how long it is; length 0 where the line has none: then
        a word (with a blank before it) may be inserted at ``f_at``.
    x0, y0, z0, x, y, z : float arrays, mm
        Start and end in program coordinates. A start differs from the end before it
        after G92 and G28, which name the place anew without a move.
    e_mm : float array, mm
        Filament advance as programmed, before the flow override.
    feed_mm_s : float array, mm/s
        F in force, before the feed override.
    length_mm : float array, mm
        Path length of X, Y and Z; 0 where only E moves.
    kind : int32 array
        ``TRAVEL EXTRUDE WIPE RETRACT PRIME`` of this package.
    flags : int32 array
        Sum of ``RAPID MODAL ARC BAD_ARC NO_FEED CHECKSUM MACHINE FIRMWARE INVERSE_TIME INCH``.
    layer : int32 array
        Number of the height at which was last extruded, in order of first appearance; -1
        before the first.
    setting : int32 array
        Row of ``settings`` in force.
    settings : float array, rows × ``len(SETTINGS)``
        Columns as named in ``SETTINGS``; nan where the file has not said.
    arcs, events
        See :class:`Arcs` and :class:`Events`.
    """

    line: Longs
    offset: Longs
    f_at: Longs
    f_len: Ints
    x0: Floats
    y0: Floats
    z0: Floats
    x: Floats
    y: Floats
    z: Floats
    e_mm: Floats
    feed_mm_s: Floats
    length_mm: Floats
    kind: Ints
    flags: Ints
    layer: Ints
    setting: Ints
    settings: Floats
    arcs: Arcs
    events: Events

    def __len__(self) -> int:
        """Count of moves."""
        return len(self.line)

    def in_force(self, name: str) -> Floats:
        """One setting for every move; nan where the file has not said.

        Raises
        ------
        ValueError
            A name that is not in ``SETTINGS``.
        """
        column: Floats = self.settings[:, at.SETTINGS.index(name)]
        return column[self.setting]

    @property
    def speed_mm_s(self) -> Floats:
        """Speed asked for: F times the feed override (M220), G10 and G11 left alone, mm/s."""
        own = (self.flags & at.FIRMWARE) != 0
        return self.feed_mm_s * np.where(own, 1.0, self.in_force("feed_override"))

    @property
    def filament_mm(self) -> Floats:
        """Filament fed: E times the flow override (M221), G10 and G11 left alone, mm."""
        own = (self.flags & at.FIRMWARE) != 0
        return self.e_mm * np.where(own, 1.0, self.in_force("flow_override"))


@dataclass
class _Tables:
    """The arrays one call of the scanner fills."""

    room: int
    fo: Floats = field(init=False)
    io: Longs = field(init=False)
    so: Ints = field(init=False)
    events: Floats = field(init=False)
    arcs: Floats = field(init=False)
    settings: Floats = field(init=False)
    problems: Floats = field(init=False)

    def __post_init__(self) -> None:
        empty = POOL.empty
        self.fo = empty((at.N_FLOAT, self.room + 1))
        self.io = empty((at.N_LONG, self.room + 1), np.int64)
        self.so = empty((at.N_SHORT, self.room), np.int32)
        self.events = empty((at.N_EVENT, _EVENT_ROOM))
        self.arcs = empty((at.N_ARC, max(self.room // 2, 64)))
        self.settings = empty((_EVENT_ROOM, at.N_SETTING))
        self.problems = empty((at.N_PROBLEM, at.MAX_PROBLEMS))

    def chunk(self, i: Longs) -> Chunk:
        """What the scanner wrote, as views."""
        n = int(i[at.i_moves])
        fo, io, so = self.fo[:, :n], self.io[:, :n], self.so[:, :n]
        arcs = self.arcs[:, : int(i[at.i_arcs])].copy()
        events = self.events[:, : int(i[at.i_events])].copy()
        x0, y0, z0 = self._starts(n, int(i[at.i_jumps]))
        return Chunk(
            line=io[at.LINE],
            offset=io[at.OFFSET],
            f_at=io[at.F_AT],
            f_len=so[at.F_LEN],
            x0=x0,
            y0=y0,
            z0=z0,
            x=self.fo[at.AT_X, 1 : n + 1],
            y=self.fo[at.AT_Y, 1 : n + 1],
            z=self.fo[at.AT_Z, 1 : n + 1],
            e_mm=fo[at.FILAMENT],
            feed_mm_s=fo[at.FEED],
            length_mm=fo[at.LENGTH],
            kind=so[at.KIND],
            flags=so[at.FLAGS],
            layer=so[at.LAYER],
            setting=so[at.SETTING],
            settings=self.settings[: int(i[at.i_settings])].copy(),
            arcs=Arcs(
                move=arcs[at.ARC_MOVE].astype(np.int64),
                centre_u_mm=arcs[at.ARC_U],
                centre_v_mm=arcs[at.ARC_V],
                radius_mm=arcs[at.ARC_RADIUS],
                sweep_rad=arcs[at.ARC_SWEEP],
                plane=arcs[at.ARC_PLANE].astype(np.int32),
            ),
            events=Events(
                before=events[at.EV_BEFORE].astype(np.int64),
                code=events[at.EV_CODE].astype(np.int32),
                line=events[at.EV_LINE].astype(np.int64),
                value=events[at.EV_VALUE],
                tool=events[at.EV_TOOL].astype(np.int32),
            ),
        )

    def _starts(self, n: int, jumps: int) -> tuple[Floats, Floats, Floats]:
        """Where moves start: at the end of the one before, but for those listed as jumps."""
        x, y, z = self.fo[at.AT_X, :n], self.fo[at.AT_Y, :n], self.fo[at.AT_Z, :n]
        moves = self.io[at.JUMP_MOVE, :jumps]
        if jumps and moves[-1] == n:  # the next chunk begins there
            moves = moves[:-1]
        if moves.size:
            x, y, z = x.copy(), y.copy(), z.copy()
            for places, row in ((x, at.JUMP_X), (y, at.JUMP_Y), (z, at.JUMP_Z)):
                places[moves] = self.fo[row, : moves.size]
        return x, y, z


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
    ) -> None:
        rig = rig or Rig(name="default")
        self._open = OpenSource(source, name)
        self.name = self._open.name
        self._chunk_bytes = max(CHUNK_BYTES if chunk_bytes is None else chunk_bytes, 64)
        self._first_bytes = FIRST_BYTES if chunk_bytes is None else self._chunk_bytes
        self._stop = stop_on_problem
        self._plain = plain
        self._started = False
        self._finished = False
        self._problems: list[GcodeProblem] = []
        self._counts: dict[str, int] = {}
        self._names: dict[int, str] = {}
        self.bytes_read = 0
        self._f, self._i = _fresh_state(rig)
        self._unknown = np.zeros((at.MAX_UNKNOWN, at.N_UNKNOWN), np.int64)
        self._layers = np.full((2, at.LAYER_SLOTS), at.EMPTY_SLOT, np.int64)

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
        box = f[at.f_box : at.f_box + 6]
        extruding = int(i[at.i_n_extruding])
        continuous = bool(f[at.f_climbing] > 0.5 * f[at.f_extruding]) or bool(i[at.i_layers_full])
        return GcodeSummary(
            source=self.name,
            bytes=self.bytes_read,
            lines=int(i[at.i_line]),
            moves=int(i[at.i_n_moves]),
            extruding_moves=extruding,
            extruding_path_mm=float(f[at.f_extruding]),
            travel_path_mm=float(f[at.f_travel]),
            filament_net_mm=float(f[at.f_net]),
            filament_forward_mm=float(f[at.f_forward]),
            box_mm=(tuple(box[:3].tolist()), tuple(box[3:].tolist())) if extruding else None,
            layers=None if continuous and extruding else int(i[at.i_n_layers]),
            arcs=int(i[at.i_n_arcs]),
            bad_arcs=int(i[at.i_n_bad_arcs]),
            repeated_motions=int(i[at.i_n_modal]),
            checksums=int(i[at.i_checksums]),
            unknown_words=self._unknown_words(),
            unknown_more=int(i[at.i_unknown_more]),
            problems=tuple(self._problems),
            problem_counts=dict(self._counts),
            readings=other_readings(f, i),
        )

    def _chunks(self) -> Iterator[Chunk]:
        """The windows of text through the scanner."""
        from beadworth.gcode._kernel import scan

        f, i = self._f, self._i
        for buffer, base, stop in self._windows():
            begin = 0
            room = max(stop // 24, 256)
            while begin < stop:
                tables = _Tables(room)
                i[at.i_base] = base
                i[_COUNTS] = 0
                i[at.i_dirty] = 1
                begin = scan(
                    buffer, begin, stop, self._plain, f, i, tables.fo, tables.io, tables.so,
                    tables.events, tables.arcs, tables.settings, tables.problems,
                    self._unknown, self._layers,
                )  # fmt: skip
                self._learn_names(buffer, base)
                self._take_problems(tables.problems)
                self.bytes_read = base + min(begin, stop)
                yield tables.chunk(i)
        self._finish()

    def _windows(self) -> Iterator[tuple[NDArray[np.uint8], int, int]]:
        """Buffers of whole lines: the buffer, its place in the text, the length to read."""
        stream = self._open.stream
        store = bytearray(self._chunk_bytes + at.PAD)
        have, base, first, ended = 0, 0, True, False
        room = self._first_bytes
        while not ended:
            room = min(2 * room, len(store) - at.PAD)
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
                store[have : have + at.PAD] = b"\n" * at.PAD
                stop = have
            else:
                feed = store.rfind(b"\n", 0, have)
                stop = max(feed, store.rfind(b"\r", feed + 1, have - 1)) + 1
            if stop == 0 and not ended:
                if have < at.LONG_LINE + 2:  # a line, its CR, and the byte that may be its LF
                    store = store + bytes(min(len(store), at.LONG_LINE + 2 - have))
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
        stream, line = self._open.stream, int(self._i[at.i_line]) + 1
        size = 0
        while have:
            ends = [k for k in (store.find(b"\n", 0, have), store.find(b"\r", 0, have)) if k >= 0]
            if ends:
                break
            size += have
            have = stream.readinto(memoryview(store)[: len(store) - at.PAD])
        else:
            self._note(make_problem("long-line", self.name, line, base, float(size)))
            self._i[at.i_line] += 1
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

    def _learn_names(self, buffer: NDArray[np.uint8], base: int) -> None:
        """Keep the spelling of commands that are names, while their text is at hand."""
        for row in self._unknown:
            if row[at.U_COUNT] == 0:
                break
            key = int(row[at.U_KEY])
            if key & at.NAMED_KEY and key not in self._names:
                start = int(row[at.U_AT]) - base
                text = buffer[start : start + int(row[at.U_LEN])].tobytes()
                self._names[key] = text.decode("ascii", "replace")

    def _take_problems(self, table: Floats) -> None:
        """The scanner's problems in words; raises where the caller wants to stop."""
        found = []
        for column in table[:, : int(self._i[at.i_problems])].T:
            kind, line, byte = (int(v) for v in column[:3])
            found.append(
                make_problem(
                    KIND_NAMES[kind], self.name, line, byte, float(column[at.PR_VALUE]),
                    int(column[at.PR_LETTER]),
                )
            )  # fmt: skip
        for kind, count in enumerate(self._i[at.i_count : at.i_count + at.MAX_KINDS].tolist()):
            if count:
                name = KIND_NAMES[kind]
                self._counts[name] = self._counts.get(name, 0) + count
        self._i[at.i_count : at.i_count + at.MAX_KINDS] = 0
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
        bad, absolute = int(self._i[at.i_n_bad_arcs]), int(self._i[at.i_n_absolute])
        if absolute >= 3 and 2 * absolute > bad and 4 * bad > int(self._i[at.i_n_arcs]):
            self._note(make_problem("absolute-centres", self.name, value=float(absolute)))

    def _unknown_words(self) -> tuple[UnknownWord, ...]:
        """The table of unknown words, most frequent first."""
        words = [
            UnknownWord(
                self._spell(int(row[at.U_KEY])),
                int(row[at.U_COUNT]),
                tuple(row[at.U_LINES :][: min(int(row[at.U_COUNT]), at.UNKNOWN_LINES)].tolist()),
            )
            for row in self._unknown
            if row[at.U_COUNT]
        ]
        return tuple(sorted(words, key=lambda word: (-word.count, word.word)))

    def _spell(self, key: int) -> str:
        """An unknown word as it is written."""
        if key & at.NAMED_KEY:
            return self._names.get(key, "?")
        parameter, command = key >> at.PARAMETER_SHIFT, key & ((1 << at.PARAMETER_SHIFT) - 1)
        letter, code = command >> at.LETTER_SHIFT, command & ((1 << at.LETTER_SHIFT) - 1)
        whole, tenth = divmod(code, 10)
        if letter > at.Z:
            return chr(letter)
        spelt = f"{chr(65 + letter)}{whole}" + (f".{tenth}" if tenth else "")
        if parameter == 0:
            return spelt
        return chr(64 + parameter) + (f" on {spelt}" if command else "")


def _fresh_state(rig: Rig) -> tuple[Floats, Longs]:
    """The state before the first line."""
    f = np.zeros(at.N_FSTATE)
    i = np.zeros(at.N_ISTATE, np.int64)
    f[at.f_feed] = math.nan
    f[at.f_scale] = 1.0
    f[at.f_set : at.f_set + at.N_SETTING] = math.nan
    f[at.f_set + at.TOOL] = 0.0
    f[at.f_set + at.FEED_OVERRIDE] = f[at.f_set + at.FLOW_OVERRIDE] = 1.0
    f[at.f_temps : at.f_temps + at.MAX_TOOLS] = math.nan
    f[at.f_box : at.f_box + 3] = math.inf
    f[at.f_box + 3 : at.f_box + 6] = -math.inf
    f[at.f_layer_z] = math.nan
    f[at.f_retract_mm] = rig.extruder.retract_mm
    f[at.f_retract_mm_s] = rig.extruder.retract_mm_s
    i[at.i_motion] = -1
    i[at.i_plane] = 17
    i[at.i_units] = 21
    i[at.i_layer] = -1
    i[at.i_follow] = int(rig.motion.e_follows_g90)
    i[at.i_alt_relative + at.ALT_RELATIVE] = 1
    i[at.i_diverged] = 1 << at.ALT_RELATIVE
    return f, i


def read(
    source: Source,
    *,
    rig: Rig | None = None,
    chunk_bytes: int | None = None,
    stop_on_problem: bool = False,
    name: str | None = None,
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
        first and then 3 MiB, so that whoever waits for the first moves waits a moment.
    stop_on_problem : bool
        Raise at the first chunk with a problem instead of going on.
    name : str, optional
        What messages call the source.

    Raises
    ------
    GcodeError
        The file cannot be opened.
    """
    return Reader(source, rig, chunk_bytes, stop_on_problem, name)


def summary(source: Source, rig: Rig | None = None, **options: Any) -> GcodeSummary:
    """Counts and lengths of a G-code file; the arguments are those of :func:`read`."""
    return read(source, rig=rig, **options).summary()
