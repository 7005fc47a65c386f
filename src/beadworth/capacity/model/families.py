"""Shapes of loss over flow, every one written by the ceiling itself.

A shape gives ln f, f = delivered ÷ commanded relative to low flow, at a flow Q,
for a ceiling C at the stated loss ℓ (f(C) = 1 − ℓ by construction):

broken powers
    f = (1 + (Q/K)^p)^(−s/p). s = 1 is the power mean of commanded and saturated
    flow (*soft knee*); s > 1 lets the delivered flow fall beyond the knee (a drive
    losing grip), s < 1 lets it grow on (*broken power*). p = ∞ is a sharp break
    (*sharp power*), and with s = 1 the *hard limit* min(1, K/Q).
powers of excess
    loss = ℓ·((Q − Q₀)/e)^m above a threshold Q₀ = C − e, zero below it. The width e
    stays the same in mm³/s at every temperature, or in proportion to the ceiling.

With the ceiling as a parameter its posterior is one column of a table, and no
shape has to be solved for it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

LARGEST_LOSS = 0.9
"""Above this loss a power of excess goes on along its tangent in ln f: never a loss over 1, and
never flat again (a plateau of constant loss would look like no loss at all)."""

Kind = Literal["broken", "excess", "excess, same width"]


@dataclass(frozen=True)
class ShapeFamily:
    """One family of shapes: free parameters by name, each on a logarithmic axis.

    The prior is even on that axis between the bounds, and ``prior`` is the
    family's share before any reading.
    """

    name: str
    kind: Kind
    free: tuple[str, ...]
    low: tuple[float, ...]
    high: tuple[float, ...]
    fixed: dict[str, float]
    prior: float

    def box(self) -> Array:
        """Bounds as logarithms, array (parameters, 2)."""
        return np.log(np.array([self.low, self.high], dtype=np.float64)).T.reshape(-1, 2)

    def parameters(self, x: Array) -> dict[str, Array]:
        """Every parameter as a column from points on the logarithmic axes, array (n, free)."""
        columns = {name: np.exp(x[:, i]) for i, name in enumerate(self.free)}
        for name, value in self.fixed.items():
            columns[name] = np.full(x.shape[0], value)
        return columns


SHARPNESS = (2.5, 120.0)
FALL = (0.3, 6.0)
EXPONENT = (0.7, 4.0)
SLOPE = (0.05, 3.0)
"""d(loss)/d(ln flow) at the ceiling: a hard limit has 1 − ℓ."""

FAMILIES = (
    ShapeFamily("hard limit", "broken", (), (), (), {"sharpness": math.inf, "fall": 1.0}, 0.2),
    ShapeFamily(
        "soft knee", "broken", ("sharpness",), SHARPNESS[:1], SHARPNESS[1:], {"fall": 1.0}, 0.25
    ),
    ShapeFamily(
        "sharp power", "broken", ("fall",), FALL[:1], FALL[1:], {"sharpness": math.inf}, 0.1
    ),
    ShapeFamily(
        "broken power",
        "broken",
        ("sharpness", "fall"),
        (SHARPNESS[0], FALL[0]),
        (SHARPNESS[1], FALL[1]),
        {},
        0.15,
    ),
    ShapeFamily(
        "power of excess",
        "excess",
        ("exponent", "slope"),
        (EXPONENT[0], SLOPE[0]),
        (EXPONENT[1], SLOPE[1]),
        {},
        0.15,
    ),
    ShapeFamily(
        "power of excess, same width",
        "excess, same width",
        ("exponent", "slope"),
        (EXPONENT[0], SLOPE[0]),
        (EXPONENT[1], SLOPE[1]),
        {},
        0.15,
    ),
)


def log_delivery(
    kind: Kind,
    parameters: dict[str, Array],
    flow: Array,
    ceiling: Array,
    loss: float,
    reference_flow: float,
) -> Array:
    """Logarithm of f for every shape, ceiling and flow.

    Parameters
    ----------
    kind : Kind
    parameters : dict of array (n,)
        Columns as :meth:`ShapeFamily.parameters` gives them.
    flow : array (k,), mm³/s, > 0
    ceiling : array (n, c), mm³/s, > 0
        Ceilings at ``loss``, a row per shape.
    loss : float
        The stated loss ℓ of the ceiling, 0 < ℓ < 1.
    reference_flow : float, mm³/s
        Ceiling at which a shape of fixed width has its stated slope.

    Returns
    -------
    array (n, c, k)
        ln f, at most 0.
    """
    if kind == "broken":
        p, fall = parameters["sharpness"], parameters["fall"]
        if np.isinf(p).all():
            return _sharp(fall, flow, ceiling, loss)
        return _smooth(p, fall, flow, ceiling, loss)
    slope = parameters["slope"][:, None]
    if kind == "excess, same width":
        slope = slope * ceiling / reference_flow
    return _excess(parameters["exponent"], slope, flow, ceiling, loss)


def _sharp(fall: Array, flow: Array, ceiling: Array, loss: float) -> Array:
    """min(1, (Q/K)^−s) with K = C·(1 − ℓ)^(1/s), as a logarithm."""
    log_knee = np.log(ceiling) + (math.log1p(-loss) / fall)[:, None]
    beyond = np.log(flow) - log_knee[..., None]
    return np.asarray(-fall[:, None, None] * np.maximum(beyond, 0.0))


def _smooth(p: Array, fall: Array, flow: Array, ceiling: Array, loss: float) -> Array:
    """(1 + (Q/C)^p·((1 − ℓ)^(−p/s) − 1))^(−s/p), as a logarithm."""
    at_ceiling = np.log(np.expm1(-math.log1p(-loss) * p / fall))
    x = p[:, None, None] * (np.log(flow) - np.log(ceiling)[..., None])
    x += at_ceiling[:, None, None]
    # ln(1 + exp x); beyond 40 the 1 is lost in rounding
    grown = np.where(x > 40.0, x, np.log1p(np.exp(np.minimum(x, 40.0))))
    return np.asarray(-(fall / p)[:, None, None] * grown)


def _excess(m: Array, slope: Array, flow: Array, ceiling: Array, loss: float) -> Array:
    """ln(1 − ℓ·((Q − Q₀)/e)^m), Q₀ = C − e, e = m·ℓ·C/slope, Q₀ kept at 0 or above."""
    width = np.minimum(m[:, None] * loss * ceiling / slope, ceiling)
    over = 1.0 + (flow - ceiling[..., None]) / width[..., None]
    lost = loss * np.maximum(over, 0.0) ** m[:, None, None]
    kept = np.log1p(-np.minimum(lost, LARGEST_LOSS))
    kept -= np.maximum(lost - LARGEST_LOSS, 0.0) / (1.0 - LARGEST_LOSS)
    return np.asarray(kept)
