"""Compiled parts of the melt model: what it takes to squeeze a half-molten core out.

SI units and °C. A melt comes as tables, whatever its law: a fluid of these kinds shears at
rate = G(stress)/a(temperature), so ln G stands against ln stress, ln stress against
ln(rate·a), and ln a and the yield stress against temperature (:mod:`beadworth.melt.squeeze`).

A ``way`` is the row of numbers the melt's way comes as:
0 bore radius of one channel, 1 heated length, 2 number of channels, 3 radius, 4 length of the
land, 5 tan of the cone's half angle, 6 filament section; 7 wall °C, 8 inlet °C, 9 resistance of
a wetted wall, 10 of the air gap (m²·K/W), 11 filament speed at which half the wall is wetted
(m/s), 12 power of that, 13 factor on the heat-up, 14 shift of softening, K; then what counts,
1 or 0: 15 viscosity by radius, 16 the stiff core, 17 the bore; 18 power by which Trouton's ratio
grows with the rate, from DRAWN_1_S on; 19 ln of a factor on the viscosity, 20 factor on what land
and cone resist by shear, 21 ln of a factor on the yield stress.
"""

from __future__ import annotations

import math

import numpy as np

from beadworth.core import kernel
from beadworth.melt._kernel import lookup, stage
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

USUAL_RISE = 3.0
"""Push force grows about as the flow to this power near the grip; only a first step."""
FEWEST_M3_S = 2e-11
MOST_M3_S = 1e-6


@kernel()
def dry_share(way, flow_m3_s):
    """Share of the heated length that an air gap insulates; it grows with the feed."""
    speed = flow_m3_s / way[6]
    return 1.0 - 1.0 / (1.0 + (speed / way[11]) ** way[12])


@kernel()
def outlet(way, flow_m3_s, k_table, c_table, start, step, flux, profiles):
    """March the core to the outlet at one flow: dry wall first, then wetted; fills ``profiles``.

    Rows stand at shares (i/rows)² of the heated length.
    """
    rows, cells = profiles.shape[0] - 1, profiles.shape[1]
    end = math.pi * way[1] * way[2] / flow_m3_s * way[13]
    wet, gap = way[9] / way[0], (way[9] + way[10]) / way[0]
    dry = dry_share(way, flow_m3_s)
    work = np.empty((2, cells))
    middle, base = np.empty(cells), np.empty(cells)
    profiles[0, :] = way[8]
    for row in range(1, rows + 1):
        before, here = ((row - 1.0) / rows) ** 2, (row / rows) ** 2
        part = min(max((dry - before) / (here - before), 0.0), 1.0)
        contact = 1.0 / (part / gap + (1.0 - part) / max(wet, 1e-9))
        dxi = (here - before) * end * GAMMA
        now = profiles[row - 1]
        stage(now, now, flux, dxi, way[7], contact, k_table, c_table, start, step, middle, work)
        for i in range(cells):
            base[i] = now[i] + (1.0 - GAMMA) / GAMMA * (middle[i] - now[i])
        stage(
            base, middle, flux, dxi, way[7], contact, k_table, c_table, start, step,
            profiles[row], work,
        )  # fmt: skip
    return dry


@kernel()
def _melt_of(profile, way, flux, shift_table, yield_table, start, step, ln_shift, ln_limit):
    """Shift of the rate and limit of the shear stress, as logarithms, of each stream tube."""
    mean = 0.0
    for i in range(profile.size):
        mean += 2.0 * flux[i] * profile[i]
    for i in range(profile.size):
        celsius = (profile[i] if way[15] > 0.0 else mean) - way[14]
        ln_shift[i] = lookup(shift_table, start, step, celsius)
        ln_limit[i] = math.log(lookup(yield_table, start, step, celsius) / HOOP) + way[21]


