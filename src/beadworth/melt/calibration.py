"""What a trial teaches the melt model: two effective unknowns, and how sure they are."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from beadworth.core import FitError
from beadworth.material import Material
from beadworth.melt.scales import (
    CONTACT_U,
    LENGTH_U,
    CalibrationSource,
    Scales,
    hot_end_of,
    recorded_u,
    unknowns_u,
)
from beadworth.melt.state import heat_ceiling_mm3_s
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

    Least squares over the ceilings and, as one more reading each, what the records say of the
    two unknowns with its uncertainty. So one temperature is enough: it fixes what the two do
    together there, and leaves open which of them did it. How much holds for another hot end or
    polymer is for :func:`~beadworth.melt.scales.carried`.

    Raises
    ------
    FitError
        No measured ceilings at all.
    """
    from scipy.optimize import least_squares

    if not measured:
        raise FitError(
            "there is no measured ceiling to calibrate the melt model with.",
            where=f"rig {rig.name}, material {material.name}",
            remedy="Give a trial whose flows reach the ceiling at one temperature or more.",
        )
    flows = np.array([m.flow_mm3_s for m in measured])
    sigma = np.array([m.u_mm3_s for m in measured])
    middle = float(np.median([m.temperature_c for m in measured]))
    u_length = recorded_u(rig, "hot_end.melt_zone_mm", LENGTH_U)
    hot_end_u = math.hypot(u_length, _contact_u(rig, material, middle))
    record_u = unknowns_u(Scales(), material)
    source = CalibrationSource(hot_end_of(rig), material.name, hot_end_u, *record_u)
    before = np.sqrt(np.diag(source.polymer() + source.the_hot_end()))

    def misfit(x: Array) -> Array:
        scales = Scales(float(np.exp(x[0])), float(x[1]))
        model = [heat_ceiling_mm3_s(rig, material, m.temperature_c, scales) for m in measured]
        return np.concatenate([(np.array(model) - flows) / sigma, x / before])

    solved = least_squares(misfit, np.zeros(2), x_scale=[0.1, 5.0], diff_step=[1e-4, 1e-4])
    jacobian = np.asarray(solved.jac, dtype=np.float64)
    covariance = np.linalg.inv(jacobian.T @ jacobian)
    u = np.sqrt(np.diag(covariance))
    return Scales(
        diffusivity=float(np.exp(solved.x[0])),
        softening_shift_c=float(solved.x[1]),
        diffusivity_u=float(u[0]),
        softening_u_c=float(u[1]),
        correlation=float(covariance[0, 1] / (u[0] * u[1])),
        source=source,
    )


def _contact_u(rig: Rig, material: Material, temperature_c: float) -> float:
    """Relative standard uncertainty of a ceiling from the unknown contact at the wall."""
    low, high = (
        heat_ceiling_mm3_s(
            rig, material, temperature_c, Scales(), contact_factor=math.exp(sign * CONTACT_U)
        )
        for sign in (1.0, -1.0)
    )
    return math.log(high / low) / 2 if low > 0 and high > 0 else 0.0
