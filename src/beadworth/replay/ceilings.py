"""The ceiling in force at every move of a print, from a fit and the temperature commanded."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal

import numpy as np
from numpy.typing import NDArray

from beadworth.gcode import Chunk

if TYPE_CHECKING:
    from beadworth.capacity import Ceiling, Fit


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
    """

    fit: Fit | None
    section_mm2: float
    rig: str | None = None
    material: str | None = None
    reserve: float = 0.0
    side: Side = "estimate"
    known: dict[float, Ceiling] = field(default_factory=dict)
    used: set[float] = field(default_factory=set)
    """Temperatures at which something is extruded."""
    unheated: bool = False
    """Whether something is extruded before a temperature is commanded."""

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
        assert self.fit is not None
        if temperature_c not in self.known:
            self.known[temperature_c] = self.fit.ceiling(self.rig, self.material, temperature_c)
        return self.known[temperature_c]

    def flow(self, temperature_c: float) -> float:
        """Flow reckoned with: the estimate (or the side asked for), or the one known side.

        The high side of an 'at least' is no limit at all; the low side of an 'at most' is not
        known, and its known side stands in.
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

    def of_chunk(self, chunk: Chunk) -> tuple[Array, Array]:
        """(temperature, ceiling) for every move of a chunk."""
        rows = chunk.settings[:, 1]  # hot_end_c, see gcode.SETTINGS
        cold = ~(rows > 0)  # never set, or switched off
        laying = np.bincount(chunk.setting[chunk.kind == 1], minlength=len(rows)) > 0
        if self.fit is None:
            self.used.update(rows[laying & ~cold].tolist())
            return rows[chunk.setting], np.full(len(chunk), np.inf)
        if cold.any():
            self.unheated = self.unheated or bool((cold & laying).any())
            rows = np.where(cold, self.assumed_c, rows)
        self.used.update(rows[laying].tolist())
        flows = np.array([self.flow(float(t)) for t in rows])
        return rows[chunk.setting], flows[chunk.setting]
