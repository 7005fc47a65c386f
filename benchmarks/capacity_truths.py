"""Truths that simulated trials are drawn from, and the drawing itself.

Each truth is written by its ceiling at 2 % loss, so that what the fit says can be held
against it. Nothing here imports the curve that is fitted: a mistake shared by both
would not show.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial

import numpy as np
from numpy.typing import NDArray

from beadworth.trial import Reading

Array = NDArray[np.float64]
Truth = Callable[[Array, float], Array]
"""Delivered ÷ commanded at some flows, for a ceiling at 2 % loss."""

LOSS = 0.02
SECTION_MM2 = np.pi / 4 * 1.75**2
DENSITY_G_MM3 = 1.24e-3


def hard_limit(flow: Array, ceiling: float) -> Array:
    """Delivered flow stops at K; 2 % is lost at K/0.98."""
    return np.minimum(1.0, (1 - LOSS) * ceiling / flow)


def excess_power(flow: Array, ceiling: float) -> Array:
    """loss = 0.012·(Q − Q0)^1.6; 2 % is lost (0.02/0.012)^(1/1.6) = 1.376 mm³/s above Q0."""
    threshold = ceiling - (LOSS / 0.012) ** (1 / 1.6)
    return 1.0 - np.minimum(0.012 * np.maximum(flow - threshold, 0.0) ** 1.6, 0.95)


def soft_delivery(flow: Array, ceiling: float, sharpness: float) -> Array:
    """Delivered = (1 + (Q/K)^p)^(−1/p); 2 % is lost at K·(0.98^−p − 1)^(1/p)."""
    knee = ceiling / ((1 - LOSS) ** -sharpness - 1) ** (1 / sharpness)
    return np.asarray((1 + (flow / knee) ** sharpness) ** (-1 / sharpness))


def soft_knee(sharpness: float) -> Truth:
    """A soft knee of one sharpness p."""
    return partial(soft_delivery, sharpness=sharpness)


def slipping(flow: Array, ceiling: float) -> Array:
    """A soft knee, then the drive slips: delivered flow falls by 4 % per mm³/s beyond the knee."""
    slip = np.maximum(flow - 1.12 * ceiling, 0.0)
    return soft_knee(14.0)(flow, ceiling) * np.maximum(1.0 - 0.04 * slip, 0.1)


BAR_TRUTHS: dict[str, Truth] = {
    "hard limit": hard_limit,
    "power 1.6 of the excess": excess_power,
    "soft knee, p = 12": soft_knee(12.0),
}
MORE_TRUTHS: dict[str, Truth] = {
    "soft knee, p = 8": soft_knee(8.0),
    "soft knee, p = 20": soft_knee(20.0),
}


def trial(
    truth: Truth,
    ceilings: dict[float, float],
    flows: Sequence[float] | Array,
    replicates: int,
    rng: np.random.Generator,
    *,
    noise: float | Callable[[Array], Array] = 0.006,
    rig: str = "simulated rig",
    material: str = "simulated PLA",
    delivery: float = 0.985,
    filament_mm: float = 600.0,
    odd_share: float = 0.0,
) -> list[Reading]:
    """Weighed coupons of a simulated trial.

    ``noise`` is the relative standard deviation of a coupon, or a function from its true loss
    to it; ``odd_share`` of the coupons lose or gain a further 4 to 12 % (a wrong bag, a piece
    lost).
    """
    rows = []
    fed = filament_mm * SECTION_MM2 * DENSITY_G_MM3
    for temperature, ceiling in ceilings.items():
        flow = np.repeat(np.asarray(flows, dtype=np.float64), replicates)
        kept = truth(flow, ceiling)
        sd = noise(1 - kept) if callable(noise) else np.full(flow.size, noise)
        mass = fed * delivery * kept * (1 + sd * rng.standard_normal(flow.size))
        odd = rng.random(flow.size) < odd_share
        size = rng.uniform(0.04, 0.12, flow.size) * np.where(rng.random(flow.size) < 0.7, -1, 1)
        mass = np.where(odd, mass * (1 + size), mass)
        rows += [
            Reading(rig, material, temperature, float(q), filament_mm, float(max(m, 1e-4)))
            for q, m in zip(flow, mass, strict=True)
        ]
    return rows
