"""Heat a polymer takes up on its way through a hot end."""

from __future__ import annotations

from beadworth.core import ROOM_C, melt_power_w
from beadworth.material.record import Material


def melt_heat_w(
    material: Material | None, flow_mm3_s: float, temperature_c: float, feed_c: float = ROOM_C
) -> float | None:
    """Heat a flow takes up from feed to melt temperature, W; None without a specific heat.

    The specific heat is that of the middle of both temperatures, which is exact where it
    changes in a straight line. A heat of melting counts unless the melt stays below a melting
    temperature that is known.
    """
    if material is None or material.specific_heat_j_gk is None:
        return None
    slope = material.specific_heat_slope or 0.0
    specific = material.specific_heat_j_gk + slope * (feed_c + temperature_c) / 2
    melts = material.melting_c is None or temperature_c > material.melting_c
    return float(
        melt_power_w(
            flow_mm3_s,
            material.density_g_cm3,
            specific,
            temperature_c - feed_c,
            (material.latent_j_g or 0.0) if melts else 0.0,
        )
    )
