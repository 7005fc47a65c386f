"""Pressure drop of a melt of one temperature through tube and cone, by quadrature.

What the land and cone of the melt model are held to where its core is warm. SI units; fluids are
rows of eight numbers, see :mod:`beadworth.melt.rheology`.
"""

from __future__ import annotations

import math

from beadworth.melt.rheology import Array, shear_stress_pa


def flow_over_r3(
    fluid: Array, wall_rate: float, temperature_c: float, nodes: Array, weights: Array
) -> float:
    """Q/(π·R³) of a wall rate, Rabinowitsch by parts: (γ̇w − τw⁻³·∫₀^γ̇w τ³ dγ̇)/3."""
    wall_stress = shear_stress_pa(fluid, wall_rate, temperature_c)
    total = 0.0
    for i in range(nodes.size):
        # γ̇ = γ̇w·y², which smooths the power-law behaviour at 0
        y = nodes[i]
        ratio = shear_stress_pa(fluid, wall_rate * y * y, temperature_c) / wall_stress
        total += weights[i] * ratio**3 * 2.0 * y
    return wall_rate * (1.0 - total) / 3.0


def wall_rate_1_s(
    fluid: Array,
    flow_m3_s: float,
    radius_m: float,
    temperature_c: float,
    nodes: Array,
    weights: Array,
) -> float:
    """True shear rate at the wall of a round tube, 1/s, by secant in logarithms."""
    target = flow_m3_s / (math.pi * radius_m**3)
    guess = 4.0 * target
    previous = guess * 1.5
    error_before = math.log(flow_over_r3(fluid, previous, temperature_c, nodes, weights) / target)
    for _ in range(40):
        error = math.log(flow_over_r3(fluid, guess, temperature_c, nodes, weights) / target)
        if abs(error) < 1e-12 or error == error_before:
            break
        slope = (math.log(guess) - math.log(previous)) / (error - error_before)
        previous, error_before = guess, error
        guess *= math.exp(-error * slope)
    return guess


def tube_pressure_pa(
    fluid: Array,
    flow_m3_s: float,
    radius_m: float,
    length_m: float,
    temperature_c: float,
    nodes: Array,
    weights: Array,
) -> float:
    """Pressure drop of developed flow in a round tube: 2·L·τw/R."""
    rate = wall_rate_1_s(fluid, flow_m3_s, radius_m, temperature_c, nodes, weights)
    return 2.0 * length_m / radius_m * shear_stress_pa(fluid, rate, temperature_c)


def cone_pressure_pa(
    fluid: Array,
    flow_m3_s: float,
    wide_m: float,
    narrow_m: float,
    slope: float,
    temperature_c: float,
    nodes: Array,
    weights: Array,
) -> float:
    """Pressure drop of a cone by lubrication: ∫ 2·τw(R)/R dz, dz = dR/tan(half angle).

    The wall stress changes fastest near the narrow end, so the integral runs over ln R.
    """
    span = math.log(wide_m / narrow_m)
    total = 0.0
    for i in range(nodes.size):
        radius = narrow_m * math.exp(span * nodes[i])
        rate = wall_rate_1_s(fluid, flow_m3_s, radius, temperature_c, nodes, weights)
        total += weights[i] * 2.0 * shear_stress_pa(fluid, rate, temperature_c)
    return total * span / slope
