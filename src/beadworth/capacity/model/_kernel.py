"""How well curves, ceilings and scatter fit the weighings: compiled, a row of unknowns at a time.

:mod:`.curve` says what the unknowns are; ``tests/support/plain_curve.py`` has the same in plain
numpy.
"""

from __future__ import annotations

import math

import numpy as np

from beadworth.capacity.model._kernel_joint import joint_misfits, lower_root, whitened
from beadworth.core import kernel, part

# places in ``at`` (where in a row an unknown stands), ``prior`` and ``noise``
AT_SLOPE, AT_DRIFT, AT_STEPS, AT_ALIKE, AT_WALK, AT_SCATTER, AT_MIDDLE, AT_WIDTHS = range(8)
SLOPE, SD_SLOPE, WALK, SD_WALK, FAR_SLOPE, FREEDOM = range(6)
ALIKE, SD_ALIKE, SD_WIDTH, UNSHARED, SD_UNSHARED, MOST_DRIFT, ALIKE_FLOWS = range(6, 13)
WITHIN, SPARE, LOG_SD, SD_LOG_SD = range(4)

HIGHEST_LOG = math.log(3.0)
"""Cap on ln(−ln f): nothing is told apart that far down."""
STEEPEST, FLATTEST = 6.0, -12.0
"""Limits of the log-slope, so that no curve overflows."""


@part()
def lay_knots(t, blocks, at, grid, prior, curve):
    """One curve, a column per knot: its place u, 0 at the ceiling; then, with e = ln(h ÷ slope) and
    its rise k per unit of ln h, k·exp(−e) and 1/k, which turn places into losses.
    """
    knots = grid.shape[1]
    at_ceiling = min(max(prior[SLOPE] + prior[SD_SLOPE] * t[at[AT_SLOPE]], -8.0), 5.0)
    drift = prior[MOST_DRIFT] * 0.5 * (1.0 + math.erf(t[at[AT_DRIFT]] / math.sqrt(2.0)))
    middle = at[AT_MIDDLE]
    slope = at_ceiling
    curve[1, middle] = grid[0, middle] - slope
    for j in range(middle - 1, -1, -1):
        slope += -drift * grid[1, j] + grid[2, j] * t[at[AT_STEPS] + j]
        curve[1, j] = grid[0, j] - min(max(slope, FLATTEST), STEEPEST)
    slope = at_ceiling
    for j in range(middle, knots - 1):
        slope = (
            prior[FAR_SLOPE]
            + (slope - prior[FAR_SLOPE]) * grid[3, j]
            + grid[4, j] * t[at[AT_STEPS] + j]
        )
        curve[1, j + 1] = grid[0, j + 1] - min(max(slope, FLATTEST), STEEPEST)
    curve[0, 0] = 0.0
    for j in range(knots - 1):
        rise = curve[1, j + 1] - curve[1, j]
        if abs(rise) < 1e-6:
            rise = 1e-6
        k = rise / grid[1, j]
        curve[1, j] = k * math.exp(-curve[1, j])
        curve[2, j] = 1.0 / k
        curve[0, j + 1] = curve[0, j] + math.expm1(rise) / curve[1, j]
    shift = curve[0, middle]
    for j in range(knots):
        curve[0, j] -= shift


@part()
def knot_below(x, j, curve):
    """The last knot but one at or below the place ``x``, looked for from ``j`` upwards."""
    while j < curve.shape[1] - 2 and x >= curve[0, j + 1]:
        j += 1
    return j


@part()
def loss_exponent(x, j, grid, curve):
    """−ln f at the place ``x``, which lies beyond knot ``j``."""
    grown = curve[1, j] * (x - curve[0, j])
    if grown <= -1.0 + 1e-12:
        further = 50.0 if curve[2, j] < 0.0 else math.log(1e-12) * curve[2, j]
    else:
        further = math.log1p(grown) * curve[2, j]
    return math.exp(min(grid[0, j] + further, HIGHEST_LOG))


@part()
def place_of(log_h, grid, curve):
    """The place of a curve at which −ln f is exp(``log_h``)."""
    j = 0
    while j < curve.shape[1] - 2 and log_h >= grid[0, j + 1]:
        j += 1
    return curve[0, j] + math.expm1((log_h - grid[0, j]) / curve[2, j]) / curve[1, j]