@kernel()
def wall_stress_pa(flow_m3_s, radius_m, guess, ln_viscosity, ln_shift, ln_limit, ln_rate):
    """Stress at the wall of a round channel whose stream tubes have their own temperatures.

    Q/(π·R³) = ∫ s²·rate(s·τw, T(s)) ds over the radius s; a tube near its limit τy shears as
    under the stress τ/(1 − τ/τy), without bound at τy: there it slides as a plug. Newton's steps
    in logarithms: the curve is convex, so they come down on the root from the right.
    ``guess`` is ln of a stress near it, ``ln_viscosity`` that of a factor on the viscosity.
    """
    cells = ln_shift.size
    target = math.log(flow_m3_s / (math.pi * radius_m**3))
    high = 1e9
    for i in range(cells):
        high = min(high, ln_limit[i] - math.log((i + 0.5) / cells))
    low, high = LN_STRESS_START, high - 1e-6
    here = min(guess, high)
    for _ in range(60):
        total = slope = 0.0
        for i in range(cells):
            s = (i + 0.5) / cells
            stress = here + math.log(s)
            free = 1.0 - math.exp(min(stress - ln_limit[i], -1e-12))
            place = (stress - math.log(free) - ln_viscosity - LN_STRESS_START) / LN_STEP
            index = min(max(int(place), 0), ln_rate.size - 2)
            rise = ln_rate[index + 1] - ln_rate[index]
            rate = ln_rate[index] + (place - index) * rise - ln_shift[i]
            part = s * s / cells * math.exp(min(rate, 300.0))
            total += part
            slope += part * rise / LN_STEP / free
        off = math.log(total) - target
        if off > 0.0:
            high = min(high, here)
        else:
            low = max(low, here)
        step = off * total / slope
        there = here - step
        if there <= low or there >= high:
            there = 0.5 * (low + high)
        moved = abs(there - here)
        here = there
        if moved < 1e-6:
            break
    return math.exp(here)


@kernel()
def push_parts(
    way, flow_m3_s, k_table, c_table, start, step, flux, melt_t, ln_rate, ln_stress, profiles, parts
):
    """Pressures that one flow takes, Pa: 0 cone and 1 land by shear, 2 the core squeezed through
    the cone, 3 the wetted bore; returns their sum. ``melt_t`` has ln a and the yield stress by row.

    The core: every stream tube is drawn out from bore to land, ∫ σ·dε with dε = 2·dR/R at the
    rate 2·Q·tan/(π·R³), σ = √3·τ(√3·rate) (Trouton for a melt that thins), never above the
    yield stress; mixed by flow (ideal work of forming).
    """
    rows, cells = profiles.shape[0] - 1, profiles.shape[1]
    dry = outlet(way, flow_m3_s, k_table, c_table, start, step, flux, profiles)
    ln_shift, ln_limit = np.empty(cells), np.empty(cells)
    _melt_of(profiles[rows], way, flux, melt_t[0], melt_t[1], start, step, ln_shift, ln_limit)
    wide = way[0] * math.sqrt(way[2])
    span = math.log(wide / way[3])
    parts[:] = 0.0
    guess = 11.0
    for k in range(CONE_NODES.size):
        radius = way[3] * math.exp(span * CONE_NODES[k])
        stress = wall_stress_pa(flow_m3_s, radius, guess, way[19], ln_shift, ln_limit, ln_rate)
        guess = math.log(stress)
        parts[0] += CONE_WEIGHTS[k] * 2.0 * stress * span / way[5] * way[20]
        if way[16] > 0.0:
            drawn = math.log(HOOP * 2.0 * flow_m3_s * way[5] / (math.pi * radius**3))
            more = way[18] * (drawn - math.log(DRAWN_1_S))
            for i in range(cells):
                shear = (
                    lookup(ln_stress, LN_RATE_START, LN_STEP, drawn + ln_shift[i]) + more + way[19]
                )
                pull = HOOP / (math.exp(-shear) + math.exp(-ln_limit[i]))
                parts[2] += CONE_WEIGHTS[k] * 2.0 * flux[i] * pull * 2.0 * span
    stress = wall_stress_pa(flow_m3_s, way[3], guess, way[19], ln_shift, ln_limit, ln_rate)
    parts[1] = 2.0 * way[4] / way[3] * stress * way[20]
    if way[17] > 0.0:
        between = np.empty(cells)
        for j in range(BORE_STATIONS):
            place = math.sqrt(dry + (1.0 - dry) * (j + 0.5) / BORE_STATIONS) * rows
            row = min(int(place), rows - 1)
            share = place - row
            for i in range(cells):
                between[i] = profiles[row, i] * (1.0 - share) + profiles[row + 1, i] * share
            _melt_of(between, way, flux, melt_t[0], melt_t[1], start, step, ln_shift, ln_limit)
            stress = wall_stress_pa(
                flow_m3_s / way[2], way[0], guess, way[19], ln_shift, ln_limit, ln_rate
            )
            guess = math.log(stress)
            parts[3] += 2.0 / way[0] * stress * way[1] * (1.0 - dry) / BORE_STATIONS
    return parts[0] + parts[1] + parts[2] + parts[3]


