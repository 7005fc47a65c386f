"""What the readings say of ceilings and shapes together, as weights on nodes.

Model of one rig and material: a coupon's delivered mass per commanded mm is

    y = D_b · f(Q; C_b, shape) · exp(σ·ε),   ε standard normal,

D_b the delivery and C_b the ceiling of temperature block b, one shape for all blocks
of the group. ln D_b enters linearly with a flat prior and is integrated in closed form;
every C_b (flat prior), the shape's parameters (flat on logarithmic axes), the family
(fixed shares) and σ (scaled inverse χ², 2 degrees of freedom at 0.5 %) are integrated
on grids laid where the readings put them. Given shape and σ the blocks are
independent, so the integral is a sum over shapes of products of one-dimensional ones
(:mod:`~beadworth.capacity.model.quadrature`): no optimiser that could fail.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from beadworth.capacity.model.families import ShapeFamily, log_delivery

Array = NDArray[np.float64]

BELOW, ABOVE = 0.4, 1.6
"""Ceilings are looked for from 0.4 × the lowest to 1.6 × the highest flow of a block."""


@dataclass(frozen=True)
class Block:
    """One temperature, reduced to what the likelihood needs: a row per distinct flow."""

    temperature_c: float
    flow: Array
    mean: Array
    """Weighted mean of ln(delivered g/mm)."""
    weight: Array
    """Sum of the readings' weights (a count where all weigh 1)."""
    within: float
    """Weighted sum of squares within flows."""
    count: int

    @property
    def span(self) -> tuple[float, float]:
        """Range in which a ceiling is looked for, mm³/s."""
        return BELOW * float(self.flow[0]), ABOVE * float(self.flow[-1])


@dataclass(frozen=True)
class Cloud:
    """Shapes of one family with their weight, and the ceilings each of them allows."""

    family: ShapeFamily
    x: Array
    """(n, free) points on the logarithmic axes."""
    weight: Array
    """(n,) posterior weight of each shape; sums to the family's share."""
    ceiling: tuple[Array, ...]
    """Per block (n, c) nodes."""
    ceiling_weight: tuple[Array, ...]
    """Per block (n, c) posterior weights; each sums to the family's share."""
    profile: tuple[Array, ...]
    """Per block (n, c): log likelihood of a node with σ and the other blocks at their best."""
    unlimited: tuple[float, ...]
    """Per block: the same were there no knee at all, at the best shape for the others."""


@dataclass(frozen=True)
class Posterior:
    """All families together."""

    blocks: tuple[Block, ...]
    loss: float
    reference_flow: float
    clouds: tuple[Cloud, ...]
    sigma: Array
    sigma_weight: Array
    least_ss: float
    """Smallest sum of squares between flows that any shape on the final grids reached."""
    least_parameters: int
    """Parameters of that shape and its ceilings."""

    def delivery(self, cloud: Cloud, block: int, flow: Array) -> Array:
        """Logarithm of f of a cloud's nodes at some flows, (n, c, k)."""
        return log_delivery(
            cloud.family.kind,
            cloud.family.parameters(cloud.x),
            flow,
            cloud.ceiling[block],
            self.loss,
            self.reference_flow,
        )
