"""The model of a loss curve: any loss that grows with flow.

A coupon at flow Q of temperature block b delivers, per commanded mm,

    ln y = ln D_b − h(r_b·ln(Q/C_b)),        h = −ln f,   loss = 1 − f,

with h(0) the stated loss, so that C_b is the ceiling. What is unknown of the curve is the
logarithm η of its slope dh/du as a function of ξ = ln h, straight between knots at 5 % to 25 times
the ceiling's loss: then h is rising whatever η is, and u = ∫dh/e^η has a closed form. Below
the ceiling η drifts by β per unit of ξ (0: a kink, 1: an exponential onset) and walks at random;
above it η returns to ln 0.9, 'the delivered flow hardly grows any more'. Steps of the walk have
heavy tails, so that a stall or a sudden knee costs little.

All numbers of the prior stand in :data:`PRIOR`. They were set on simulated trials
(``benchmarks/random_curves.py``); other seeds and other curves hold the claims.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from beadworth.capacity.model._kernel import (
    AT_SCATTER,
    FAR_SLOPE,
    LOG_SD,
    SD_LOG_SD,
    SD_UNSHARED,
    SLOPE,
    UNSHARED,
    ceilings,
    densities,
    loss_exponents,
    residuals,
)
from beadworth.capacity.model.block import UNKNOWN_SCATTER, Block, Scatter

Array = NDArray[np.float64]

KNOTS: Array = np.array([0.05, 0.1, 0.2, 0.35, 0.6, 1.0, 1.6, 2.5, 4.0, 6.5, 10.0, 16.0, 25.0])
"""Losses of the knots, in ceilings' losses."""
MIDDLE = 5
USUAL_UNSHARED = 0.03
"""Part of a loss at one flow that no curve shared by the temperatures holds."""
UNSHARED_NODES = 3
"""Both kernels have one sum for each written out (``part_of_block``, ``joint_misfits``)."""
ALIKE_WITHIN = 0.07
"""Distance of flows, in their logarithm, over which that part changes."""
RETURN = 0.5
"""How fast the slope returns above the ceiling, per e-fold of loss."""
# in the order of the places in ``_kernel``
PRIOR: dict[str, float] = {
    "slope": math.log(0.26),  # ln dh/dlnQ at the ceiling, for a loss of 2 %
    "sd_slope": 0.6,
    "walk": math.log(0.3),  # step of η per root of an e-fold of loss
    "sd_walk": 0.5,
    "far_slope": math.log(0.9),
    "freedom": 8.0,  # of the t distribution of a step
    "alike": 0.8,  # widths go with ceilings to this power: 0 same shape in Q, 1 in ln Q
    "sd_alike": 0.2,
    "sd_width": 0.06,  # own part of a temperature's width
    "unshared": math.log(USUAL_UNSHARED),
    "sd_unshared": 0.6,
    "most_drift": 1.35,
    "alike_flows": ALIKE_WITHIN,
}


@dataclass(frozen=True)
class CurveModel:
    """The weighings of one group, laid out for the kernels.

    A row of unknowns is: ln ceilings (a block each), slope at the ceiling, drift, steps of the
    walk, how widths go with ceilings, own widths (a block each), size of the walk, scatter; all but
    the ceilings and the steps standard normal beforehand.
    """

    loss: float
    at: NDArray[np.int64]
    """Where in a row each unknown stands."""
    grid: Array
    """Knots: ln h, spacing, root of it, return and its step."""
    prior: Array
    first: NDArray[np.int64]
    cell: Array
    """Per flow: ln flow, mean of ln(g/mm) less its block's first, weight, crowd."""
    shared: Array
    """Per flow: covariances with the flows of its block, over the variance of a coupon; no columns
    where errors do not belong together."""
    limit: Array
    """Per block: lowest and highest ln ceiling looked for, ln of the lowest flow."""
    noise: Array
    unshared: Array
    """Nodes of the part of a loss that no shared curve holds: its square, log weight."""

    @property
    def blocks(self) -> int:
        """Temperatures."""
        return len(self.first) - 1

    @property
    def size(self) -> int:
        """Unknowns."""
        return int(self.at[AT_SCATTER]) + 1

    @property
    def stated(self) -> float:
        """−ln f at the ceiling."""
        return -math.log1p(-self.loss)

    def densities(self, rows: Array) -> Array:
        """Log posterior of rows of unknowns, up to a constant; −inf outside the limits."""
        out = np.empty(len(rows))
        densities(rows, self.at, self.grid, self.prior, self.first, self.cell, self.shared,
                  self.limit, self.noise, self.unshared, out)  # fmt: skip
        return out

    def residuals(self, rows: Array) -> Array:
        """Standardised misfit of every flow, then every unknown but the ceilings."""
        out = np.empty((len(rows), self.cell.shape[1] + self.size - self.blocks))
        residuals(rows, self.at, self.grid, self.prior, self.first, self.cell, self.shared,
                  self.noise, out)  # fmt: skip
        return out

    def ceilings(self, rows: Array) -> Array:
        """Ceilings against the lowest flow, mm³/s: (rows, blocks)."""
        out = np.empty((len(rows), self.blocks))
        ceilings(rows, self.at, self.grid, self.prior, self.first, self.limit, self.stated, out)
        return out

    def loss_exponents(self, rows: Array, block: int, flow_mm3_s: Array) -> Array:
        """−ln f at some flows of one temperature: (rows, flows)."""
        out = np.empty((len(rows), len(flow_mm3_s)))
        loss_exponents(rows, self.at, self.grid, self.prior, self.first, block,
                       np.log(flow_mm3_s), out)  # fmt: skip
        return out

    @property
    def usual_unshared(self) -> float:
        """Part of a loss at one flow that no shared curve holds: the middle of the prior."""
        return float(np.exp(self.prior[UNSHARED]))

    def unshared_covariance(self, flow_mm3_s: Array) -> Array:
        """Covariance of that part among some flows, over the products of their −ln f."""
        apart = np.abs(np.subtract.outer(np.log(flow_mm3_s), np.log(flow_mm3_s)))
        return np.asarray(self.usual_unshared**2 * np.maximum(0.0, 1.0 - apart / ALIKE_WITHIN))

    def scatter(self, rows: Array) -> Array:
        """Relative standard deviation of a coupon, of each row."""
        return np.asarray(
            np.exp(self.noise[LOG_SD] + self.noise[SD_LOG_SD] * rows[:, self.at[AT_SCATTER]])
        )


