"""Straight moves from point to point, for benchmarks and tests of the planner."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from beadworth.motion import MoveTable
from beadworth.motion.moves import no_arcs


def from_points(
    points_mm: ArrayLike,
    feed_mm_s: ArrayLike,
    filament_mm: ArrayLike = 0.0,
    setting: ArrayLike = 0,
    stop_before: ArrayLike = (),
) -> MoveTable:
    """Straight moves from point to point.

    Parameters
    ----------
    points_mm : float array, (moves + 1) × 2 or 3
    feed_mm_s, filament_mm, setting
        One value, or one per move.
    stop_before : int array, optional
    """
    points = np.asarray(points_mm, float)
    if points.shape[1] == 2:
        points = np.column_stack([points, np.zeros(len(points))])
    n = len(points) - 1
    start, end = points[:-1].T, points[1:].T
    length = np.sqrt(((end - start) ** 2).sum(axis=0))
    filament, feed = (np.broadcast_to(np.asarray(v, float), n) for v in (filament_mm, feed_mm_s))
    rows = np.broadcast_to(np.asarray(setting, np.int32), n)
    stops = np.asarray(stop_before, np.int64)
    (x0, y0, z0), (x, y, z) = start, end
    return MoveTable(x0, y0, z0, x, y, z, filament, feed, length, rows, no_arcs(), stops)
