"""What a coupon delivered, what that says of loss, and of the drive: the one place for each."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from beadworth.core import filament_mass_g
from beadworth.material import Material
from beadworth.rig import Rig
from beadworth.trial.planning.budget import MEASURED_U_MM
from beadworth.trial.record import Reading, Spool

Array = NDArray[np.float64]
Anchor = Literal["references", "lowest flows"]
DENSITY_U = 0.005
"""Relative standard uncertainty of a material's density (assumption)."""


def delivered_g_per_mm(
    readings: Sequence[Reading], nominal_diameter_mm: float | None = None
) -> Array:
    """Net mass per commanded mm of filament, freed of the diameter where it was measured.

    A coupon fed from filament thicker than the rest weighs more without the hot end having
    delivered better. Where a reading has its own ``diameter_mm`` its mass is divided by its
    section and multiplied by the nominal one.

    Parameters
    ----------
    readings : sequence of Reading
    nominal_diameter_mm : float, optional
        Diameter that measured ones are referred to; left out: their mean. Only the absolute
        delivery depends on it, loss does not.

    Returns
    -------
    array (readings,), g/mm
        Negative or zero where the net mass is.
    """
    y = np.array([r.net_g / r.filament_mm for r in readings], dtype=np.float64)
    measured = np.array([r.diameter_mm or np.nan for r in readings], dtype=np.float64)
    known = np.isfinite(measured)
    if known.any():
        nominal = nominal_diameter_mm or float(measured[known].mean())
        y[known] *= (nominal / measured[known]) ** 2
    return y


def anchors_of(readings: Sequence[Reading]) -> tuple[list[Reading], Anchor]:
    """The coupons delivery is read from: the references, else those of the lowest flow."""
    references = [r for r in readings if r.reference]
    if references:
        return references, "references"
    lowest = min(r.flow_mm3_s for r in readings)
    return [r for r in readings if r.flow_mm3_s == lowest], "lowest flows"


def delivery_factor(
    g_per_mm: float,
    u_relative: float,
    anchors: Sequence[Reading],
    material: Material,
    rig: Rig,
    *,
    spool: Spool | None = None,
    density_u: float = DENSITY_U,
) -> tuple[float, float]:
    """Delivered ÷ commanded at low flow, absolute: 1 where the drive is calibrated.

    Unlike loss it needs the density and the true diameter, so its uncertainty holds both.

    Parameters
    ----------
    g_per_mm : float, > 0
        What is delivered per commanded mm at low flow, as :func:`delivered_g_per_mm` refers it
        to the rig's diameter.
    u_relative : float
        Its own relative standard uncertainty, from the weighings.
    anchors : sequence of Reading
        The coupons it is read from (:func:`anchors_of`): they say whether the diameter was
        measured.
    material, rig
        Give density and nominal diameter.
    spool : Spool, optional
        How far the mean diameter of the spool may lie from the nominal one.
    density_u : float
        Relative standard uncertainty of the density (default 0.5 %, assumption).

    Returns
    -------
    factor, u_factor
        The factor and its standard uncertainty.
    """
    nominal = rig.filament_diameter_mm
    factor = g_per_mm / filament_mass_g(1.0, nominal, material.density_g_cm3)
    section = _mean_section_u(anchors, spool or Spool(), nominal)
    return factor, factor * math.hypot(u_relative, section, density_u)


def _mean_section_u(anchors: Sequence[Reading], spool: Spool, nominal_mm: float) -> float:
    """What all anchors share of the section: the spool's mean diameter against the nominal one.

    Where every diameter was measured the micrometer's own error is left; otherwise the mean of
    the spool may lie anywhere in the tolerance.
    """
    if all(r.diameter_mm for r in anchors):
        return 2 * (spool.diameter_u_mm or MEASURED_U_MM) / nominal_mm
    return 2 * spool.diameter_tolerance_mm / math.sqrt(3) / nominal_mm
