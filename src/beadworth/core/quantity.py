"""Sections, volumes, masses, feeds and melt power: the arithmetic everyone shares.

Every function takes floats or arrays and broadcasts. Units are in the names.
"""

from __future__ import annotations

import math
from typing import TypeVar, cast

import numpy as np
from numpy.typing import NDArray

from beadworth.core.constants import CONFIDENCE
from beadworth.core.errors import RigValueError

Number = TypeVar("Number", float, NDArray[np.float64])


def filament_section_mm2(diameter_mm: Number) -> Number:
    """Cross-section of round filament, mm²: π·d²/4 (1.75 mm → 2.405 mm²)."""
    return math.pi / 4.0 * diameter_mm * diameter_mm


def bead_section_mm2(width_mm: Number, layer_mm: Number) -> Number:
    """Cross-section of a laid bead: a rectangle with semicircular sides.

    Parameters
    ----------
    width_mm : float or array, > layer_mm
    layer_mm : float or array, > 0

    Returns
    -------
    float or array, mm²
        (width − layer)·layer + π·layer²/4, broadcast.

    Raises
    ------
    RigValueError
        A width not above its layer height: such a bead cannot be laid.
    """
    width, layer = np.broadcast_arrays(np.asarray(width_mm), np.asarray(layer_mm))
    bad = ~((width > layer) & (layer > 0))
    if bad.any():
        first = int(np.flatnonzero(bad.ravel())[0])
        w, h = float(width.ravel()[first]), float(layer.ravel()[first])
        raise RigValueError(
            f"a bead {w:g} mm wide is not possible at {h:g} mm layer height: "
            "the width must be above the layer height, and both above 0.",
            where="line width and layer height",
            value=w,
            remedy="Give a line width larger than the layer height.",
        )
    section = (width - layer) * layer + math.pi / 4.0 * layer * layer
    return cast(Number, section if section.ndim else float(section))


def feed_mm_s(flow_mm3_s: Number, diameter_mm: float) -> Number:
    """Filament feed that delivers a volumetric flow, mm/s: flow ÷ section."""
    return flow_mm3_s / filament_section_mm2(diameter_mm)


def filament_mass_g(length_mm: Number, diameter_mm: Number, density_g_cm3: float) -> Number:
    """Mass of a length of filament, g: length·section·density (1 g/cm³ = 1e-3 g/mm³)."""
    return length_mm * filament_section_mm2(diameter_mm) * (density_g_cm3 * 1e-3)


def melt_power_w(
    flow_mm3_s: Number,
    density_g_cm3: float,
    specific_heat_j_gk: float,
    rise_k: Number,
    latent_j_g: float = 0.0,
) -> Number:
    """Heat the polymer takes up, W: ρ·Q·(c_p·ΔT + latent), standing losses left out."""
    return flow_mm3_s * (density_g_cm3 * 1e-3) * (specific_heat_j_gk * rise_k + latent_j_g)


def coverage_factor(dof: float = math.inf, confidence: float = CONFIDENCE) -> float:
    """Student's t for a two-sided interval; the normal quantile for infinite dof (1.96 at 95 %).

    Degrees of freedom are cut down to the next whole number, as JCGM 100:2008 does (G.4.1).
    """
    from scipy.special import ndtri, stdtrit

    tail = (1 + confidence) / 2
    return float(ndtri(tail) if math.isinf(dof) else stdtrit(max(1.0, math.floor(dof)), tail))