def crowds(flow_mm3_s: Array) -> Array:
    """How many flows share what no common curve holds, for each: itself and its near neighbours.

    That part changes little over :data:`ALIKE_WITHIN`, so that many flows close together know it no
    better than one does.
    """
    apart = np.abs(np.subtract.outer(np.log(flow_mm3_s), np.log(flow_mm3_s)))
    return np.asarray(np.maximum(0.0, 1.0 - apart / ALIKE_WITHIN).sum(axis=1))


def curve_model(
    blocks: tuple[Block, ...], loss: float, scatter: Scatter = UNKNOWN_SCATTER
) -> CurveModel:
    """Lay out the blocks of a group for a stated loss."""
    count, knots = len(blocks), len(KNOTS)
    steps = count + 2
    alike = steps + knots - 1
    own = alike + 1
    at = [count, count + 1, steps, alike, own + count, own + count + 1, MIDDLE, own]
    stated = -math.log1p(-loss)
    log_h = np.log(stated * KNOTS)
    grid = np.zeros((5, knots))
    grid[0], grid[1, :-1] = log_h, np.diff(log_h)
    grid[2] = np.sqrt(grid[1])
    grid[3] = np.exp(-RETURN * grid[1])
    grid[4] = np.sqrt((1 - grid[3] ** 2) / (2 * RETURN))
    prior = np.array(list(PRIOR.values()))
    # a curve is flatter where little is lost: between a kink's slope and an exponential's
    prior[SLOPE] = min(prior[SLOPE] + 0.6 * math.log(stated / -math.log1p(-0.02)), prior[FAR_SLOPE])
    lowest = np.array([math.log(b.flow[0]) for b in blocks])
    spans = np.log([b.span for b in blocks])
    within = sum(b.within for b in blocks) + scatter.worth * scatter.sd**2
    spare = sum(b.count - len(b.flow) for b in blocks) + scatter.worth
    node, weight = np.polynomial.hermite_e.hermegauss(UNSHARED_NODES)
    log_sd = 0.5 * math.log(within / spare)
    return CurveModel(
        loss,
        np.array(at, dtype=np.int64),
        grid,
        prior,
        np.cumsum([0, *(len(b.flow) for b in blocks)]).astype(np.int64),
        np.stack(
            [
                np.concatenate([np.log(b.flow) for b in blocks]),
                np.concatenate([b.mean - b.mean[0] for b in blocks]),
                np.concatenate([b.weight for b in blocks]),
                np.concatenate([crowds(b.flow) for b in blocks]),
            ]
        ),
        _shared(blocks),
        np.stack([spans[:, 0], spans[:, 1], lowest]),
        np.array([within, spare, log_sd, 1 / math.sqrt(2 * spare)]),
        np.stack(
            [
                np.exp(2 * (prior[UNSHARED] + prior[SD_UNSHARED] * node)),
                np.log(weight / weight.sum()),
            ]
        ),
    )


def _shared(blocks: tuple[Block, ...]) -> Array:
    """Covariances of the flows of every block, one under the other; no columns where none has."""
    rows = sum(len(b.flow) for b in blocks)
    if all(b.shared is None for b in blocks):
        return np.empty((rows, 0))
    out = np.zeros((rows, max(len(b.flow) for b in blocks)))
    at = 0
    for b in blocks:
        n = len(b.flow)
        out[at : at + n, :n] = np.diag(1.0 / b.weight) if b.shared is None else b.shared
        at += n
    return out
