"""What a calibration says of the melt model, and how much of it holds for another part or polymer.

A trial's ceilings fix two effective unknowns of the model: a factor on the diffusivity (its
logarithm) and a shift of softening. Each is the sum of what is the polymer's and what is the
hot end's. On the same hot end with the same polymer all of it holds. Elsewhere only the share
that moves along does: with A the variance, before the trial, of the part that moves, B of the part
that stays, and s with variance V what the trial made of their sum, and W = A·(A + B)⁻¹,

    estimate = W·s,   variance = A − W·A + W·V·Wᵀ

(normal variables given their sum; any statistics textbook). What stays behind is uncertain anew
in the new place. So an interval widens with every step away from the trial.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from beadworth.material import Material
from beadworth.rig import Rig, look_up

Array = NDArray[np.float64]

# Standard uncertainties where a record gives none; assumed, wide on purpose.
DIFFUSIVITY_U = 0.15
SOFTENING_U_C = 6.0
CONTACT_U = 0.6
LENGTH_U = 0.05
BORE_U = 0.0
GRIP_U = 0.15
WALL_U_C = 2.0
HOT_END = ("melt_zone_mm", "bore_mm", "block_metal", "block_mass_g", "heat_break_mm")
"""Two rigs with these alike have the same hot end here; a nozzle may differ."""


@dataclass(frozen=True)
class CalibrationSource:
    """The hot end and the material a calibration was made on."""

    hot_end: tuple[Any, ...]
    """Values of :data:`HOT_END`."""
    material: str
    hot_end_u: float
    """Relative standard uncertainty of a ceiling from what is not known of that hot end."""
    diffusivity_u: float
    softening_u_c: float
    """Those of the material's record, before the trial."""

    def fits(self, rig: Rig) -> bool:
        """Whether a rig has that hot end."""
        return self.hot_end == hot_end_of(rig)

    def polymer(self) -> Array:
        """Variances, before the trial, of what is the polymer's: ln diffusivity, softening."""
        return np.diag([self.diffusivity_u**2, self.softening_u_c**2])

    def the_hot_end(self) -> Array:
        """Variances of what is the hot end's; a wall that is off looks like softening."""
        return np.diag([self.hot_end_u**2, WALL_U_C**2])


@dataclass(frozen=True)
class Scales:
    """What a calibration found: factors on the record's values (see calibrate)."""

    diffusivity: float = 1.0
    softening_shift_c: float = 0.0
    diffusivity_u: float | None = None
    softening_u_c: float | None = None
    correlation: float = 0.0
    source: CalibrationSource | None = None
    """None for values that hold for any rig and material they are used with."""
    hot_end_known: bool = False
    """True where length, contact and wall of this very hot end are in the values above."""


def hot_end_of(rig: Rig) -> tuple[Any, ...]:
    """What tells one hot end from another."""
    return tuple(getattr(rig.hot_end, name) for name in HOT_END)


def recorded_u(rig: Rig, path: str, otherwise: float) -> float:
    """Relative standard uncertainty of a value: as the record has it, else what is assumed."""
    known, value = rig.known.get(path), look_up(rig, path)
    return known.u / value if known and known.u and value else otherwise


def unknowns_u(scales: Scales, material: Material) -> tuple[float, float]:
    """Standard uncertainty of the diffusivity factor and of softening, K."""
    return (
        scales.diffusivity_u or material.diffusivity_u or DIFFUSIVITY_U,
        scales.softening_u_c or material.softening_u_c or SOFTENING_U_C,
    )


def carried(scales: Scales | None, rig: Rig, material: Material) -> Scales:
    """What a calibration says of a rig and a material, which need not be those it was made on.

    Returns
    -------
    Scales
        With nothing more to carry: ``source`` is None.
    """
    if scales is None:
        return Scales()
    source = scales.source
    if source is None:
        return scales
    same_hot_end = source.fits(rig)
    same_material = source.material == material.name
    if same_hot_end and same_material:
        return replace(scales, source=None, hot_end_known=True)
    if not (same_hot_end or same_material):
        return Scales()
    polymer, hot_end = source.polymer(), source.the_hot_end()
    moves, stays = (polymer, hot_end) if same_material else (hot_end, polymer)
    weight = moves @ np.linalg.inv(moves + stays)
    shift = weight @ np.array([math.log(scales.diffusivity), scales.softening_shift_c])
    u = np.array([scales.diffusivity_u or 0.0, scales.softening_u_c or 0.0])
    learned = np.outer(u, u) * np.array([[1.0, scales.correlation], [scales.correlation, 1.0]])
    covariance = moves - weight @ moves + weight @ learned @ weight.T
    if same_hot_end:  # the other polymer brings its own
        covariance = covariance + np.diag(np.square(unknowns_u(Scales(), material)))
    u = np.sqrt(np.diag(covariance))
    return Scales(
        diffusivity=math.exp(shift[0]),
        softening_shift_c=float(shift[1]),
        diffusivity_u=float(u[0]),
        softening_u_c=float(u[1]),
        correlation=float(covariance[0, 1] / (u[0] * u[1])),
        hot_end_known=same_hot_end,
    )
