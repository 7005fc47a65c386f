"""The ceiling in force at every move of a print, from a fit and the temperature commanded."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal

import numpy as np
from numpy.typing import NDArray

from beadworth.gcode import Chunk
from beadworth.replay.columns import EXTRUDE

if TYPE_CHECKING:
    from beadworth.capacity import Ceiling, Fit
    from beadworth.replay.melt_ceiling import Beyond


Array = NDArray[np.float64]
Side = Literal["low", "estimate", "high"]


@dataclass
class Ceilings:
    """Ceilings by temperature, looked up once each.

    Parameters
    ----------
    fit : Fit or None
        None: no ceiling is known, nothing is over it.
    rig, material : str or None
        Group of the fit; left out where it has one only.
    section_mm2 : float
        Of the filament the print is fed with.
    reserve : float
        Fraction kept below the ceiling.
    side : 'low', 'estimate' or 'high'
        Which end of each ceiling's interval to reckon with.
    beyond : callable, optional
        What predicts a ceiling of which the fit knows no more than an upper bound.
    """

    fit: Fit | None
    section_mm2: float
    rig: str | None = None
    material: str | None = None
    reserve: float = 0.0
    side: Side = "estimate"
    beyond: Beyond | None = None
    known: dict[float, Ceiling] = field(default_factory=dict)
    _laid: set[tuple[int, bool]] = field(default_factory=set)
    """Rows at which something is extruded, and whether the temperature is an assumed one."""
    _rows: dict[float | None, int] = field(default_factory=dict)
    _celsius: list[float] = field(default_factory=list)
    _same: NDArray[np.int32] = field(default_factory=lambda: np.empty(0, np.int32))
    _table: tuple[Array, Array] = field(default_factory=lambda: (np.empty(0), np.empty(0)))

    def __post_init__(self) -> None:
        """Find the group at once, so that a wrong name is refused before a long read."""
        if self.fit is not None:
            group = self.fit.group(self.rig, self.material)
            self.rig, self.material = group.rig, group.material

    @property
    def assumed_c(self) -> float:
        """Temperature taken where the print commands none: the lowest tested one."""
        return min(self.tested_c)

    @property
    def tested_c(self) -> list[float]:
        """Temperatures at which the group was weighed."""
        assert self.fit is not None
        mine = (c for c in self.fit.ceilings if (c.rig, c.material) == (self.rig, self.material))
        return sorted({c.temperature_c for c in mine})

    def at(self, temperature_c: float) -> Ceiling:
        """The ceiling at one temperature."""
        from beadworth.capacity import ceiling_at  # scipy: half a second nobody waits for in vain

        assert self.fit is not None
        if temperature_c not in self.known:
            found = ceiling_at(self.fit, self.rig, self.material, temperature_c)
            if found.unknown_below and self.beyond is not None:
                found = self.beyond(temperature_c) or found
            self.known[temperature_c] = found
        return self.known[temperature_c]

    def flow(self, temperature_c: float) -> float:
        """Flow reckoned with: the estimate (or the side asked for), or the one known side.

        The high side of an 'at least' is no limit at all; the low side of an 'at most' is not
        known, and its known side stands in: what is over that is over the ceiling for certain,
        and nothing is said of what is under it (:attr:`unknown_c`).
        """
        if self.fit is None:
            return math.inf
        found = self.at(temperature_c)
        flow = found.flow_mm3_s
        if flow is None:
            flow = found.low if found.bound == "at-least" else found.high
            if self.side == "high" and found.bound == "at-least":
                return math.inf
        elif self.side == "low":
            flow = flow if found.low is None else found.low
        elif self.side == "high":
            flow = math.inf if found.high is None else found.high
        return math.inf if flow is None else flow * (1.0 - self.reserve)

    def of_chunk(self, chunk: Chunk) -> NDArray[np.int32]:
        """Row of :meth:`table` for every move of a chunk."""
        commanded = chunk.settings[:, 1].tolist()  # hot_end_c, see gcode.SETTINGS
        # rows come in order
        ends = np.searchsorted(chunk.setting, np.arange(len(commanded) + 1, dtype=np.int32))
        found = np.empty(len(commanded), np.int32)
        for number, celsius in enumerate(commanded):
            cold = not celsius > 0.0  # never set, or switched off
            row = self._row(self.assumed_c if cold and self.fit is not None else celsius)
            found[number] = row
            known = (row, cold) in self._laid
            if not known and (chunk.kind[ends[number] : ends[number + 1]] == EXTRUDE).any():
                self._laid.add((row, cold))
        if len(found) > 1 or not len(chunk):
            return np.repeat(found, np.diff(ends))
        if self._same.size < len(chunk) or self._same[0] != found[0]:
            self._same = np.full(2 * len(chunk), found[0])
        return self._same[: len(chunk)]  # one condition all along: an array that was at hand

    @property
    def used(self) -> set[float]:
        """Temperatures at which something is extruded, those assumed included."""
        return {self._celsius[r] for r, cold in self._laid if self.fit is not None or not cold}

    @property
    def unknown_c(self) -> tuple[float, ...]:
        """Temperatures something is extruded at, of whose ceiling no more is known than an upper
        bound; coolest first.
        """
        if self.fit is None:
            return ()
        return tuple(celsius for celsius in sorted(self.used) if self.at(celsius).unknown_below)

    @property
    def unheated(self) -> bool:
        """Whether a temperature had to be assumed where something is extruded."""
        return self.fit is not None and any(cold for _, cold in self._laid)

    def table(self) -> tuple[Array, Array]:
        """Temperature and the flow reckoned with, of the conditions met so far."""
        if len(self._table[0]) != len(self._celsius):
            flows = [self.flow(c) for c in self._celsius]
            self._table = np.array(self._celsius, float), np.array(flows, float)
        return self._table

    def _row(self, temperature_c: float) -> int:
        """Where a temperature stands in the table; a new one is put at its end."""
        key = None if math.isnan(temperature_c) else temperature_c
        if key not in self._rows:
            self._rows[key] = len(self._celsius)
            self._celsius.append(temperature_c)
        return self._rows[key]
