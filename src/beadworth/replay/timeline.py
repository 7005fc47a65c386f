"""A print through reader, planner and pressure lag, block by block, each move with its context."""

from __future__ import annotations

import queue
import threading
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from beadworth.gcode import Chunk, Reader
from beadworth.gcode import _layout as words
from beadworth.motion import Limits, MoveTable, Planner, Timing
from beadworth.replay.ceilings import Ceilings
from beadworth.replay.first_use import prepare

Array = NDArray[np.float64]
_CONTEXT = ("line", "layer", "kind", "temperature_c", "ceiling_mm3_s", "wanted_mm_s")


@dataclass(frozen=True)
class Block:
    """Consecutive moves with their timing and what the account needs of them."""

    moves: MoveTable
    timing: Timing
    line: NDArray[np.int64]
    layer: NDArray[np.int32]
    kind: NDArray[np.int32]
    temperature_c: Array
    ceiling_mm3_s: Array
    wanted_mm_s: Array
    """Speed the file asks for (before any cap)."""
    wait_before: NDArray[np.int64]
    """Moves of this block before which the machine waits, and how long."""
    wait_s: Array


@dataclass
class _Waiting:
    """Context of moves the planner still holds back."""

    parts: list[dict[str, NDArray[Any]]]

    def take(self, count: int) -> dict[str, NDArray[Any]]:
        """The first ``count`` moves' context, as views where they are of one part."""
        taken: list[dict[str, NDArray[Any]]] = []
        while count > 0:
            head = self.parts[0]
            size = len(head["line"])
            if size <= count:
                taken.append(self.parts.pop(0))
            else:
                taken.append({name: head[name][:count] for name in _CONTEXT})
                self.parts[0] = {name: head[name][count:] for name in _CONTEXT}
            count -= min(size, count)
        if len(taken) == 1:
            return taken[0]
        return {name: np.concatenate([part[name] for part in taken]) for name in _CONTEXT}


def blocks(
    reader: Reader, limits: Limits, ceilings: Ceilings, *, cap: bool = False, scale: float = 1.0
) -> Iterator[Block]:
    """Read, plan, and hand out the moves in order.

    Parameters
    ----------
    cap : bool
        Lower every extruding move's feed to its ceiling before planning.
    scale : float
        Factor on the feeds of extruding moves, before the cap.
    """
    prepare()
    planner = Planner()
    waiting = _Waiting([])
    waits: list[tuple[int, float]] = []
    before = 0
    for chunk in _ahead(reader):
        moves = MoveTable.from_chunk(chunk)
        temperature, ceiling = ceilings.of_chunk(chunk)
        waiting.parts.append(
            {
                "line": chunk.line,
                "layer": chunk.layer,
                "kind": chunk.kind,
                "temperature_c": temperature,
                "ceiling_mm3_s": ceiling,
                "wanted_mm_s": moves.feed_mm_s,
            }
        )
        waits += _waits(chunk, before)
        before += len(chunk)
        if cap or scale != 1.0:
            moves = _capped(moves, chunk, ceiling, ceilings.section_mm2, scale, cap)
        for made in planner.add(moves, limits.in_chunk(chunk)):
            yield _block(*made, waiting, waits)
    for moves, timing in planner.finish():
        waits = [(min(move, timing.first + len(timing)), seconds) for move, seconds in waits]
        yield _block(moves, timing, waiting, waits, ends=True)


def _ahead(reader: Reader) -> Iterator[Chunk]:
    """Chunks read by a thread of their own, two ahead: the scanner lets go of the interpreter."""
    waiting: queue.Queue[Chunk | BaseException | None] = queue.Queue(maxsize=2)
    stopped = threading.Event()

    def put(item: Chunk | BaseException | None) -> bool:
        while not stopped.is_set():
            try:
                waiting.put(item, timeout=0.1)
            except queue.Full:
                continue
            return True
        return False

    def work() -> None:
        try:
            for chunk in reader:
                if not put(chunk):
                    return
            put(None)
        except BaseException as error:  # handed to the caller, whatever it is
            put(error)

    thread = threading.Thread(target=work, name="gcode-reader", daemon=True)
    thread.start()
    try:
        while (item := waiting.get()) is not None:
            if isinstance(item, BaseException):
                raise item
            yield item
    finally:
        stopped.set()
        thread.join()


def _capped(
    moves: MoveTable, chunk: Chunk, ceiling: Array, section: float, scale: float, cap: bool
) -> MoveTable:
    """Moves whose extruding feeds are scaled, then kept under the ceiling."""
    from dataclasses import replace

    laying = (chunk.kind == words.EXTRUDE) & (moves.length_mm > 0) & (moves.filament_mm > 0)
    feed = np.where(laying, moves.feed_mm_s * scale, moves.feed_mm_s)
    if cap:
        with np.errstate(divide="ignore", invalid="ignore"):
            top = ceiling * moves.length_mm / (section * moves.filament_mm)
        feed = np.where(laying & (top < feed), top, feed)
    return replace(moves, feed_mm_s=feed)


def _waits(chunk: Chunk, before: int) -> list[tuple[int, float]]:
    """Dwells of a chunk as (number of the move that follows, seconds)."""
    events = chunk.events
    dwell = events.code == words.DWELL
    return [
        (int(move) + before, float(seconds))
        for move, seconds in zip(events.before[dwell], events.value[dwell], strict=True)
    ]


def _block(
    moves: MoveTable,
    timing: Timing,
    waiting: _Waiting,
    waits: list[tuple[int, float]],
    *,
    ends: bool = False,
) -> Block:
    """A block with its waits; those behind the last move of the print belong to the last block."""
    n = len(timing)
    context = waiting.take(n)
    end = timing.first + n
    mine = [(move - timing.first, s) for move, s in waits if move < end or (ends and move == end)]
    del waits[: len(mine)]
    return Block(
        moves,
        timing,
        **context,
        wait_before=np.array([move for move, _ in mine], dtype=np.int64),
        wait_s=np.array([seconds for _, seconds in mine], dtype=np.float64),
    )
