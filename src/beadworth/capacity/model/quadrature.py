"""The integral over ceilings, shapes, families and scatter: every node of the grids weighed."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import partial

import numpy as np
from numpy.typing import NDArray

from beadworth.capacity.model.families import FAMILIES, ShapeFamily, log_delivery
from beadworth.capacity.model.posterior import Block, Cloud, Posterior
from beadworth.capacity.model.shape_grid import Laid, first_grid, narrow

Array = NDArray[np.float64]

SD_PRIOR = 0.005
SD_PRIOR_DOF = 2.0
"""Weak prior of a coupon's relative standard deviation: 0.5 %, worth two readings."""

_COARSE = 36
_MIDDLE = 14
_FINE = 29
_REACH = 14.0
"""Log-likelihood drop up to which nodes are laid."""
_SIGMAS = 13
_FORGET = 14.0
"""A family this far below the best in log evidence is dropped before its final grid."""


def integrate(
    blocks: tuple[Block, ...], loss: float, families: tuple[ShapeFamily, ...] = FAMILIES
) -> Posterior:
    """Lay the grids and weigh every node.

    Parameters
    ----------
    blocks : tuple of Block
        One per temperature; together more readings than blocks.
    loss : float
        Loss at which ceilings are parametrised.
    """
    reference = float(np.mean([np.median(block.flow) for block in blocks]))
    grid = _Grid(blocks, loss, reference)
    first = {family.name: first_grid(family) for family in families}
    least = {name: grid.rough(f, x) for (name, x), f in zip(first.items(), families, strict=True)}
    grid.set_sigma(min(float(v.min()) for v in least.values()))
    laid = [
        narrow(f, first[f.name], grid.height(least[f.name]), partial(grid.rough_height, f))
        for f in families
    ]
    best = max(item.height for item in laid)
    kept = [item for item in laid if item.height > best - _FORGET]
    return grid.gather([grid.weigh(item) for item in kept])


@dataclass
class _Raw:
    """A family's final grid before the families are put on one scale."""

    laid: Laid
    log_weight: Array
    """(σ, n), prior mass included."""
    ceiling: list[Array]
    relative: list[Array]
    """Per block (σ, n, c): likelihood ÷ its integral over the ceiling × node width."""
    ss: list[Array]
    """Per block (n, c): sum of squares of the nodes."""