@part()
def widths(t, blocks, at, prior, r):
    """Width of the knee at each temperature: flow goes in as its power."""
    alike = 1.0 - (prior[ALIKE] + prior[SD_ALIKE] * t[at[AT_ALIKE]])
    middle = 0.0
    for b in range(blocks):
        middle += t[b]
    middle /= blocks
    for b in range(blocks):
        r[b] = math.exp(alike * (t[b] - middle) + prior[SD_WIDTH] * t[at[AT_WIDTHS] + b])


@part()
def part_of_block(log_ceiling, width, variance, grid, curve, cell, unshared, begin, end, sums):
    """Take what one temperature lacks off ``sums[4]``, its delivery integrated out.

    The three nodes stand side by side: each sum waits for its last term, and meanwhile the others
    go on.
    """
    u0, u1, u2 = unshared[0], unshared[1], unshared[2]
    n0, n1, n2 = 0.0, 0.0, 0.0
    z0, z1, z2 = 0.0, 0.0, 0.0
    s0, s1, s2 = 0.0, 0.0, 0.0
    p0, p1, p2 = 1.0, 1.0, 1.0
    j = 0  # flows of a block rise
    for c in range(begin, end):
        x = (cell[0, c] - log_ceiling) * width
        j = knot_below(x, j, curve)
        h = loss_exponent(x, j, grid, curve)
        own, z, h2 = variance / cell[2, c], cell[1, c] + h, h * h * cell[3, c]
        spread0, spread1, spread2 = own + u0 * h2, own + u1 * h2, own + u2 * h2
        i0, i1, i2 = 1.0 / spread0, 1.0 / spread1, 1.0 / spread2
        n0, n1, n2 = n0 + i0, n1 + i1, n2 + i2
        i0, i1, i2 = z * i0, z * i1, z * i2
        z0, z1, z2 = z0 + i0, z1 + i1, z2 + i2
        s0, s1, s2 = s0 + z * i0, s1 + z * i1, s2 + z * i2
        p0, p1, p2 = p0 * (1e4 * spread0), p1 * (1e4 * spread1), p2 * (1e4 * spread2)
        if not 1e-100 < p0 < 1e100:
            sums[4, 0] -= 0.5 * math.log(p0)
            sums[4, 1] -= 0.5 * math.log(p1)
            sums[4, 2] -= 0.5 * math.log(p2)
            p0, p1, p2 = 1.0, 1.0, 1.0
    sums[4, 0] -= 0.5 * (s0 - z0 * z0 / n0 + math.log(p0 * n0))
    sums[4, 1] -= 0.5 * (s1 - z1 * z1 / n1 + math.log(p1 * n1))
    sums[4, 2] -= 0.5 * (s2 - z2 * z2 / n2 + math.log(p2 * n2))


@part()
def one_density(  # noqa: PLR0912 - one pass, no arrays of its own
    t, blocks, at, grid, prior, first, cell, shared, limit, noise, unshared, curve, r, sums, factor,
    work,
):  # fmt: skip
    """Log posterior of one row, up to a constant; leaves its curve in ``curve`` and ``r``.

    The part of a loss that no shared curve holds is summed out on its nodes: left to the walk, it
    would be a funnel, narrow where the part is small.
    """
    for b in range(blocks):
        if not (limit[0, b] < t[b] < limit[1, b]):
            return -np.inf
    lay_knots(t, blocks, at, grid, prior, curve)
    widths(t, blocks, at, prior, r)
    nodes = unshared.shape[1]
    log_sd = noise[LOG_SD] + noise[SD_LOG_SD] * t[at[AT_SCATTER]]
    variance = math.exp(2.0 * log_sd)
    total = -noise[SPARE] * log_sd - 0.5 * noise[WITHIN] / variance
    log_walk = prior[WALK] + prior[SD_WALK] * t[at[AT_WALK]]
    per_walk = math.exp(-2.0 * log_walk) / prior[FREEDOM]
    total -= (grid.shape[1] - 1) * log_walk
    squares, tails = 0.0, 1.0
    for j in range(blocks, at[AT_STEPS]):
        squares += t[j] * t[j]
    for j in range(at[AT_STEPS], at[AT_ALIKE]):
        tails *= 1.0 + t[j] * t[j] * per_walk  # one logarithm of all
        if tails > 1e100:
            total -= 0.5 * (prior[FREEDOM] + 1.0) * math.log(tails)
            tails = 1.0
    for j in range(at[AT_ALIKE], at[AT_SCATTER]):
        squares += t[j] * t[j]
    total -= 0.5 * (squares + (prior[FREEDOM] + 1.0) * math.log(tails))
    for k in range(nodes):
        sums[4, k] = unshared[1, k]
    for b in range(blocks):
        if shared.shape[1]:  # errors that belong together
            j = 0
            for c in range(first[b], first[b + 1]):
                x = (cell[0, c] - t[b]) * r[b]
                j = knot_below(x, j, curve)
                work[6, c] = loss_exponent(x, j, grid, curve)
                work[7, c] = cell[1, c] + work[6, c]
            joint_misfits(
                variance, shared, unshared[0], work[7], work[6], cell[0], prior[ALIKE_FLOWS],
                first[b], first[b + 1], factor, work, sums[0],
            )  # fmt: skip
            for k in range(nodes):
                sums[4, k] -= 0.5 * sums[0, k]
            continue
        part_of_block(
            t[b], r[b], variance, grid, curve, cell, unshared[0], first[b], first[b + 1], sums
        )
    best = sums[4, 0]
    for k in range(1, nodes):
        best = max(best, sums[4, k])
    if best == -np.inf:
        return -np.inf
    likelihood = 0.0
    for k in range(nodes):
        likelihood += math.exp(sums[4, k] - best)
    total += best + math.log(likelihood)
    return total if math.isfinite(total) else -np.inf