@kernel()
def ceiling_m3_s(
    way, grip_n, guess_m3_s, tolerance, k_table, c_table, start, step, flux, melt_t, ln_rate,
    ln_stress, profiles, parts,
):  # fmt: skip
    """Flow at which the push force meets the grip; 0 where not even the fewest passes."""
    target = math.log(grip_n / way[6])
    ln_q = math.log(guess_m3_s)
    value = math.log(
        push_parts(way, guess_m3_s, k_table, c_table, start, step, flux, melt_t, ln_rate,
                   ln_stress, profiles, parts)
    ) - target  # fmt: skip
    other, f_other = ln_q, value
    stride = 1.15 * min(max(abs(value) / USUAL_RISE, 0.02), 2.0)
    while f_other * value > 0.0:
        ln_q, value = other, f_other
        other = ln_q + (stride if value < 0.0 else -stride)
        stride *= 1.6
        if other < math.log(FEWEST_M3_S):
            return 0.0
        if other > math.log(MOST_M3_S):
            return MOST_M3_S
        f_other = math.log(
            push_parts(way, math.exp(other), k_table, c_table, start, step, flux, melt_t, ln_rate,
                       ln_stress, profiles, parts)
        ) - target  # fmt: skip
    low, f_low, high, f_high = ln_q, value, other, f_other
    if f_low > f_high:
        low, f_low, high, f_high = high, f_high, low, f_low
    last = 0
    middle = 0.5 * (low + high)
    for _ in range(40):
        if f_high == f_low:
            break
        middle = high - f_high * (high - low) / (f_high - f_low)
        found = math.log(
            push_parts(way, math.exp(middle), k_table, c_table, start, step, flux, melt_t, ln_rate,
                       ln_stress, profiles, parts)
        ) - target  # fmt: skip
        if abs(found) < tolerance or abs(high - low) < tolerance * 0.1:
            break
        if found > 0.0:
            high, f_high = middle, found
            if last == 1:
                f_low *= 0.5
            last = 1
        else:
            low, f_low = middle, found
            if last == -1:
                f_high *= 0.5
            last = -1
    return math.exp(middle)


@kernel()
def draw_ceilings(
    first, last, ways, grips, guess_m3_s, tolerance, k_table, c_table, start, step, flux, melt_t,
    ln_rate, ln_stress, rows, ceilings,
):  # fmt: skip
    """Ceilings of the ways ``first`` to ``last``; one thread's share of a Monte Carlo run."""
    profiles = np.empty((rows + 1, flux.size))
    parts = np.empty(4)
    for d in range(first, last):
        ceilings[d] = ceiling_m3_s(
            ways[d], grips[d], guess_m3_s, tolerance, k_table, c_table, start, step, flux, melt_t,
            ln_rate, ln_stress, profiles, parts,
        )  # fmt: skip
