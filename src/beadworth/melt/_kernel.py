"""Compiled parts of the melt model: heat marching down a tube.

SI units throughout. What squeezes the melt out is in :mod:`beadworth.melt._kernel_push`.

The heat equation. With U the mean speed, φ(r̂) = u/U, r̂ = r/R and ξ = z/(U·R²) = π·z/Q,

    ρ·c_p(T)·φ(r̂)·∂T/∂ξ = (1/r̂)·∂/∂r̂( r̂·k(T)·∂T/∂r̂ ),

so neither the bore nor the flow appears: one march serves every flow through every bore,
as long as the wall temperature does not change along the tube and shear heating is left out.
Radial finite volumes (second order), axial SDIRK2 (L-stable, second order).
"""

from __future__ import annotations

import numpy as np

from beadworth.core import kernel
from beadworth.melt.constants import GAMMA


@kernel()
def lookup(table, start, step, value):
    """Linear interpolation in an evenly spaced table, held constant beyond its ends."""
    place = (value - start) / step
    if place <= 0.0:
        return table[0]
    last = table.size - 1
    if place >= last:
        return table[last]
    index = int(place)
    share = place - index
    return table[index] * (1.0 - share) + table[index + 1] * share


@kernel()
def stage(base, guess, flux, dxi, wall, contact, k_table, c_table, start, step, out, work):
    """Solve one implicit stage: out = base + dxi·f(out), properties taken at ``guess``.

    ``contact`` is the wall's contact resistance over the radius, (m²·K/W)/m.
    """
    cells = base.size
    dr = 1.0 / cells
    upper, rhs = work[0], work[1]
    k_here = lookup(k_table, start, step, guess[0])
    below = 0.0
    for i in range(cells):
        if i < cells - 1:
            k_next = lookup(k_table, start, step, guess[i + 1])
            above = 2.0 * k_here * k_next / (k_here + k_next) * (i + 1.0)  # k·r̂/Δr̂ at the face
        else:
            k_next = k_here
            above = 1.0 / (0.5 * dr / k_here + contact)
        capacity = lookup(c_table, start, step, guess[i]) * flux[i]
        diagonal = capacity + dxi * (below + above)
        right = capacity * base[i]
        if i == cells - 1:
            right += dxi * above * wall
        if i == 0:
            upper[0] = -dxi * above / diagonal
            rhs[0] = right / diagonal
        else:
            pivot = diagonal + dxi * below * upper[i - 1]
            upper[i] = -dxi * above / pivot
            rhs[i] = (right + dxi * below * rhs[i - 1]) / pivot
        below = above
        k_here = k_next
    out[cells - 1] = rhs[cells - 1]
    for i in range(cells - 2, -1, -1):
        out[i] = rhs[i] - upper[i] * out[i + 1]


@kernel()
def march(xi, flux, inlet, wall, contact, k_table, c_table, start, step, profiles):
    """March temperature down the tube; fill ``profiles[i]`` with the radial profile at ``xi[i]``.

    Parameters
    ----------
    xi : (m,) rising from 0, s/m²
    flux : (n,) share ∫φ·r̂·dr̂ of each of n equal-width radial cells; sums to 1/2
    inlet, wall : °C
    contact : contact resistance over radius, m·K/W
    k_table, c_table : k in W/(m·K) and ρ·c_p in J/(m³·K) from ``start`` °C every ``step`` K
    profiles : (m, n) filled here
    """
    cells = flux.size
    work = np.empty((2, cells))
    middle = np.empty(cells)
    base = np.empty(cells)
    profiles[0, :] = inlet
    for row in range(1, xi.size):
        dxi = (xi[row] - xi[row - 1]) * GAMMA
        now = profiles[row - 1]
        stage(now, now, flux, dxi, wall, contact, k_table, c_table, start, step, middle, work)
        # second stage starts from y + (1−γ)·h·f(middle), where γ·h·f(middle) = middle − y
        for i in range(cells):
            base[i] = now[i] + (1.0 - GAMMA) / GAMMA * (middle[i] - now[i])
        stage(
            base,
            middle,
            flux,
            dxi,
            wall,
            contact,
            k_table,
            c_table,
            start,
            step,
            profiles[row],
            work,
        )


@kernel()
def axis_temperature(profile):
    """Temperature on the axis from the two innermost cells: a parabola with zero slope at r̂ = 0."""
    return (9.0 * profile[0] - profile[1]) / 8.0


@kernel()
def solve_one(xi, flux, inlet, wall, contact, k_table, c_table, start, step, profiles, core, bulk):
    """March, then fill axis and flow-mixed temperature per row."""
    march(xi, flux, inlet, wall, contact, k_table, c_table, start, step, profiles)
    for i in range(xi.size):
        core[i] = axis_temperature(profiles[i])
        total = 0.0
        for j in range(flux.size):
            total += flux[j] * profiles[i, j]
        bulk[i] = 2.0 * total