class _Grid:
    """The likelihood of one group on nodes."""

    def __init__(self, blocks: tuple[Block, ...], loss: float, reference: float) -> None:
        self.blocks, self.loss, self.reference = blocks, loss, reference
        self.within = sum(block.within for block in blocks)
        self.count = sum(block.count for block in blocks)
        self.coarse = [np.geomspace(*block.span, _COARSE) for block in blocks]

    def set_sigma(self, least: float) -> None:
        """Nodes for σ, wide enough for the χ² it follows given the shape."""
        from scipy.special import chdtri

        self.prior_ss = SD_PRIOR_DOF * SD_PRIOR**2
        dof = max(self.count - 2 * len(self.blocks), 1) + SD_PRIOR_DOF
        total = least + self.within + self.prior_ss
        self.centre2 = total / dof
        low, high = chdtri(dof, np.array([1e-4, 1 - 1e-4]))
        self.sigma = np.geomspace(math.sqrt(total / low), math.sqrt(total / high) * 1.1, _SIGMAS)

    def ss(self, family: ShapeFamily, x: Array, block: int, ceiling: Array) -> Array:
        """Sum of squares between flows with ln D integrated out, (n, c)."""
        b = self.blocks[block]
        away = b.mean - log_delivery(
            family.kind, family.parameters(x), b.flow, ceiling, self.loss, self.reference
        )
        sums = away @ b.weight
        away *= away
        return np.asarray(np.maximum(away @ b.weight - sums * sums / b.weight.sum(), 0.0))

    def rough(self, family: ShapeFamily, x: Array) -> Array:
        """Least sum of squares of each shape over the ceilings of all blocks, (n,)."""
        total = np.zeros(len(x))
        for i in range(len(self.blocks)):
            nodes = np.broadcast_to(self.coarse[i], (len(x), _COARSE))
            ss = self.ss(family, x, i, nodes)
            at = ss.argmin(axis=1)
            fine = _between(nodes, np.maximum(at - 1, 0), np.minimum(at + 1, _COARSE - 1), _MIDDLE)
            ss = self.ss(family, x, i, fine)
            at = ss.argmin(axis=1)
            finer = _between(fine, np.maximum(at - 1, 0), np.minimum(at + 1, _MIDDLE - 1), 5)
            total += self.ss(family, x, i, finer).min(axis=1)
        return total

    def height(self, least: Array) -> Array:
        """Log of the profile likelihood with σ integrated out."""
        dof = self.count - len(self.blocks) + SD_PRIOR_DOF
        return -dof / 2.0 * np.log(least + self.within + self.prior_ss)

    def rough_height(self, family: ShapeFamily, x: Array) -> Array:
        """The same of each shape, the ceilings of all blocks about at their best."""
        return self.height(self.rough(family, x))

    def region(self, family: ShapeFamily, x: Array, block: int) -> Array:
        """Nodes over the ceilings each shape allows, (n, _FINE)."""
        reach = 2.0 * self.centre2 * _REACH
        nodes = np.broadcast_to(self.coarse[block], (len(x), _COARSE))
        for count in (_MIDDLE, _MIDDLE, _FINE):
            ss = self.ss(family, x, block, nodes)
            near = ss <= ss.min(axis=1, keepdims=True) + reach
            last = nodes.shape[1] - 1
            first = np.maximum(near.argmax(axis=1) - 1, 0)
            final = np.minimum(last - near[:, ::-1].argmax(axis=1) + 1, last)
            nodes = _between(nodes, first, final, count)
        return nodes

    def weigh(self, laid: Laid) -> _Raw:
        """The likelihood on a family's final grid."""
        family, x = laid.family, laid.x
        two = 2.0 * self.sigma**2
        dof = self.count - len(self.blocks) + SD_PRIOR_DOF
        log_weight = np.broadcast_to(
            (-dof * np.log(self.sigma) - (self.within + self.prior_ss) / two)[:, None],
            (len(two), len(x)),
        ) + math.log(family.prior * laid.mass)
        ceilings, relative, squares = [], [], []
        for i in range(len(self.blocks)):
            nodes = self.region(family, x, i)
            ss = self.ss(family, x, i, nodes)
            least = ss.min(axis=1)
            step = np.gradient(nodes, axis=1)
            step[:, [0, -1]] /= 2.0
            e = np.exp(-(ss - least[:, None]) / two[:, None, None]) * step
            total = e.sum(axis=2)
            log_weight += np.log(total) - least / two[:, None]
            e /= total[:, :, None]
            ceilings.append(nodes)
            relative.append(e)
            squares.append(ss)
        return _Raw(laid, log_weight, ceilings, relative, squares)

    def profiles(self, squares: list[Array]) -> tuple[tuple[Array, ...], tuple[float, ...]]:
        """Log profile likelihood of every node, and of no knee, block by block."""
        best = [ss.min(axis=1) for ss in squares]
        nodes, none = [], []
        for i, (block, ss) in enumerate(zip(self.blocks, squares, strict=True)):
            others = sum((b for j, b in enumerate(best) if j != i), np.zeros(len(ss)))
            flat = block.mean - (block.mean @ block.weight) / block.weight.sum()
            nodes.append(self.log_likelihood(ss + others[:, None]))
            none.append(self.log_likelihood(flat * flat @ block.weight + others).max())
        return tuple(nodes), tuple(float(v) for v in none)

    def log_likelihood(self, ss: Array) -> Array:
        """Student-t form: σ at its best, with the degrees of freedom that are left for it."""
        dof = max(self.count - 2 * len(self.blocks) - 1, 1) + SD_PRIOR_DOF
        return np.asarray(-dof / 2.0 * np.log(ss + self.within + self.prior_ss))

    def gather(self, raws: list[_Raw]) -> Posterior:
        """Put the families on one scale."""
        peak = max(float(raw.log_weight.max()) for raw in raws)
        weights = [np.exp(raw.log_weight - peak) for raw in raws]
        total = sum(float(w.sum()) for w in weights)
        clouds = []
        for raw, weight in zip(raws, weights, strict=True):
            w = weight / total
            clouds.append(
                Cloud(
                    raw.laid.family,
                    raw.laid.x,
                    w.sum(axis=0),
                    tuple(raw.ceiling),
                    tuple(np.einsum("sn,snc->nc", w, e) for e in raw.relative),
                    *self.profiles(raw.ss),
                )
            )
        sigma_weight = sum((w.sum(axis=1) for w in weights), np.zeros(_SIGMAS)) / total
        return Posterior(
            self.blocks,
            self.loss,
            self.reference,
            tuple(clouds),
            self.sigma,
            sigma_weight,
            *_least(raws),
        )


def _least(raws: list[_Raw]) -> tuple[float, int]:
    """Smallest sum of squares on the final grids, and how many parameters it spent."""
    best = [float(sum(ss.min(axis=1) for ss in raw.ss).min()) for raw in raws]
    lead = int(np.argmin(best))
    return best[lead], len(raws[lead].laid.family.free) + len(raws[lead].ss)


def _between(nodes: Array, first: NDArray[np.intp], last: NDArray[np.intp], count: int) -> Array:
    """Even nodes from each row's ``first`` to its ``last``."""
    rows = np.arange(len(nodes))
    low, high = nodes[rows, first], nodes[rows, last]
    return low[:, None] + (high - low)[:, None] * np.linspace(0.0, 1.0, count)
