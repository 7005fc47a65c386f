"""What a print asks for, taken apart: flow by time, by feature, layer times and fan, tools."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Final

import numpy as np
from numpy.typing import NDArray

from beadworth.gcode import Chunk
from beadworth.gcode import columns as gcode_columns
from beadworth.replay import columns
from beadworth.replay.ceilings import Ceilings
from beadworth.replay.features import Features

Array = NDArray[np.float64]

MOST_BINS: Final = 60
_STEPS: Final = (0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1.0, 2.0, 5.0)


@dataclass(frozen=True)
class FlowHistogram:
    """Time spent at each flow, over the moves that lay a bead; each move by its mean flow."""

    width_mm3_s: float
    """Of a bin; the first begins at 0."""
    time_s: tuple[float, ...]

    def share_over(self, flow_mm3_s: float) -> float:
        """Part of the time in bins that lie wholly over a flow."""
        total = sum(self.time_s)
        first = int(np.ceil(flow_mm3_s / self.width_mm3_s - 1e-9))
        return sum(self.time_s[first:]) / total if total else 0.0

    def quantile(self, share: float) -> float:
        """Flow that a share of the time does not pass, to half the width of a bin."""
        if not self.time_s:
            return 0.0
        sums = np.cumsum(self.time_s)
        return (int(np.searchsorted(sums, share * sums[-1])) + 0.5) * self.width_mm3_s

    def merged(self, most: int) -> FlowHistogram:
        """The same in at most so many bins."""
        size = max(1, -(-len(self.time_s) // most))
        parts = [sum(self.time_s[k : k + size]) for k in range(0, len(self.time_s), size)]
        return FlowHistogram(size * self.width_mm3_s, tuple(parts))


@dataclass(frozen=True)
class Feature:
    """One feature of a print, as its comments mark them."""

    name: str
    time_s: float
    """Laying it."""
    filament_mm: float
    flow_mm3_s: float
    """Mean over that time."""
    max_mm3_s: float
    over_s: float
    """Time for which the flow out of the nozzle is above the ceiling."""


@dataclass(frozen=True)
class ToolFilament:
    """Filament of one tool: the sum of its E words."""

    tool: int
    filament_mm: float


@dataclass
class Tools:
    """Adds up E words by tool, chunk by chunk; what is left of the total is tool 0's."""

    others: dict[int, float] = field(default_factory=dict)

    def note(self, chunk: Chunk) -> None:
        """Take a chunk."""
        tool = chunk.settings[:, gcode_columns.TOOL]
        if not tool.any():
            return
        of_move = tool[chunk.setting].astype(np.int64)
        own = (chunk.flags & gcode_columns.FIRMWARE) == 0
        sums = np.bincount(of_move[own], chunk.e_mm[own], gcode_columns.MAX_TOOLS)
        for number in np.unique(of_move).tolist():
            if number:
                self.others[number] = self.others.get(number, 0.0) + float(sums[number])

    def found(self, net_mm: float) -> tuple[ToolFilament, ...]:
        """Every tool that was used, by number."""
        first = ToolFilament(0, net_mm - sum(self.others.values()))
        rest = [ToolFilament(tool, mm) for tool, mm in sorted(self.others.items())]
        return (first, *rest) if not rest or abs(first.filament_mm) > 1e-6 else tuple(rest)


def flow_histogram(fine: Array) -> FlowHistogram:
    """Bins a person can read, at most ``MOST_BINS``.

    Parameters
    ----------
    fine : float array
        Seconds in bins of ``columns.BIN_MM3_S``.
    """
    used = np.flatnonzero(fine)
    top = (int(used[-1]) + 1) * columns.BIN_MM3_S if used.size else 0.0
    width = next((step for step in _STEPS if top <= step * MOST_BINS), _STEPS[-1])
    size = round(width / columns.BIN_MM3_S)
    bins = -(-round(top / columns.BIN_MM3_S) // size)
    coarse = np.add.reduceat(fine, np.arange(0, fine.size, size))[:bins]
    return FlowHistogram(width, tuple(coarse.tolist()))


def by_feature(
    per: Array, ceilings: Ceilings, features: Features | None, section_mm2: float
) -> tuple[Feature, ...]:
    """Features that lay something, the one over its ceiling longest first, then by time."""
    if features is None or not features.offset.size:
        return ()
    found = []
    index = np.array(ceilings.features[: len(per)])
    for number, name in enumerate(features.names):
        own = per[index == number]
        seconds = float(own[:, columns.P_EXTRUDING].sum())
        if seconds > 0.0:
            volume = float(own[:, columns.P_VOLUME].sum())
            found.append(Feature(
                name, seconds, volume / section_mm2, volume / seconds,
                float(own[:, columns.P_MAX].max()), float(own[:, columns.P_OVER].sum()),
            ))  # fmt: skip
    return tuple(sorted(found, key=lambda one: (-one.over_s, -one.time_s)))
