"""What the program knows of a printed wall: where, when and with how much filament a bead was laid.

A path runs along the wall from its first corner; layers count upwards. With position x (mm from
the first corner) and layer k, a wave of the wall is written

    cos(2π·(kx·x + kz·k) + phase),   kx in cycles/mm, kz in cycles/layer.

What goes with place is the same in every layer (kz = 0); what goes with filament of period p has
kx = e/p and kz = E/p (e mm filament per mm of path, E mm filament per layer); what goes with the
clock of period T has kx = 1/(v·T) and kz = t/T (t s per layer), whole cycles of kz unseen.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, fields

import numpy as np

from beadworth.core import InputError, Problem

CLOCK_U = 0.003
"""Relative standard uncertainty of a replayed layer time; assumed."""
SURFACE = (3, 2)
"""Degree of the surface that lamp and lens make along the wall and up its height; assumed."""


@dataclass(frozen=True)
class WallSide:
    """One straight side of a printed wall at one speed.

    Parameters
    ----------
    length_mm : float, > 0
        From corner to corner, as it lies in the photo.
    layer_mm : float, > 0
        Layer height, the ruler of a photo.
    speed_mm_s : float, > 0
        Planned speed once reached.
    acceleration_mm_s2 : float, > 0
        Planned acceleration along the side.
    corner_mm_s : float, ≥ 0
        Planned speed at both of its corners; not above ``speed_mm_s``.
    filament_per_mm : float, > 0
        mm of filament per mm of path on this side.
    loop_filament_mm : float, > 0
        mm of filament from a place to the same place one layer up.
    layer_s : float, > 0
        Seconds from a place to the same place one layer up.
    direction_deg : float
        Direction of the path on the bed; 0 along x, 90 along y.
    """

    length_mm: float
    layer_mm: float
    speed_mm_s: float
    acceleration_mm_s2: float
    corner_mm_s: float
    filament_per_mm: float
    loop_filament_mm: float
    layer_s: float
    direction_deg: float = 0.0

    def __post_init__(self) -> None:
        """Refuse what no wall can be, all at once."""
        problems = [
            Problem(f"{getattr(self, f.name):g} is not above 0.", f"wall, {f.name}",
                    getattr(self, f.name), "Give the wall as it was printed.")
            for f in fields(self)
            if f.name not in ("corner_mm_s", "direction_deg") and not getattr(self, f.name) > 0
        ]  # fmt: skip
        if not 0 <= self.corner_mm_s <= self.speed_mm_s:
            problems.append(
                Problem(
                    f"{self.corner_mm_s:g} mm/s at the corners is not between 0 and the speed of "
                    f"the wall ({self.speed_mm_s:g} mm/s).",
                    "wall, corner_mm_s", self.corner_mm_s, "Give the planned corner speed.",
                )
            )  # fmt: skip
        if problems:
            raise InputError(problems)


def time_along_s(wall: WallSide, x_mm: np.ndarray) -> np.ndarray:
    """Time since the first corner at positions along the side, through the planned speed ramp.

    Parameters
    ----------
    wall : WallSide
    x_mm : array
        Positions from the first corner, 0 to ``length_mm``; others count as the nearest end.

    Returns
    -------
    array, s
        Constant acceleration from the corner speed to the speed (or to the highest that the
        length allows), constant speed, and the same ramp down again.
    """
    v0, a, length = wall.corner_mm_s, wall.acceleration_mm_s2, wall.length_mm
    top = min(wall.speed_mm_s, math.sqrt(v0 * v0 + a * length))
    ramp_mm = (top * top - v0 * v0) / (2 * a)
    ramp_s = (top - v0) / a
    x = np.clip(np.asarray(x_mm, float), 0.0, length)

    def up(way: np.ndarray) -> np.ndarray:
        return (np.sqrt(v0 * v0 + 2 * a * way) - v0) / a

    total_s = 2 * ramp_s + (length - 2 * ramp_mm) / top
    flat = ramp_s + (x - ramp_mm) / top
    down = total_s - up(np.minimum(length - x, ramp_mm))
    return np.where(
        x < ramp_mm, up(np.minimum(x, ramp_mm)), np.where(x > length - ramp_mm, down, flat)
    )


def speed_along_mm_s(wall: WallSide, x_mm: np.ndarray) -> np.ndarray:
    """Planned speed at positions along the side: the ramp of :func:`time_along_s`, mm/s."""
    v0, a = wall.corner_mm_s, wall.acceleration_mm_s2
    x = np.clip(np.asarray(x_mm, float), 0.0, wall.length_mm)
    nearest = np.minimum(x, wall.length_mm - x)
    return np.asarray(np.minimum(np.sqrt(v0 * v0 + 2 * a * nearest), wall.speed_mm_s))


@dataclass(frozen=True)
class Matrix:
    """Brightness or offset of a wall, layer × position, free of a trend.

    Parameters
    ----------
    values : array (layers, positions)
        Relative brightness (or mm of offset), 0 in the mean.
    step_mm : float
        Width of a column.
    start_mm : float
        Left edge of the first column, mm from the side's first corner.
    blind : array (n, 2), optional
        Spots (cycles/mm, cycles/layer) where what took the picture makes waves of its own.
    """

    values: np.ndarray
    step_mm: float
    start_mm: float
    blind: np.ndarray | None = None

    @property
    def positions_mm(self) -> np.ndarray:
        """Middle of each column, mm from the first corner."""
        return np.asarray(self.start_mm + self.step_mm * (np.arange(self.values.shape[1]) + 0.5))

    @property
    def width_mm(self) -> float:
        """Length of the side that it holds, mm."""
        return float(self.values.shape[1] * self.step_mm)


def level(brightness: np.ndarray) -> np.ndarray:
    """Logarithm of brightness less a smooth surface: what the lamp and the lens do.

    Parameters
    ----------
    brightness : array (layers, positions), > 0

    Returns
    -------
    array
        Relative brightness; what differs from its row and its column by more than five robust
        standard deviations (blobs, strings) is cut there.
    """
    logs = np.log(np.maximum(brightness, 1e-3 * float(np.max(brightness))))
    nk, nj = logs.shape
    along = np.polynomial.legendre.legvander(np.linspace(-1, 1, nj), SURFACE[0])
    up = np.polynomial.legendre.legvander(np.linspace(-1, 1, nk), SURFACE[1])
    for _ in range(2):
        surface = up @ (np.linalg.pinv(up) @ logs @ np.linalg.pinv(along).T) @ along.T
        rest = logs - surface
        pattern = np.median(rest, axis=0) + np.median(rest, axis=1)[:, None]
        rest -= pattern
        spread = 1.4826 * float(np.median(np.abs(rest)))
        logs = surface + pattern + np.clip(rest, -5 * spread, 5 * spread)
    return np.asarray(logs - surface)
