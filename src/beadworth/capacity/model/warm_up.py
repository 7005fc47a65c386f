"""Compile the kernels of a fit, once per install."""

from __future__ import annotations

import numpy as np

from beadworth.capacity.model.block import Block
from beadworth.capacity.model.posterior import integrate
from beadworth.capacity.model.sampling import QUICK


def compile_kernels() -> None:
    """Fit one made-up temperature: exactly what a fit calls is compiled, or read from the cache."""
    flow = np.array([8.0, 10.0, 12.0, 14.0])
    mean = np.array([0.0, 0.0, -0.01, -0.1])
    posterior = integrate((Block(200.0, flow, mean, np.ones(4), 0.0, 4),), 0.02, effort=QUICK)
    posterior.loss_exponent(0, flow)  # the curves are read by a kernel of their own
