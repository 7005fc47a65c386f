"""Compiled parts of the melt model: heat marching down a tube, and what it lets through.

SI units throughout. Pressure through round channels is in :mod:`beadworth.melt._kernel_pressure`.

The heat equation. With U the mean speed, φ(r̂) = u/U, r̂ = r/R and ξ = z/(U·R²) = π·z/Q,

    ρ·c_p(T)·φ(r̂)·∂T/∂ξ = (1/r̂)·∂/∂r̂( r̂·k(T)·∂T/∂r̂ ),

so neither the bore nor the flow appears: one march serves every flow through every bore,
as long as the wall temperature does not change along the tube and shear heating is left out.
Radial finite volumes (second order), axial SDIRK2 (L-stable, second order).
"""

from __future__ import annotations

import math

import numpy as np

from beadworth.core import kernel
from beadworth.melt._kernel_pressure import cone_pressure_pa, tube_pressure_pa

GAMMA = 1.0 - math.sqrt(0.5)


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
def _stage(base, guess, flux, dxi, wall, contact, k_table, c_table, start, step, out, work):
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
def march(xi, flux, inlet, wall, contact, k_table, c_table, start, step, stop_core, profiles):
    """March temperature down the tube; fill ``profiles[i]`` with the radial profile at ``xi[i]``.

    Parameters
    ----------
    xi : (m,) rising from 0, s/m²
    flux : (n,) share ∫φ·r̂·dr̂ of each of n equal-width radial cells; sums to 1/2
    inlet, wall : °C
    contact : contact resistance over radius, m·K/W
    k_table, c_table : k in W/(m·K) and ρ·c_p in J/(m³·K) from ``start`` °C every ``step`` K
    stop_core : °C; the march may end once the axis is hotter
    profiles : (m, n) filled here

    Returns
    -------
    int
        Number of rows filled.
    """
    cells = flux.size
    work = np.empty((2, cells))
    stage = np.empty(cells)
    base = np.empty(cells)
    profiles[0, :] = inlet
    for row in range(1, xi.size):
        dxi = (xi[row] - xi[row - 1]) * GAMMA
        now = profiles[row - 1]
        _stage(now, now, flux, dxi, wall, contact, k_table, c_table, start, step, stage, work)
        # second stage starts from y + (1−γ)·h·f(stage), where γ·h·f(stage) = stage − y
        for i in range(cells):
            base[i] = now[i] + (1.0 - GAMMA) / GAMMA * (stage[i] - now[i])
        _stage(
            base,
            stage,
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
        if axis_temperature(profiles[row]) > stop_core:
            return row + 1
    return xi.size


@kernel()
def axis_temperature(profile):
    """Temperature on the axis from the two innermost cells: a parabola with zero slope at r̂ = 0."""
    return (9.0 * profile[0] - profile[1]) / 8.0


@kernel()
def melt_pressure_pa(channel, fluid, flow_m3_s, bulk, xi, rows, softening, nodes, weights):
    """Pressure from the melt zone through cone and land at one flow, and where melting has begun.

    ``channel`` is (bore radius, melt-zone length, land radius, land length, tan of the cone's
    half angle), SI. The melt of the bore counts from where the mixed temperature passes
    softening; viscosity is taken at the mixed temperature at the outlet, a simplification
    (the film at the wall is thinner and hotter).
    """
    radius, length, land_radius, land_length, slope = channel
    end = math.pi * length / flow_m3_s
    outlet = _at(xi, bulk, rows, end)
    start = end
    for i in range(1, rows):
        if bulk[i] >= softening:
            share = (softening - bulk[i - 1]) / (bulk[i] - bulk[i - 1])
            start = xi[i - 1] + share * (xi[i] - xi[i - 1])
            break
    molten = length * max(0.0, 1.0 - start / end)
    pressure = cone_pressure_pa(
        fluid, flow_m3_s, radius, land_radius, slope, outlet, nodes, weights
    ) + tube_pressure_pa(fluid, flow_m3_s, land_radius, land_length, outlet, nodes, weights)
    if molten > 0.0:
        pressure += tube_pressure_pa(fluid, flow_m3_s, radius, molten, outlet, nodes, weights)
    return pressure


@kernel()
def _at(xi, values, rows, place):
    """Linear interpolation of the first ``rows`` values, held beyond the last."""
    if place >= xi[rows - 1]:
        return values[rows - 1]
    index = np.searchsorted(xi[:rows], place)
    if index == 0:
        return values[0]
    share = (place - xi[index - 1]) / (xi[index] - xi[index - 1])
    return values[index - 1] * (1.0 - share) + values[index] * share


@kernel()
def solve_one(xi, flux, inlet, wall, contact, k_table, c_table, start, step, profiles, core, bulk):
    """March, then fill axis and flow-mixed temperature per row; returns the rows filled."""
    rows = march(xi, flux, inlet, wall, contact, k_table, c_table, start, step, 1e9, profiles)
    for i in range(rows):
        core[i] = axis_temperature(profiles[i])
        total = 0.0
        for j in range(flux.size):
            total += flux[j] * profiles[i, j]
        bulk[i] = 2.0 * total
    return rows


@kernel()
def heat_ceiling_m3_s(xi, core, rows, length, softening):
    """Flow at which the axis just reaches softening at the outlet; 0 where it never does."""
    for i in range(1, rows):
        if core[i] >= softening:
            share = (softening - core[i - 1]) / (core[i] - core[i - 1])
            return math.pi * length / (xi[i - 1] + share * (xi[i] - xi[i - 1]))
    return 0.0


@kernel()
def force_ceiling_m3_s(
    channel, fluid, area_m2, grip_n, top_m3_s, bulk, xi, rows, softening, nodes, weights
):
    """Largest flow up to ``top_m3_s`` whose melt pressure the drive still pushes, by bisection."""
    high = top_m3_s
    if (
        melt_pressure_pa(channel, fluid, high, bulk, xi, rows, softening, nodes, weights) * area_m2
        <= grip_n
    ):
        return high
    low = high * 1e-3
    for _ in range(30):
        middle = math.sqrt(low * high)
        pressure = melt_pressure_pa(
            channel, fluid, middle, bulk, xi, rows, softening, nodes, weights
        )
        if pressure * area_m2 > grip_n:
            high = middle
        else:
            low = middle
        if high / low < 1.0 + 1e-6:
            break
    return low


@kernel()
def draw_ceilings(
    first,
    last,
    draws,
    xi,
    flux,
    k_table,
    c_table,
    start,
    step,
    channel,
    fluid,
    area,
    nodes,
    weights,
    heat,
    force,
):
    """Ceilings of draws ``first`` to ``last``; one thread's share of a Monte Carlo run.

    ``draws`` columns: conductivity scale, heat-capacity scale, softening °C, wall °C, inlet °C,
    contact m²·K/W, length scale, bore scale, viscosity scale, grip N.
    """
    rows_max, cells = xi.size, flux.size
    profiles = np.empty((rows_max, cells))
    core = np.empty(rows_max)
    bulk = np.empty(rows_max)
    thick = fluid.copy()
    for d in range(first, last):
        k_scale, c_scale, softening, wall, inlet, contact, l_scale, b_scale, v_scale, grip = draws[
            d
        ]
        radius = channel[0] * b_scale
        length = channel[1] * l_scale
        rows = solve_one(
            xi,
            flux,
            inlet,
            wall,
            contact / radius,
            k_table * k_scale,
            c_table * c_scale,
            start,
            step,
            profiles,
            core,
            bulk,
        )
        heat[d] = heat_ceiling_m3_s(xi, core, rows, length, softening)
        force[d] = heat[d]
        if heat[d] > 0.0 and math.isfinite(grip):
            # kinds 1 and 3 hold their viscosity in one number each, kind 2 in D1
            place = 1 if fluid[0] == 1.0 else 3
            thick[place] = fluid[place] * v_scale
            force[d] = force_ceiling_m3_s(
                (radius, length, channel[2], channel[3], channel[4]),
                thick,
                area,
                grip,
                heat[d],
                bulk,
                xi,
                rows,
                softening,
                nodes,
                weights,
            )
