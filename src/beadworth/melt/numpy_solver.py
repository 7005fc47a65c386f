"""One state of a hot end in plain numpy: the sums of ``_kernel.py`` with nothing to load.

A compiler takes most of a second to load and pays for itself over thousands of marches; a fit
check needs one. Both ways of doing the same sums are held together by a test. SI units; fluids
as rows of eight numbers, see :mod:`beadworth.melt.rheology`.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from beadworth.core import ZERO_C_K

Array = NDArray[np.float64]
GAMMA = 1.0 - math.sqrt(0.5)
ROUNDS = 40
"""Secant steps at most; six or seven do."""


def march(
    xi: Array,
    flux: Array,
    inlet: float,
    wall: float,
    contact: float,
    tables: tuple[Array, Array, Array],
) -> tuple[Array, Array, Array]:
    """Radial profiles, axis and flow-mixed temperature at every station ``xi``, °C.

    Finite volumes in the radius, the two-stage implicit scheme (SDIRK2) along the tube; ``tables``
    are temperature, k and ρ·c_p, evenly spaced.
    """
    profiles = np.empty((xi.size, flux.size))
    profiles[0] = inlet
    for row in range(1, xi.size):
        step = (xi[row] - xi[row - 1]) * GAMMA
        now = profiles[row - 1]
        stage = _stage(now, now, flux, step, wall, contact, tables)
        base = now + (1.0 - GAMMA) / GAMMA * (stage - now)
        profiles[row] = _stage(base, stage, flux, step, wall, contact, tables)
    core = (9.0 * profiles[:, 0] - profiles[:, 1]) / 8.0
    return profiles, core, 2.0 * profiles @ flux


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


def melt_pressure_pa(
    channel: tuple[float, float, float, float, float],
    fluid: Array,
    flow_m3_s: float,
    bulk: Array,
    xi: Array,
    softening: float,
    gauss: tuple[Array, Array],
) -> float:
    """Pressure through the molten bore, cone and land at one flow (as ``_kernel`` has it)."""
    radius, length, land_radius, land_length, slope = channel
    nodes, weights = gauss
    end = math.pi * length / flow_m3_s
    outlet = float(np.interp(end, xi, bulk))
    start = end
    hot = np.flatnonzero(bulk[1:] >= softening)
    if hot.size:
        i = int(hot[0]) + 1
        share = (softening - bulk[i - 1]) / (bulk[i] - bulk[i - 1])
        start = float(xi[i - 1] + share * (xi[i] - xi[i - 1]))
    molten = length * max(0.0, 1.0 - start / end)
    span = math.log(radius / land_radius)
    radii = np.concatenate([land_radius * np.exp(span * nodes), [land_radius, radius]])
    stress = wall_stress_pa(fluid, flow_m3_s, radii, outlet, gauss)
    cone = float(weights @ (2.0 * stress[:-2])) * span / slope
    land = 2.0 * land_length / land_radius * stress[-2]
    return cone + float(land + 2.0 * molten / radius * stress[-1])


def wall_stress_pa(
    fluid: Array,
    flow_m3_s: float,
    radius_m: Array,
    temperature_c: float,
    gauss: tuple[Array, Array],
) -> Array:
    """Stress at the wall of round tubes, by Rabinowitsch; a secant in logarithms finds the rate."""
    nodes, weights = gauss
    target = flow_m3_s / (math.pi * radius_m**3)

    def error_of(rate: Array) -> Array:
        stress = shear_stress_pa(fluid, rate, temperature_c)
        inner = shear_stress_pa(fluid, rate[:, None] * nodes**2, temperature_c) / stress[:, None]
        total = (inner**3 * 2.0 * nodes) @ weights
        return np.asarray(np.log(rate * (1.0 - total) / 3.0 / target))

    guess = 4.0 * target
    before = guess * 1.5
    error_before = error_of(before)
    for _ in range(ROUNDS):
        error = error_of(guess)
        moving = (np.abs(error) >= 1e-12) & (error != error_before)
        if not moving.any():
            break
        rise = np.where(moving, error - error_before, 1.0)
        slope = (np.log(guess) - np.log(before)) / rise
        before, error_before = guess, error
        guess = guess * np.where(moving, np.exp(-error * slope), 1.0)
    return shear_stress_pa(fluid, guess, temperature_c)


def shear_stress_pa(fluid: Array, rate: Array, temperature_c: float) -> Array:
    """Shear stress at shear rates (1/s) of the three kinds of fluid."""
    kelvin = temperature_c + ZERO_C_K
    if fluid[0] == 1.0:
        shift = math.exp(fluid[3] * (1.0 / kelvin - 1.0 / fluid[4]))
        return np.asarray(fluid[1] * shift * rate ** fluid[2])
    if fluid[0] == 2.0:
        above = max(kelvin - fluid[4], -0.9 * fluid[6])
        zero = fluid[3] * math.exp(-fluid[5] * above / (fluid[6] + above))
    else:
        zero = fluid[3] * math.exp(fluid[4] * (1.0 / kelvin - 1.0 / fluid[5]))
    return np.asarray(zero * rate / (1.0 + (zero * rate / fluid[2]) ** (1.0 - fluid[1])))
