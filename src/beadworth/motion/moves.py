"""The moves to plan, as columns."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any, Self

import numpy as np
from numpy.typing import NDArray

from beadworth.core import InputError
from beadworth.gcode import Arcs, Chunk
from beadworth.gcode import columns as gcode_columns

Floats = NDArray[np.float64]
Ints = NDArray[np.int32]
Longs = NDArray[np.int64]
_FLOATS = ("x0", "y0", "z0", "x", "y", "z", "filament_mm", "feed_mm_s", "length_mm")
COLUMNS = (*_FLOATS, "setting")
_GO_ON = (gcode_columns.SET_HOT_END, gcode_columns.SET_BED, gcode_columns.REMAINING)
ARC_COLUMNS = ("centre_u_mm", "centre_v_mm", "radius_mm", "sweep_rad", "plane")


def writable(values: NDArray[Any]) -> NDArray[Any]:
    """As it is; a copy where it may not be written to, for which a kernel is compiled anew."""
    flags = values.flags
    if flags.c_contiguous and flags.writeable:
        return values
    return np.require(values, requirements=("C", "W"))


def no_arcs() -> Arcs:
    """An empty list of arcs."""
    empty = np.empty(0)
    return Arcs(np.empty(0, np.int64), empty, empty, empty, empty, np.empty(0, np.int32))


def _no_stops() -> Longs:
    return np.empty(0, np.int64)


@dataclass(frozen=True)
class MoveTable:
    """Moves in the order they are run, one array element each.

    Attributes
    ----------
    x0, y0, z0, x, y, z : float arrays, mm
        Start and end.
    filament_mm : float array
        Filament fed, negative where it is drawn back.
    feed_mm_s : float array, > 0
        Commanded speed along the path; of the filament where only it moves.
    length_mm : float array, ≥ 0
        Path length; 0 where only filament moves (or nothing: such a move takes no time).
    setting : int32 array
        Row of the limits in force.
    arcs : Arcs
        Which moves are arcs or helices.
    stop_before : int64 array
        Moves before which the machine stands still: after a dwell, a wait for heat, a tool
        change. Sorted; repeated entries do no harm.
    context : mapping of name to array of one value per move
        What the caller wants to find again beside the moves once they are planned.
    """

    x0: Floats
    y0: Floats
    z0: Floats
    x: Floats
    y: Floats
    z: Floats
    filament_mm: Floats
    feed_mm_s: Floats
    length_mm: Floats
    setting: Ints
    arcs: Arcs = field(default_factory=no_arcs)
    stop_before: Longs = field(default_factory=_no_stops)
    context: Mapping[str, NDArray[Any]] = field(default_factory=dict)
    _looked: tuple[int, int, int] | None = field(
        default=None, init=False, repr=False, compare=False
    )
    """What :meth:`look_over` found, or found of more moves than these."""

    def __post_init__(self) -> None:
        """Check shapes; the values are checked while planning.

        Raises
        ------
        InputError
            Columns of different lengths.
        """
        for name in _FLOATS:
            object.__setattr__(self, name, np.ascontiguousarray(getattr(self, name), float))
        object.__setattr__(self, "setting", np.ascontiguousarray(self.setting, np.int32))
        object.__setattr__(self, "stop_before", np.ascontiguousarray(self.stop_before, np.int64))
        shapes = {name: getattr(self, name).shape for name in COLUMNS}
        shapes |= {name: column.shape for name, column in self.context.items()}
        if len(set(shapes.values())) > 1 or len(self.setting.shape) != 1:
            raise InputError(f"columns of moves differ in length: {shapes}.")

    def __len__(self) -> int:
        """Count of moves."""
        return len(self.feed_mm_s)

    @classmethod
    def from_chunk(cls, chunk: Chunk, context: Mapping[str, NDArray[Any]] | None = None) -> Self:
        """The moves of a chunk of G-code, overrides applied, without copying where none is set.

        The machine is taken to stand still at every event but a change of a target
        temperature (``SET_HOT_END``, ``SET_BED``) and a mark of the time left (``REMAINING``).
        """
        events = chunk.events
        waits = np.ones(len(events.code), bool)
        for code in _GO_ON:
            waits &= events.code != code
        overrides = (gcode_columns.FEED_OVERRIDE, gcode_columns.FLOW_OVERRIDE)
        plain = [bool((chunk.settings[:, column] == 1.0).all()) for column in overrides]
        return cls(
            chunk.x0, chunk.y0, chunk.z0, chunk.x, chunk.y, chunk.z,
            chunk.e_mm if plain[1] else chunk.filament_mm,
            chunk.feed_mm_s if plain[0] else chunk.speed_mm_s,
            chunk.length_mm, chunk.setting, chunk.arcs, events.before[waits], context or {},
        )  # fmt: skip

    def look_over(self) -> tuple[int, int, int]:
        """How many moves have neither length nor filament, and bounds of their limits rows.

        The rows are those of the table they were cut from, which may reach further.
        """
        from beadworth.motion._kernel import look_over

        if self._looked is None:
            found = look_over(
                writable(self.filament_mm), writable(self.length_mm), writable(self.setting)
            )
            object.__setattr__(self, "_looked", found)
        assert self._looked is not None
        return self._looked

    def with_context(self, context: Mapping[str, NDArray[Any]]) -> Self:
        """The same moves with another context."""
        return self._made(self.__dict__ | {"context": context})

    def part(self, start: int, stop: int) -> Self:
        """Moves start … stop − 1, as views; a stop due right after them is left out."""
        columns: dict[str, Any] = {name: getattr(self, name)[start:stop] for name in COLUMNS}
        arcs = self.arcs
        if arcs.move.size:
            a, b = arcs.move.searchsorted([start, stop])
            shapes: dict[str, Any] = {name: getattr(arcs, name)[a:b] for name in ARC_COLUMNS}
            arcs = Arcs(arcs.move[a:b] - start, **shapes)
        c, d = self.stop_before.searchsorted([start, stop])
        context = {name: column[start:stop] for name, column in self.context.items()}
        stops = self.stop_before[c:d] - start
        looked = self._looked if self._looked and self._looked[0] == 0 else None
        return self._made(
            columns | {"arcs": arcs, "stop_before": stops, "context": context, "_looked": looked}
        )

    @classmethod
    def _made(cls, fields: dict[str, Any]) -> Self:
        """A table of columns that were checked before; looking again would cost more than a cut."""
        made = cls.__new__(cls)
        made.__dict__.update(fields)
        return made

    def copy(self) -> Self:
        """The same in arrays of its own, so that a large one they are cut from can be let go."""
        columns: dict[str, Any] = {name: getattr(self, name).copy() for name in COLUMNS}
        context = {name: column.copy() for name, column in self.context.items()}
        shapes: dict[str, Any] = {name: getattr(self.arcs, name).copy() for name in ARC_COLUMNS}
        arcs = Arcs(self.arcs.move.copy(), **shapes) if self.arcs.move.size else self.arcs
        stops = self.stop_before.copy()
        return self._made(
            columns
            | {"arcs": arcs, "stop_before": stops, "context": context, "_looked": self._looked}
        )

    def followed_by(self, *others: Self) -> Self:
        """These moves and others after them, in new arrays; the limits rows stay as they are.

        All have the same context.
        """
        tables = (self, *others)
        arcs = self.arcs
        before = np.cumsum([0, *(len(table) for table in others)]) + len(self)
        offsets = [0, *before[:-1].tolist()]

        def joined(parts: Iterable[Any]) -> Any:
            return np.concatenate(list(parts))

        columns = {name: joined(getattr(t, name) for t in tables) for name in COLUMNS}
        pairs = list(zip(tables, offsets, strict=True))
        if any(table.arcs.move.size for table in tables):
            shapes = {name: joined(getattr(t.arcs, name) for t in tables) for name in ARC_COLUMNS}
            arcs = Arcs(joined(t.arcs.move + o for t, o in pairs), **shapes)
        stops = joined(t.stop_before + o for t, o in pairs)
        context = {name: joined(t.context[name] for t in tables) for name in self.context}
        return self._made(columns | {"arcs": arcs, "stop_before": stops, "context": context})
