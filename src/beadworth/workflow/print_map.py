"""The segments of a print on disk, so that any of its sheets is there at once."""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from beadworth.replay import (
    SEGMENT,
    Curve,
    Replay,
    loss_curves,
    segment_bytes,
    segments,
    sheet_of_layer,
)

if TYPE_CHECKING:
    from beadworth.workflow.prints import ReplayInputs

READY_BYTES = 64_000_000
"""Answers held ready: a few very full sheets, or all of a small print."""


class PrintMap:
    """Every bead of a print, by sheet."""

    def __init__(self, source: Path, found: Replay, inputs: ReplayInputs, place: Path,
                 progress: Callable[[int], None]) -> None:  # fmt: skip
        """Walk the print once and write its segments down."""
        sheet_of = sheet_of_layer(found)
        starts: list[NDArray[np.int64]] = []
        sheets: list[NDArray[np.int32]] = []
        heats: set[float] = set()
        total = 0
        with place.open("wb") as file:
            for part in segments(
                source, found.read_as, inputs.fit, **inputs.group, name=found.summary.source,
                progress=progress,
            ):  # fmt: skip
                numbers = sheet_of[np.minimum(part["layer"], len(sheet_of) - 1)]
                runs = np.flatnonzero(np.concatenate([[True], numbers[1:] != numbers[:-1]]))
                starts.append(runs + total)
                sheets.append(numbers[runs])
                heats.update(np.unique(part["c"]).tolist())
                file.write(part.tobytes())
                total += len(part)
        self._place = place
        self._start = np.concatenate([*starts, [total]])
        self._sheet = np.concatenate([*sheets, [-1]])
        self._curves: dict[float, Curve] | None = None
        if inputs.fit is not None:
            self._curves = loss_curves(
                inputs.fit, inputs.fit_rig, inputs.fit_material, sorted(h for h in heats if h > 0)
            )
        self._ready: OrderedDict[int, bytes] = OrderedDict()
        self._lock = threading.Lock()

    def sheet(self, number: int) -> bytes:
        """The columns of one sheet; empty where nothing is laid there."""
        with self._lock:
            if number in self._ready:
                self._ready.move_to_end(number)
                return self._ready[number]
        made = segment_bytes(self._records(number), self._curves)
        with self._lock:
            self._ready[number] = made
            while len(self._ready) > 1 and sum(map(len, self._ready.values())) > READY_BYTES:
                self._ready.popitem(last=False)
        return made

    def _records(self, number: int) -> Any:
        runs = np.flatnonzero(self._sheet == number)
        if not runs.size:
            return np.empty(0, SEGMENT)
        parts = []
        with self._place.open("rb") as file:
            # neighbouring runs are read together
            first = np.concatenate([[True], np.diff(runs) > 1])
            last = np.concatenate([np.diff(runs) > 1, [True]])
            for a, b in zip(runs[first], runs[last], strict=True):
                begin, end = int(self._start[a]), int(self._start[b + 1])
                file.seek(begin * SEGMENT.itemsize)
                parts.append(np.fromfile(file, SEGMENT, end - begin))
        return np.concatenate(parts)
