"""Sources of a pattern that a rig can have, and where each would lie in the spectrum of a wall."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from beadworth.cause.wall import WallSide
from beadworth.rig import Rig, ratio_of, travel_per_turn_mm

Kind = Literal["place", "filament", "time", "height", "ringing"]

WIDE: dict[Kind, tuple[float, float]] = {
    "place": (24.0, 80.0), "filament": (0.35, 1.3), "time": (2.0, 40.0), "height": (1.0, 10.0),
    "ringing": (18.0, 150.0),
}  # fmt: skip
"""Where a period (mm of travel, mm of filament, s, mm of height) or a frequency (Hz) may lie while
the rig does not say; common practice, no source."""


@dataclass(frozen=True)
class Source:
    """Something that repeats, and how well its period is known.

    Parameters
    ----------
    name : str
        In the trade's words: ``"pulley turn, x"``.
    kind : str
        What it goes with: place, filament, time, height, or ringing after a corner.
    period : float or None
        mm of travel, mm of filament, s, mm of height; for ringing the frequency, Hz. None where
        the rig does not say.
    u : float
        Relative standard uncertainty of that period.
    travel : (float, float)
        Place only: travel of the part per mm of x and of y.
    wide : (float, float), optional
        Where the period may lie while it is not known.
    """

    name: str
    kind: Kind
    period: float | None
    u: float = 0.003
    travel: tuple[float, float] = (1.0, 0.0)
    wide: tuple[float, float] | None = None

    @property
    def range(self) -> tuple[float, float]:
        """Where the period may lie: ±2.5 standard uncertainties, or as wide as the trade is."""
        if self.period is None:
            return self.wide or WIDE[self.kind]
        return self.period * (1 - 2.5 * self.u), self.period * (1 + 2.5 * self.u)

    def log_prior(self, period: np.ndarray) -> np.ndarray:
        """Log weight of periods before a wall is seen; level where the rig does not say."""
        if self.period is None:
            return np.zeros_like(period)
        return np.asarray(-0.5 * ((period / self.period - 1) / self.u) ** 2)

    def travel_per_mm(self, wall: WallSide) -> float:
        """Travel of the part per mm of wall; 0 where it stands still along it."""
        angle = math.radians(wall.direction_deg)
        return abs(self.travel[0] * math.cos(angle) + self.travel[1] * math.sin(angle))

    def spot(self, wall: WallSide, period: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Where waves of these periods lie on a wall: cycles/mm and cycles/layer.

        What goes with place, filament, time or height; ringing decays and lies nowhere.
        """
        zero = np.zeros_like(np.asarray(period, float))
        if self.kind == "place":
            return self.travel_per_mm(wall) / period, zero
        if self.kind == "filament":
            return wall.filament_per_mm / period, wall.loop_filament_mm / period
        if self.kind == "time":
            return 1 / (wall.speed_mm_s * period), wall.layer_s / period
        return zero, wall.layer_mm / period

    def spot_of(self, wall: WallSide, period: float) -> tuple[float, float]:
        """Where the wave of one period lies; see :meth:`spot`."""
        kx, kz = self.spot(wall, np.array([period]))
        return float(kx[0]), float(kz[0])

    def fewest_mm(self, wall: WallSide, cycles: float) -> float:
        """Length of wall that holds so many of its cycles, mm; inf where it stands still."""
        per_mm = self.travel_per_mm(wall)
        return cycles * self.range[1] / per_mm if per_mm > 0.05 else math.inf


_U = {
    "belt": 0.001, "lead": 0.001, "wheel": 0.015, "drive": 0.01, "heater": 0.05, "resonance": 0.08,
}  # fmt: skip
"""Relative standard uncertainties where the rig does not say how well it knows; assumed."""
IDLER_MM = (24.0, 60.0)
"""Circumference of an idler nobody counted the teeth of; common practice, no source."""
SHORTEST_MM = 0.45
"""Shorter waves a bead hides; common practice, no source."""


def sources_of(rig: Rig, walls: Sequence[WallSide]) -> list[Source]:
    """Every source that a rig's record lets us name, and those it leaves open.

    Parameters
    ----------
    rig : Rig
        A field that it does not have makes its source's period open where the rig surely has such
        a part (a belt has an idler, wheels have a circumference), else there is no such source.
    walls : sequence of WallSide
        Where the patterns were seen: says which axis swings across them.

    Returns
    -------
    list of Source
        Sources that look the same on all of the walls are one, under both names.
    """
    found = [
        *_place_sources(rig), *_height_sources(rig), *_filament_sources(rig),
        Source("heater cycle", "time", rig.hot_end.heater_cycle_s,
               _u(rig, "hot_end.heater_cycle_s", rig.hot_end.heater_cycle_s, "heater")),
        _ringing_source(rig, walls),
    ]  # fmt: skip
    return _merged(found, walls)


def _u(rig: Rig, path: str, value: float | None, kind: str) -> float:
    known = rig.known.get(path)
    if known is None or known.u is None or not value:
        return _U[kind]
    return max(known.u / value, 1e-4)


