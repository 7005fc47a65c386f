"""Arcs by NISTIR 6556, section 3.5.3: centre and radius form, helices, whole turns."""

# numba types these functions from the arrays they are called with.

from __future__ import annotations

import numpy as np

from beadworth.core import part
from beadworth.gcode import columns

SOLVED = -1


@part()
def arc_tolerance(i, f):
    """How far start and end radius may differ, mm.

    NISTIR 6556 allows 0.002 mm (0.0002 inch), which needs numbers of three and more
    decimals. Start, centre offset and end are each rounded in two coordinates by up to
    half a unit of the last decimal: their radii then differ by up to 4·√2/2 = 2.83 units.
    So three units of the last decimal are allowed where that is more.
    """
    inch = i[columns.i_units] == 20
    decimals = max(i[columns.i_decimals], 3 if inch else 2)
    told = columns.ARC_TOLERANCE_INCH if inch else columns.ARC_TOLERANCE_MM
    return (
        f[columns.f_scale] * max(told, 3.0 * 10.0 ** -np.float64(decimals)) + 1e-9
    )  # for rounding


@part()
def centre_arc(u0, v0, u1, v1, cu, cv, clockwise, tolerance, f):
    """Solve an arc about a centre; SOLVED or the kind of problem."""
    start = np.hypot(u0 - cu, v0 - cv)
    end = np.hypot(u1 - cu, v1 - cv)
    if start == 0.0:
        return columns.P_ARC_RADIUS
    if abs(start - end) > tolerance:
        return columns.P_ARC_RADII
    if u0 == u1 and v0 == v1:
        sweep = -2.0 * np.pi if clockwise else 2.0 * np.pi
    else:
        # Angle between the radii by their cross and dot product; the cross product with the
        # chord keeps its digits on arcs of large radius and small angle.
        au, av = u0 - cu, v0 - cv
        across = au * (v1 - v0) - av * (u1 - u0)
        sweep = np.arctan2(across, au * (u1 - cu) + av * (v1 - cv))
        if clockwise and sweep >= 0.0:
            sweep -= 2.0 * np.pi
        elif not clockwise and sweep <= 0.0:
            sweep += 2.0 * np.pi
    f[columns.f_arc] = cu
    f[columns.f_arc + 1] = cv
    f[columns.f_arc + 2] = start
    f[columns.f_arc + 3] = sweep
    return SOLVED


@part()
def radius_arc(u0, v0, u1, v1, radius, clockwise, tolerance, f):
    """Solve an arc of a given radius: positive up to half a turn, negative the long way."""
    du = u1 - u0
    dv = v1 - v0
    half = 0.5 * np.hypot(du, dv)
    size = abs(radius)
    if half == 0.0 or size == 0.0 or half > size + tolerance:
        return columns.P_ARC_RADIUS
    rise = np.sqrt(max(size * size - half * half, 0.0))
    side = (
        1.0 if clockwise == (radius < 0.0) else -1.0
    )  # the centre lies left of the chord, or right
    f[columns.f_arc] = u0 + 0.5 * du - side * rise * dv / (2.0 * half)
    f[columns.f_arc + 1] = v0 + 0.5 * dv + side * rise * du / (2.0 * half)
    f[columns.f_arc + 2] = np.hypot(half, rise)
    sweep = 2.0 * np.arctan2(half, rise)
    if radius < 0.0:
        sweep = 2.0 * np.pi - sweep
    f[columns.f_arc + 3] = -sweep if clockwise else sweep
    return SOLVED


@part()
def arc_box(low, high, u, v, u0, v0, u1, v1, f):
    """Widen the box (indices low+u, …) by an arc, poles included where it passes them."""
    cu, cv, radius, sweep = (
        f[columns.f_arc],
        f[columns.f_arc + 1],
        f[columns.f_arc + 2],
        f[columns.f_arc + 3],
    )
    f[low + u] = min(f[low + u], u0, u1)
    f[low + v] = min(f[low + v], v0, v1)
    f[high + u] = max(f[high + u], u0, u1)
    f[high + v] = max(f[high + v], v0, v1)
    begin = np.arctan2(v0 - cv, u0 - cu)
    if sweep < 0.0:
        begin += sweep
        sweep = -sweep
    for quarter in range(4):
        pole = 0.5 * np.pi * quarter
        ahead = (pole - begin) % (2.0 * np.pi)
        if ahead <= sweep:
            if quarter == 0:
                f[high + u] = max(f[high + u], cu + radius)
            elif quarter == 1:
                f[high + v] = max(f[high + v], cv + radius)
            elif quarter == 2:
                f[low + u] = min(f[low + u], cu - radius)
            else:
                f[low + v] = min(f[low + v], cv - radius)
