"""The moves of some consecutive lines, and the tables they are cut from."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Final

import numpy as np
from numpy.typing import NDArray

from beadworth.gcode import columns
from beadworth.gcode.pool import POOL

Floats = NDArray[np.float64]
Ints = NDArray[np.int32]
Longs = NDArray[np.int64]

EVENT_ROOM: Final = 4096


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
        SYNC PROGRAM_END LEVEL REMAINING`` of this package.
    line : int array
        Line, from 1.
    value : float array
        Seconds, °C, for ``HOME`` the axes as bits (1 x, 2 y, 4 z), for ``REMAINING`` minutes.
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
        Byte at which the line starts, from 0, in the unpacked text; empty, as are the next two,
        where the reader was not to say places.
    f_at, f_len : int64 and int32 arrays
        Where the F word stands and how long it is; length 0 where the line has none: then
        a word (with a blank before it) may be inserted at ``f_at``.
    x0, y0, z0, x, y, z : float arrays, mm
        Start and end in program coordinates. A start differs from the end before it
        after G92 and G28, which name the place anew without a move; where none does, starts
        and ends are views of the same memory.
    e_mm : float array, mm
        Filament advance as programmed, before the flow override.
    feed_mm_s : float array, mm/s
        F in force, before the feed override.
    length_mm : float array, mm
        Path length of X, Y and Z; 0 where only E moves.
    kind : int32 array
        ``TRAVEL EXTRUDE WIPE RETRACT PRIME PUSH`` of this package.
    flags : int32 array
        Sum of ``RAPID MODAL ARC BAD_ARC NO_FEED CHECKSUM MACHINE FIRMWARE INVERSE_TIME INCH``.
    layer : int32 array
        Number of the height at which was last extruded, in order of first appearance; -1
        before the first.
    setting : int32 array
        Row of ``settings`` in force.
    settings : float array, rows × ``len(SETTINGS)``
        Columns as named in ``SETTINGS``; nan where the file has not said.
    limit_lines : float array, rows × ``N_LIMIT``
        Line that set each limit (the settings from ``PRINT_ACC`` on); 0 where none did.
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
    limit_lines: Floats
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
        column: Floats = self.settings[:, columns.SETTINGS.index(name)]
        return column[self.setting]

    @property
    def speed_mm_s(self) -> Floats:
        """Speed asked for: F times the feed override (M220), G10 and G11 left alone, mm/s."""
        own = (self.flags & columns.FIRMWARE) != 0
        return self.feed_mm_s * np.where(own, 1.0, self.in_force("feed_override"))

    @property
    def filament_mm(self) -> Floats:
        """Filament fed: E times the flow override (M221), G10 and G11 left alone, mm."""
        own = (self.flags & columns.FIRMWARE) != 0
        return self.e_mm * np.where(own, 1.0, self.in_force("flow_override"))


@dataclass
class Tables:
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
        self.fo = empty((columns.N_FLOAT, self.room + 1))
        self.io = empty((columns.N_LONG, self.room + 1), np.int64)
        self.so = empty((columns.N_SHORT, self.room), np.int32)
        self.events = empty((columns.N_EVENT, EVENT_ROOM))
        self.arcs = empty((columns.N_ARC, max(self.room // 2, 64)))
        self.settings = empty((EVENT_ROOM, columns.N_ROW))
        self.problems = empty((columns.N_PROBLEM, columns.MAX_PROBLEMS))

    def chunk(self, i: Longs, *, places: bool) -> Chunk:
        """What the scanner wrote, as views."""
        n = int(i[columns.i_moves])
        placed = n if places else 0
        fo, io, so = self.fo[:, :n], self.io[:, :n], self.so[:, :n]
        arcs = self.arcs[:, : int(i[columns.i_arcs])].copy()
        events = self.events[:, : int(i[columns.i_events])].copy()
        rows = self.settings[: int(i[columns.i_settings])].copy()
        x0, y0, z0 = self._starts(n, int(i[columns.i_jumps]))
        return Chunk(
            line=io[columns.LINE],
            offset=io[columns.OFFSET, :placed],
            f_at=io[columns.F_AT, :placed],
            f_len=so[columns.F_LEN, :placed],
            x0=x0,
            y0=y0,
            z0=z0,
            x=self.fo[columns.AT_X, 1 : n + 1],
            y=self.fo[columns.AT_Y, 1 : n + 1],
            z=self.fo[columns.AT_Z, 1 : n + 1],
            e_mm=fo[columns.FILAMENT],
            feed_mm_s=fo[columns.FEED],
            length_mm=fo[columns.LENGTH],
            kind=so[columns.KIND],
            flags=so[columns.FLAGS],
            layer=so[columns.LAYER],
            setting=so[columns.SETTING],
            settings=rows[:, : columns.N_SETTING],
            limit_lines=rows[:, columns.N_SETTING :],
            arcs=Arcs(
                move=arcs[columns.ARC_MOVE].astype(np.int64),
                centre_u_mm=arcs[columns.ARC_U],
                centre_v_mm=arcs[columns.ARC_V],
                radius_mm=arcs[columns.ARC_RADIUS],
                sweep_rad=arcs[columns.ARC_SWEEP],
                plane=arcs[columns.ARC_PLANE].astype(np.int32),
            ),
            events=Events(
                before=events[columns.EV_BEFORE].astype(np.int64),
                code=events[columns.EV_CODE].astype(np.int32),
                line=events[columns.EV_LINE].astype(np.int64),
                value=events[columns.EV_VALUE],
                tool=events[columns.EV_TOOL].astype(np.int32),
            ),
        )

    def _starts(self, n: int, jumps: int) -> tuple[Floats, Floats, Floats]:
        """Where moves start: at the end of the one before, but for those listed as jumps."""
        x, y, z = self.fo[columns.AT_X, :n], self.fo[columns.AT_Y, :n], self.fo[columns.AT_Z, :n]
        moves = self.io[columns.JUMP_MOVE, :jumps]
        if jumps and moves[-1] == n:  # the next chunk begins there
            moves = moves[:-1]
        if moves.size:
            x, y, z = x.copy(), y.copy(), z.copy()
            for places, row in ((x, columns.JUMP_X), (y, columns.JUMP_Y), (z, columns.JUMP_Z)):
                places[moves] = self.fo[row, : moves.size]
        return x, y, z
