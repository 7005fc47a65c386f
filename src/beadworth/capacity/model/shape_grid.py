"""Where the shapes of a family are looked at: a grid laid over what the readings favour."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from beadworth.capacity.model.families import ShapeFamily

Array = NDArray[np.float64]

SPAN = 4.2
"""Half-width of the final grids in standard deviations."""
SIDE = {1: 21, 2: 13}
"""Points along each axis of a final grid, by the number of axes."""
FIRST = {1: 24, 2: 11}
"""The same of the first grid."""


@dataclass(frozen=True)
class Laid:
    """A family's final grid: points, prior mass of each, best log profile likelihood seen."""

    family: ShapeFamily
    x: Array
    mass: float
    height: float


def first_grid(family: ShapeFamily) -> Array:
    """An even grid over the family's whole box."""
    box = family.box()
    if not len(box):
        return np.zeros((1, 0))
    side = FIRST[len(box)]
    axes = [np.linspace(low, high, side) for low, high in box]
    return np.stack([a.ravel() for a in np.meshgrid(*axes, indexing="ij")], axis=1)


def narrow(
    family: ShapeFamily, x: Array, first_height: Array, height_of: Callable[[Array], Array]
) -> Laid:
    """Whitened grid over the part of a family's box that the readings favour.

    Parameters
    ----------
    x : (n, free)
        The first grid, and ``first_height``, (n,), the log profile likelihood on it.
    height_of : function of (m, free)
        Log profile likelihood of other points, (m,).

    Notes
    -----
    The first covariance comes from weights tempered until at least a handful of
    coarse points share them; two rounds on whitened grids then settle it.
    """
    box = family.box()
    d = len(box)
    if not d:
        return Laid(family, x, 1.0, float(first_height[0]))
    spacing = (box[:, 1] - box[:, 0]) / (FIRST[d] - 1)
    centre, covariance = _tempered(x, first_height, np.diag(spacing**2) / 4.0)
    height = -math.inf
    for side, span in ((7, 3.0), (7, 3.0)):
        x, _ = _whitened(box, centre, covariance, side, span)
        heights = height_of(x)
        height = max(height, float(heights.max()))
        floor = covariance * (2 * span / (side - 1)) ** 2 / 8.0
        centre, covariance = _tempered(x, heights, floor)
    x, volume = _whitened(box, centre, covariance, SIDE[d], SPAN)
    return Laid(family, x, volume / float(np.prod(box[:, 1] - box[:, 0])), height)


def _tempered(x: Array, height: Array, floor: Array) -> tuple[Array, Array]:
    """Mean and covariance under weights flattened until about four points share them."""
    rise = height - height.max()
    power = 1.0
    for _ in range(40):
        w = np.exp(power * rise)
        w /= w.sum()
        if 1.0 / (w @ w) >= min(4.0, len(w) / 2):
            break
        power *= 0.7
    centre = w @ x
    away = x - centre
    return centre, (away * w[:, None]).T @ away * power + floor


def _whitened(
    box: Array, centre: Array, covariance: Array, side: int, span: float
) -> tuple[Array, float]:
    """A grid along the principal axes of a covariance, cut to the box; and a point's volume."""
    d = len(box)
    axis = np.linspace(-span, span, side)
    z = np.stack([a.ravel() for a in np.meshgrid(*([axis] * d), indexing="ij")], axis=1)
    values, vectors = np.linalg.eigh(covariance)
    spread = np.sqrt(np.maximum(values, 1e-8))
    x = centre + (z * spread) @ vectors.T
    inside = ((x >= box[:, 0]) & (x <= box[:, 1])).all(axis=1)
    if not inside.any():  # a centre pressed against the box's edge
        x, inside = np.clip(centre, box[:, 0], box[:, 1])[None, :], np.array([True])
    return x[inside], float(np.prod(spread * (axis[1] - axis[0])))