@part()
def read_ceilings(t, blocks, grid, curve, r, limit, stated, out):
    """Flow at which a coupon weighs the stated loss less than one of the lowest flow."""
    for b in range(blocks):
        x = (limit[2, b] - t[b]) * r[b]
        lowest = loss_exponent(x, knot_below(x, 0, curve), grid, curve)
        place = place_of(math.log(stated + min(lowest, 0.2)), grid, curve)
        out[b] = math.exp(t[b] + place / r[b])


@kernel()
def densities(rows, at, grid, prior, first, cell, shared, limit, noise, unshared, out):
    """Log posterior of many rows."""
    blocks, nodes = first.size - 1, unshared.shape[1]
    curve, r = np.empty((3, grid.shape[1])), np.empty(blocks)
    sums = np.empty((5, nodes))
    factor, work = np.empty((shared.shape[1], shared.shape[1], nodes)), np.empty((8, cell.shape[1]))
    for i in range(rows.shape[0]):
        out[i] = one_density(
            rows[i], blocks, at, grid, prior, first, cell, shared, limit, noise, unshared, curve, r,
            sums, factor, work,
        )  # fmt: skip


@kernel()
def residuals(rows, at, grid, prior, first, cell, shared, noise, out):
    """Standardised misfits of the flows, then the unknowns with a normal prior, row by row."""
    blocks, cells = first.size - 1, cell.shape[1]
    curve, r = np.empty((3, grid.shape[1])), np.empty(blocks)
    inverse = np.empty(cells)
    factor, work = np.empty((shared.shape[1], shared.shape[1])), np.empty((3, cells))
    one = np.ones(cells)
    for i in range(rows.shape[0]):
        t = rows[i]
        lay_knots(t, blocks, at, grid, prior, curve)
        widths(t, blocks, at, prior, r)
        variance = math.exp(2.0 * (noise[LOG_SD] + noise[SD_LOG_SD] * t[at[AT_SCATTER]]))
        unshared = math.exp(2.0 * prior[UNSHARED])
        for b in range(blocks):
            s0, s1 = 0.0, 0.0
            for c in range(first[b], first[b + 1]):
                x = (cell[0, c] - t[b]) * r[b]
                h = loss_exponent(x, knot_below(x, 0, curve), grid, curve)
                inverse[c] = 1.0 / (variance / cell[2, c] + unshared * h * h * cell[3, c])
                out[i, c] = cell[1, c] + h
                work[2, c] = h
                s0 += inverse[c]
                s1 += inverse[c] * out[i, c]
            if shared.shape[1]:
                lower_root(variance, shared, unshared, work[2], cell[0], prior[ALIKE_FLOWS],
                           first[b], first[b + 1], factor)  # fmt: skip
                whitened(factor, one, first[b], first[b + 1], work[0])
                whitened(factor, out[i], first[b], first[b + 1], work[1])
                s0, s1 = 0.0, 0.0
                for c in range(first[b], first[b + 1]):
                    s0 += work[0, c] * work[0, c]
                    s1 += work[0, c] * work[1, c]
                for c in range(first[b], first[b + 1]):
                    out[i, c] = work[1, c] - work[0, c] * s1 / s0
                continue
            for c in range(first[b], first[b + 1]):
                out[i, c] = (out[i, c] - s1 / s0) * math.sqrt(inverse[c])
        for j in range(blocks, rows.shape[1]):
            out[i, cells + j - blocks] = t[j]
            if at[AT_STEPS] <= j < at[AT_ALIKE]:
                out[i, cells + j - blocks] *= math.exp(-prior[WALK])


