"""What a trial teaches the melt model: two effective unknowns, and how sure they are."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from beadworth.errors import FitError, Problem
from beadworth.material import Material
from beadworth.melt.predict import Scales, heat_ceiling_mm3_s
from beadworth.rig import Rig

Array = NDArray[np.float64]


@dataclass(frozen=True)
class MeasuredCeiling:
    """One measured ceiling with its standard uncertainty, from a trial."""

    temperature_c: float
    flow_mm3_s: float
    u_mm3_s: float


def calibrate(rig: Rig, material: Material, measured: Sequence[MeasuredCeiling]) -> Scales:
    """Fit diffusivity scale and softening shift of the model to a trial's ceilings.

    With one temperature only the diffusivity moves, and softening keeps the
    material's own uncertainty; the two are then drawn independently.

    Raises
    ------
    FitError
        No measured ceilings at all.
    """
    from scipy.optimize import least_squares

    if not measured:
        raise FitError(
            Problem(
                "there is no measured ceiling to calibrate the melt model with.",
                where=f"rig {rig.name}, material {material.name}",
                remedy="Give a trial whose ladder reaches the knee at one temperature or more.",
            )
        )
    both = len({m.temperature_c for m in measured}) > 1
    flows = np.array([m.flow_mm3_s for m in measured])
    sigma = np.array([m.u_mm3_s for m in measured])

    def scales_of(x: Array) -> Scales:
        return Scales(float(np.exp(x[0])), float(x[1]) if both else 0.0)

    def misfit(x: Array) -> Array:
        model = [heat_ceiling_mm3_s(rig, material, m.temperature_c, scales_of(x)) for m in measured]
        return np.asarray((np.array(model) - flows) / sigma, dtype=np.float64)

    start = np.zeros(2 if both else 1)
    size = start.size
    solved = least_squares(misfit, start, x_scale=[0.1, 5.0][:size], diff_step=[1e-4] * size)
    jacobian = np.asarray(solved.jac, dtype=np.float64)
    covariance = np.linalg.inv(jacobian.T @ jacobian)
    u = np.sqrt(np.diag(covariance))
    return Scales(
        diffusivity=float(np.exp(solved.x[0])),
        softening_shift_c=float(solved.x[1]) if both else 0.0,
        diffusivity_u=float(u[0]),
        softening_u_c=float(u[1]) if both else None,
        correlation=float(covariance[0, 1] / (u[0] * u[1])) if both else 0.0,
    )
