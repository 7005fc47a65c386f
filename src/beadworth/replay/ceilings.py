"""The ceiling in force at every move of a print, from a fit and the temperature commanded."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal

import numpy as np
from numpy.typing import NDArray

from beadworth.gcode import Chunk
from beadworth.gcode import columns as gcode_columns
from beadworth.replay.columns import EXTRUDE

if TYPE_CHECKING:
    from beadworth.capacity import Ceiling, Fit
    from beadworth.replay.melt_ceiling import Beyond


Array = NDArray[np.float64]
_HOT_END_AND_FAN = [gcode_columns.HOT_END, gcode_columns.FAN]
Side = Literal["low", "estimate", "high"]


@dataclass(frozen=True)
class Change:
    """What is otherwise; what is left out stays."""

    acceleration_mm_s2: float | None = None
    """Of all moves in x and y; the rig's own, whatever the file sets."""
    temperature_c: float | None = None
    """Of all beads."""
    ceiling_share: float = 1.0
    """Of the fitted ceiling, its interval likewise."""


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
    change : Change
        What is otherwise than the print and the fit say.
    beyond : callable, optional
        What predicts a ceiling of which the fit knows no more than an upper bound; without a fit,
        every ceiling.
    """

    fit: Fit | None
    section_mm2: float
    rig: str | None = None
    material: str | None = None
    reserve: float = 0.0
    side: Side = "estimate"
    change: Change = Change()
    beyond: Beyond | None = None
    known: dict[float, Ceiling] = field(default_factory=dict)
    _without: set[float] = field(default_factory=set)
    """Temperatures at which nothing can be predicted, and there is no fit."""
    _laid: set[tuple[int, bool]] = field(default_factory=set)
    """Rows at which something is extruded, and whether the temperature is an assumed one."""
    _rows: dict[tuple[float | None, float, int], int] = field(default_factory=dict)
    _celsius: list[float] = field(default_factory=list)
    _fans: list[float] = field(default_factory=list)
    features: list[int] = field(default_factory=list)
    """Index of the feature, for every row of the table; see :mod:`beadworth.replay.features`."""
    fan_said: bool = False
    """Whether the print has said anything of its part cooling."""
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

        if temperature_c not in self.known:
            assert self.fit is not None
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
        if self.fit is None and not self._predicted(temperature_c):
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
        return math.inf if flow is None else flow * self.change.ceiling_share * (1.0 - self.reserve)

    def _predicted(self, temperature_c: float) -> bool:
        """Whether a ceiling is predicted where nothing was weighed at all."""
        if temperature_c in self.known:
            return True
        cold = not temperature_c > 0.0  # switched off, or never set
        if self.beyond is None or cold or temperature_c in self._without:
            return False
        found = self.beyond(temperature_c)
        if found is None:
            self._without.add(temperature_c)
            return False
        self.known[temperature_c] = found
        return True

    def of_chunk(self, chunk: Chunk, feature: NDArray[np.int32] | None = None) -> NDArray[np.int32]:
        """Row of :meth:`table` for every move of a chunk.

        Parameters
        ----------
        feature : int32 array, optional
            Index of the feature of every move.
        """
        if feature is not None:
            return self._by_feature(chunk, feature)
        count = len(chunk.settings)
        ends = np.array([0, len(chunk)])
        if count != 1:  # rows come in order
            ends = np.searchsorted(chunk.setting, np.arange(count + 1, dtype=np.int32))
        found = np.empty(count, np.int32)
        for number in range(count):
            own = chunk.kind[ends[number] : ends[number + 1]]
            found[number] = self._of_setting(chunk, number, 0, own)
        if count > 1 or not len(chunk):
            return np.repeat(found, np.diff(ends))
        if self._same.size < len(chunk) or self._same[0] != found[0]:
            self._same = np.full(2 * len(chunk), found[0])
        return self._same[: len(chunk)]  # one condition all along: an array that was at hand

    def _by_feature(self, chunk: Chunk, feature: NDArray[np.int32]) -> NDArray[np.int32]:
        """As :meth:`of_chunk`, every feature with rows of its own."""
        most = int(feature.max(initial=0)) + 1
        pairs, place = np.unique(chunk.setting.astype(np.int64) * most + feature,
                                 return_inverse=True)  # fmt: skip
        rows = [
            self._of_setting(chunk, int(pair) // most, int(pair) % most, chunk.kind[place == k])
            for k, pair in enumerate(pairs.tolist())
        ]
        return np.array(rows, np.int32)[place] if rows else np.empty(0, np.int32)

    def _of_setting(self, chunk: Chunk, number: int, feature: int, kinds: NDArray[np.int32]) -> int:
        """Row of a settings row and a feature, whose moves are of these kinds."""
        celsius, fan = (float(value) for value in chunk.settings[number, _HOT_END_AND_FAN])
        celsius = self.change.temperature_c or celsius
        cold = not celsius > 0.0  # never set, or switched off
        self.fan_said |= not math.isnan(fan)
        fan = 0.0 if math.isnan(fan) else fan
        warm = self.assumed_c if cold and self.fit is not None else celsius
        row = self._row(warm, fan, feature)
        if (row, cold) not in self._laid and (kinds == EXTRUDE).any():
            self._laid.add((row, cold))
        return row

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
        """Temperature and the flow reckoned with, of the conditions met so far.

        A condition is a temperature, a duty of the fan and a feature.
        """
        if len(self._table[0]) != len(self._celsius):
            flows = [self.flow(c) for c in self._celsius]
            self._table = np.array(self._celsius, float), np.array(flows, float)
        return self._table

    def fans(self) -> Array:
        """Duty of the part cooling in the conditions met so far, from 0 to 1."""
        return np.array(self._fans, float)

    def _row(self, temperature_c: float, fan: float, feature: int) -> int:
        """Where a condition stands in the table; a new one is put at its end."""
        key = (None if math.isnan(temperature_c) else temperature_c, fan, feature)
        if key not in self._rows:
            self._rows[key] = len(self._celsius)
            self._celsius.append(temperature_c)
            self._fans.append(fan)
            self.features.append(feature)
        return self._rows[key]