@kernel()
def walk(
    rows, white, density, ceiling, steps, normal, partner, jump, chance, centre, root,
    at, grid, prior, first, cell, shared, limit, noise, unshared, stated, out,
):  # fmt: skip
    """Let every row take ``jump.shape[0]`` Metropolis steps in place; returns how many were taken.

    ``white`` holds the rows as ``root``⁻¹·(row − ``centre``). A step of kind 0 is towards a point
    drawn from the normal of ``centre`` and ``root`` (its lower Cholesky factor), of kind 1 along
    the difference of two other rows. Ceilings after each step go to ``out``.
    """
    blocks = first.size - 1
    curve, r = np.empty((3, grid.shape[1])), np.empty(blocks)
    size, nodes = rows.shape[1], unshared.shape[1]
    sums = np.empty((5, nodes))
    factor, work = np.empty((shared.shape[1], shared.shape[1], nodes)), np.empty((8, cell.shape[1]))
    new, z = np.empty(size), np.empty(size)
    taken = 0
    for s in range(jump.shape[0]):
        for i in range(rows.shape[0]):
            length = jump[s, i]
            correction = 0.0
            if steps[s] == 0:
                stay = math.sqrt(1.0 - length * length)
                for j in range(size):
                    z[j] = stay * white[i, j] + length * normal[s, i, j]
                    correction += 0.5 * (z[j] * z[j] - white[i, j] * white[i, j])
            else:
                one, other = partner[s, 0, i], partner[s, 1, i]
                for j in range(size):
                    z[j] = white[i, j] + length * (white[one, j] - white[other, j])
                    z[j] += 1e-3 * normal[s, i, j]
            for j in range(size):
                total = centre[j]
                for k in range(j + 1):
                    total += root[j, k] * z[k]
                new[j] = total
            found = one_density(
                new, blocks, at, grid, prior, first, cell, shared, limit, noise, unshared, curve, r,
                sums, factor, work,
            )  # fmt: skip
            if chance[s, i] < found - density[i] + correction:
                density[i] = found
                for j in range(size):  # of rows at once it would compile words for other lengths
                    rows[i, j], white[i, j] = new[j], z[j]
                read_ceilings(new, blocks, grid, curve, r, limit, stated, ceiling[i])
                taken += 1
            for j in range(ceiling.shape[1]):
                out[s, i, j] = ceiling[i, j]
    return taken


@kernel()
def ceilings(rows, at, grid, prior, first, limit, stated, out):
    """The ceilings of many rows, mm³/s."""
    blocks = first.size - 1
    curve, r = np.empty((3, grid.shape[1])), np.empty(blocks)
    for i in range(rows.shape[0]):
        lay_knots(rows[i], blocks, at, grid, prior, curve)
        widths(rows[i], blocks, at, prior, r)
        read_ceilings(rows[i], blocks, grid, curve, r, limit, stated, out[i])


@kernel()
def loss_exponents(rows, at, grid, prior, first, block, log_flow, out):
    """−ln f of many rows at some flows of one temperature."""
    blocks = first.size - 1
    curve, r = np.empty((3, grid.shape[1])), np.empty(blocks)
    for i in range(rows.shape[0]):
        lay_knots(rows[i], blocks, at, grid, prior, curve)
        widths(rows[i], blocks, at, prior, r)
        j, before = 0, -np.inf
        for q in range(log_flow.size):
            x = (log_flow[q] - rows[i, block]) * r[block]
            j = knot_below(x, j if x >= before else 0, curve)
            out[i, q] = loss_exponent(x, j, grid, curve)
            before = x