def _place_sources(rig: Rig) -> list[Source]:
    out: list[Source] = []
    for letter in ("x", "y"):
        axis = getattr(rig.axes, letter)
        if axis is None:
            continue
        own = (1.0, 0.0) if letter == "x" else (0.0, 1.0)
        turned = ((1.0, 1.0) if letter == "x" else (1.0, -1.0)) if rig.coupled_belts else own
        if axis.drive in ("belt", "worm belt") and axis.belt_pitch_mm is not None:
            pitch = axis.belt_pitch_mm
            u = _u(rig, f"axes.{letter}.belt_pitch_mm", pitch, "belt")
            idler = pitch * axis.idler_teeth if axis.idler_teeth else None
            out.append(Source(f"belt tooth, {letter}", "place", pitch, u, turned))
            out.append(Source(f"idler turn, {letter}", "place", idler, u, turned, IDLER_MM))
        travel, ratio = travel_per_turn_mm(axis), ratio_of(axis)
        if travel is not None:
            part = "screw turn" if axis.drive == "screw" else "pulley turn"
            out.append(Source(f"{part}, {letter}", "place", travel, _U["belt"], turned))
            if ratio is not None and ratio != 1:
                out.append(
                    Source(f"motor turn, {letter}", "place", travel / ratio, _U["belt"], turned)
                )
            cycle = travel / (ratio or 1.0) * 4 / (axis.full_steps or 200)
            if ratio is not None and cycle > SHORTEST_MM:
                out.append(
                    Source(f"four motor steps, {letter}", "place", cycle, _U["belt"], turned)
                )
        if axis.guide is not None and axis.guide.kind == "wheels":
            way = axis.guide.wheel_circumference_mm
            u = _u(rig, f"axes.{letter}.guide.wheel_circumference_mm", way, "wheel")
            out.append(Source(f"guide wheel turn, {letter}", "place", way, u, own))
    return out


def _height_sources(rig: Rig) -> list[Source]:
    axis = rig.axes.z
    travel = travel_per_turn_mm(axis) if axis is not None else None
    if axis is None or travel is None:
        return []
    part = "screw turn" if axis.drive == "screw" else "pulley turn"
    return [Source(f"{part}, z", "height", travel, _u(rig, "axes.z.lead_mm", travel, "lead"))]


def _filament_sources(rig: Rig) -> list[Source]:
    e = rig.extruder
    turn = math.pi * e.effective_diameter_mm if e.effective_diameter_mm else _turn_mm(rig)
    u = _u(rig, "extruder.effective_diameter_mm", e.effective_diameter_mm, "drive")
    tooth = turn / e.drive_wheel_teeth if turn and e.drive_wheel_teeth else None
    out = [Source("drive tooth", "filament", tooth, u)]
    if e.gear_ratio != 1:
        mesh = turn / e.mesh_teeth if turn and e.mesh_teeth else None
        out.append(Source("gear mesh", "filament", mesh, u))
    if turn:
        out.append(Source("drive wheel turn", "filament", turn, u))
        if e.gear_ratio not in (None, 1):
            out.append(Source("extruder motor turn", "filament", turn / e.gear_ratio, u))
    return out


def _turn_mm(rig: Rig) -> float | None:
    """Filament per turn of the drive wheel from steps per mm, where all of it is recorded."""
    e = rig.extruder
    if e.steps_per_mm and e.full_steps and e.microsteps and e.gear_ratio:
        return e.full_steps * e.microsteps * e.gear_ratio / e.steps_per_mm
    return None


def _ringing_source(rig: Rig, walls: Sequence[WallSide]) -> Source:
    """Ringing shows across a wall: along x it is y that swings; of a diagonal nothing is said."""
    across = {_axis_across(w) for w in walls}
    letter = across.pop() if len(across) == 1 else None
    axis = getattr(rig.axes, letter) if letter and not rig.coupled_belts else None
    hertz = axis.resonance_hz if axis is not None else None
    return Source("ringing", "ringing", hertz,
                  _u(rig, f"axes.{letter}.resonance_hz", hertz, "resonance"))  # fmt: skip


def _axis_across(wall: WallSide) -> str | None:
    angle = wall.direction_deg % 180
    if min(angle, 180 - angle) < 10:
        return "y"
    return "x" if abs(angle - 90) < 10 else None


def _merged(sources: list[Source], walls: Sequence[WallSide]) -> list[Source]:
    """One source of those that look the same on every wall: ``"pulley turn, x and y"``."""
    out: list[Source] = []
    for source in sources:
        twin = next((s for s in out if _same(s, source, walls)), None)
        if twin is None:
            out.append(source)
            continue
        both = Source(_joined(twin.name, source.name), twin.kind, twin.period,
                      max(twin.u, source.u), twin.travel, twin.wide)  # fmt: skip
        out[out.index(twin)] = both
    return out


def _same(a: Source, b: Source, walls: Sequence[WallSide]) -> bool:
    if a.kind != b.kind or (a.period is None) != (b.period is None) or a.kind == "ringing":
        return False
    if a.period is None and a.name.split(",")[0] != b.name.split(",")[0]:
        return False
    if a.period is not None and b.period is not None and abs(a.period / b.period - 1) > 0.002:
        return False
    if a.kind != "place":
        return True
    return all(abs(a.travel_per_mm(w) - b.travel_per_mm(w)) < 0.01 for w in walls)


def _joined(first: str, second: str) -> str:
    """``"pulley turn, x"`` and ``"pulley turn, y"`` as one name."""
    part, _, axis = second.rpartition(", ")
    if part and first.startswith(f"{part}, "):
        return f"{first} and {axis}"
    return f"{first} or {second}"
