"""One push in plain numpy: the sums of ``_kernel_push.py`` with nothing to load.

A compiler takes most of a second to load and pays for itself over thousands of marches; a fit
check needs one. Both ways of doing the same sums are held together by a test. SI units; a ``way``
and the tables of a melt as the kernels take them.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from beadworth.melt.constants import (
    BORE_STATIONS,
    CONE_NODES,
    CONE_WEIGHTS,
    DRAWN_1_S,
    GAMMA,
    HOOP,
    LN_RATE_START,
    LN_STEP,
    LN_STRESS_START,
)

Array = NDArray[np.float64]

Heat = tuple[Array, Array, Array]
"""Temperature, k and ρ·c_p, evenly spaced."""
MeltTables = tuple[Array, Array, Array]
"""ln rate against ln stress, ln stress against ln(rate·a), (ln a; yield stress) by temperature."""


def dry_share(way: Array, flow_m3_s: float) -> float:
    """Share of the heated length that an air gap insulates."""
    speed = flow_m3_s / way[6]
    return float(1.0 - 1.0 / (1.0 + (speed / way[11]) ** way[12]))


def outlet(way: Array, flow_m3_s: float, heat: Heat, flux: Array, rows: int) -> Array:
    """Radial profiles at shares (i/rows)² of the heated length, °C."""
    end = math.pi * way[1] * way[2] / flow_m3_s * way[13]
    wet, gap = way[9] / way[0], (way[9] + way[10]) / way[0]
    dry = dry_share(way, flow_m3_s)
    profiles = np.empty((rows + 1, flux.size))
    profiles[0] = way[8]
    for row in range(1, rows + 1):
        before, here = ((row - 1.0) / rows) ** 2, (row / rows) ** 2
        part = min(max((dry - before) / (here - before), 0.0), 1.0)
        contact = 1.0 / (part / gap + (1.0 - part) / max(wet, 1e-9))
        dxi = (here - before) * end * GAMMA
        now = profiles[row - 1]
        middle = _stage(now, now, flux, dxi, way[7], contact, heat)
        base = now + (1.0 - GAMMA) / GAMMA * (middle - now)
        profiles[row] = _stage(base, middle, flux, dxi, way[7], contact, heat)
    return profiles


def _stage(
    base: Array,
    guess: Array,
    flux: Array,
    step: float,
    wall: float,
    contact: float,
    tables: tuple[Array, Array, Array],
) -> Array:
    """One implicit stage: a symmetric tridiagonal system, solved by elimination."""
    celsius, k_table, c_table = tables
    cells = base.size
    k = np.interp(guess, celsius, k_table)
    capacity = np.interp(guess, celsius, c_table) * flux
    above = np.empty(cells)
    above[:-1] = 2.0 * k[:-1] * k[1:] / (k[:-1] + k[1:]) * np.arange(1.0, cells)
    above[-1] = 1.0 / (0.5 / cells / k[-1] + contact)
    above *= step
    diagonal = capacity + above
    diagonal[1:] += above[:-1]
    right = capacity * base
    right[-1] += above[-1] * wall
    # plain floats: an elimination is one cell after the other, which numpy does slowly
    side: list[float] = above.tolist()
    middle: list[float] = diagonal.tolist()
    value: list[float] = right.tolist()
    for i in range(1, cells):
        share = side[i - 1] / middle[i - 1]
        middle[i] -= share * side[i - 1]
        value[i] += share * value[i - 1]
    value[-1] /= middle[-1]
    for i in range(cells - 2, -1, -1):
        value[i] = (value[i] + side[i] * value[i + 1]) / middle[i]
    return np.array(value)


def push_parts(
    way: Array, flow_m3_s: float, heat: Heat, flux: Array, melt: MeltTables, rows: int
) -> tuple[Array, Array]:
    """Pressures of cone, land, core and bore, Pa, and the radial profiles down the bore."""
    ln_rate, ln_stress, by_temperature = melt
    celsius = heat[0]
    profiles = outlet(way, flow_m3_s, heat, flux, rows)
    cells, dry = flux.size, dry_share(way, flow_m3_s)

    def tubes(profile: Array) -> tuple[Array, Array]:
        own = profile if way[15] > 0 else np.full(cells, 2.0 * profile @ flux)
        own = own - way[14]
        return (
            np.interp(own, celsius, by_temperature[0]),
            np.log(np.interp(own, celsius, by_temperature[1]) / HOOP) + way[21],
        )

    parts = np.zeros(4)
    shift, limit = tubes(profiles[-1])
    span = math.log(way[0] * math.sqrt(way[2]) / way[3])
    radius = np.append(way[3] * np.exp(span * CONE_NODES), way[3])
    stress = wall_stress_pa(flow_m3_s, radius, way[19], shift, limit, ln_rate)
    parts[0] = CONE_WEIGHTS @ stress[:-1] * 2.0 * span / way[5] * way[20]
    parts[1] = 2.0 * way[4] / way[3] * stress[-1] * way[20]
    if way[16] > 0:
        drawn = np.log(HOOP * 2.0 * flow_m3_s * way[5] / (math.pi * radius[:-1, None] ** 3))
        shear = np.interp(
            drawn + shift, LN_RATE_START + LN_STEP * np.arange(ln_stress.size), ln_stress
        )
        shear = shear + way[19] + way[18] * (drawn - math.log(DRAWN_1_S))
        pull = HOOP / (np.exp(-shear) + np.exp(-limit))
        parts[2] = CONE_WEIGHTS @ (pull @ flux) * 4.0 * span
    if way[17] > 0:
        for j in range(BORE_STATIONS):
            place = math.sqrt(dry + (1.0 - dry) * (j + 0.5) / BORE_STATIONS) * rows
            row = min(int(place), rows - 1)
            share = place - row
            shift, limit = tubes(profiles[row] * (1.0 - share) + profiles[row + 1] * share)
            here = wall_stress_pa(flow_m3_s / way[2], way[:1], way[19], shift, limit, ln_rate)[0]
            parts[3] += 2.0 / way[0] * here * way[1] * (1.0 - dry) / BORE_STATIONS
    return parts, profiles


def wall_stress_pa(
    flow_m3_s: float,
    radius_m: Array,
    ln_viscosity: float,
    ln_shift: Array,
    ln_limit: Array,
    ln_rate: Array,
) -> Array:
    """Stress at the walls of round channels, by halving in logarithms to 1e-9."""
    cells = ln_shift.size
    s = (np.arange(cells) + 0.5) / cells
    target = np.log(flow_m3_s / (math.pi * radius_m**3))
    grid = LN_STRESS_START + LN_STEP * np.arange(ln_rate.size)
    high = np.full(radius_m.size, min(float(np.min(ln_limit - np.log(s))), float(grid[-1])) - 1e-6)
    low = np.full(radius_m.size, LN_STRESS_START)
    for _ in range(36):
        middle = 0.5 * (low + high)
        stress = middle[:, None] + np.log(s)
        free = -np.expm1(np.minimum(stress - ln_limit, -1e-12))
        rate = np.interp(stress - np.log(free) - ln_viscosity, grid, ln_rate) - ln_shift
        over = np.log(np.exp(np.minimum(rate, 300.0)) @ (s * s / cells)) > target
        high, low = np.where(over, middle, high), np.where(over, low, middle)
    return np.asarray(np.exp(0.5 * (low + high)))
