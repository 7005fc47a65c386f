"""Loss curves nobody foresaw: eight classes drawn at random, and trials weighed from them.

Nothing here is taken from the model that is fitted. A curve is a table of −ln(delivered ÷
commanded) over ln(flow ÷ ceiling), written so that 2 % is lost at the ceiling; temperatures of one
trial share it up to a width of their own. Truth is what the definition says it is: the flow at
which a coupon weighs 2 % less than one of the lowest flow of its ladder.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from beadworth.trial import Reading

Array = NDArray[np.float64]

LOSS = 0.02
STATED = -np.log1p(-LOSS)
GRID: Array = np.linspace(-3.0, 2.5, 4401)
"""ln(flow ÷ some flow) of a table."""
SOFTEST = 1.15
"""Twice the stated loss is reached within this multiple of the ceiling. Common practice, no source,
has a standard hot end go from 2 to 5 % within a factor of 1.05 to 1.1; where loss doubles more
slowly still, 2 % is no place that anybody would call a ceiling."""
TEMPERATURES = (205.0, 215.0, 225.0)
G_PER_MM = np.pi / 4 * 1.75**2 * 1.24e-3


def _from_slopes(slope: Array) -> Array:
    """−ln f on the grid from its slope there."""
    step = GRID[1] - GRID[0]
    middle = 0.5 * (slope[1:] + slope[:-1])
    return np.concatenate([[0.0], np.cumsum(middle) * step])


def spline(rng: np.random.Generator) -> Array:
    """Slope an interpolated walk in its logarithm, up to a delivered flow that hardly falls."""
    from scipy.interpolate import PchipInterpolator

    knots = np.arange(-1.4, 1.0, 0.2)
    walk = np.cumsum(rng.normal(0.55, 0.8, knots.size))
    walk += np.log(0.25) - walk[np.searchsorted(knots, 0.0)] + rng.normal(0.0, 0.5)
    inside = PchipInterpolator(knots, np.minimum(walk, np.log(1.1)))(np.clip(GRID, -1.4, knots[-1]))
    return _from_slopes(np.exp(inside + 3.0 * np.minimum(GRID + 1.4, 0.0)))


def kinks(rng: np.random.Generator) -> Array:
    """No loss, then one to four straight pieces, each steeper than the one before."""
    count = int(rng.integers(1, 5))
    at = np.sort(rng.uniform(-0.45, 0.35, count))
    slopes = np.sort(np.exp(rng.uniform(np.log(0.03), np.log(1.1), count)))
    slopes[-1] = max(slopes[-1], 0.25)
    added = np.diff(np.concatenate([[0.0], slopes]))
    return sum((s * np.maximum(GRID - a, 0.0) for s, a in zip(added, at, strict=True)), 0.0 * GRID)


def smooth_onset(rng: np.random.Generator) -> Array:
    """A smooth bend into 'delivered flow constant', from sharp to very soft."""
    p = np.exp(rng.uniform(np.log(6.0), np.log(40.0)))
    return np.logaddexp(0.0, p * GRID) / p


def power_of_excess(rng: np.random.Generator) -> Array:
    """Loss grows as a power of the flow beyond a threshold."""
    m = rng.uniform(1.0, 2.6)
    reach = rng.uniform(0.25, 0.6)
    loss = 0.15 * (np.maximum(np.exp(GRID) - 1.0, 0.0) / reach) ** m
    return -np.log1p(-np.minimum(loss, 0.9))


def exponential_onset(rng: np.random.Generator) -> Array:
    """Loss grows by e every few per cent of flow, until the delivered flow stands still."""
    every = rng.uniform(0.06, 0.2)
    growth = np.exp(np.minimum(GRID / every, 20.0)) * 0.02
    return _from_slopes(np.minimum(growth / every, rng.uniform(0.7, 1.1)))


def stalled(rng: np.random.Generator) -> Array:
    """A small early loss that stalls (slack taken up by the drive), then the knee."""
    size = rng.uniform(0.004, 0.016)
    start, length = rng.uniform(-0.9, -0.45), rng.uniform(0.05, 0.25)
    early = size * -np.expm1(-np.maximum(GRID - start, 0.0) / length)
    knee = smooth_onset(rng) if rng.random() < 0.5 else rng.uniform(0.4, 1.0) * np.maximum(GRID, 0)
    return early + knee


def grip_lost(rng: np.random.Generator) -> Array:
    """A knee, then a drive that slips: the delivered flow falls."""
    knee = smooth_onset(rng) if rng.random() < 0.5 else power_of_excess(rng)
    ceiling = float(np.interp(STATED, knee, GRID))
    beyond = np.maximum(GRID - ceiling - rng.uniform(0.04, 0.16), 0.0)
    return knee + rng.uniform(0.4, 2.0) * beyond


def mixture(rng: np.random.Generator) -> Array:
    """Half of one curve and half of another: two bores, or a melt of two kinds."""
    one, other = (CLASSES[k](rng) for k in rng.choice(list(CLASSES)[:5], 2, replace=False))
    share, shift = rng.uniform(0.25, 0.75), rng.uniform(-0.15, 0.15)
    aligned = [np.interp(GRID + np.interp(STATED, h, GRID), GRID, h) for h in (one, other)]
    moved = np.interp(GRID + shift, GRID, aligned[1])
    return -np.log(share * np.exp(-aligned[0]) + (1 - share) * np.exp(-moved))


CLASSES: dict[str, Callable[[np.random.Generator], Array]] = {
    "monotone spline": spline,
    "one to four kinks": kinks,
    "smooth onset": smooth_onset,
    "power of excess": power_of_excess,
    "exponential onset": exponential_onset,
    "stalled early loss": stalled,
    "grip lost": grip_lost,
    "mixture": mixture,
}


@dataclass(frozen=True)
class Curve:
    """One trial's truth: −ln f over ln(flow ÷ ceiling), and the temperatures' widths."""

    table: Array
    """On :data:`GRID`, the stated loss at 0."""
    ceiling: dict[float, float]
    width: dict[float, float]

    def log_delivered(self, temperature_c: float, flow: Array) -> Array:
        """ln(delivered ÷ commanded)."""
        x = np.log(np.asarray(flow) / self.ceiling[temperature_c]) * self.width[temperature_c]
        return np.asarray(-np.interp(x, GRID, self.table))

    def truth(self, temperature_c: float, lowest: float, loss: float = LOSS) -> float:
        """The ceiling against the lowest flow weighed."""
        base = float(-self.log_delivered(temperature_c, np.array([lowest]))[0])
        x = float(np.interp(base - np.log1p(-loss), self.table, GRID))
        return float(self.ceiling[temperature_c] * np.exp(x / self.width[temperature_c]))


def curve(kind: str, ceiling: dict[float, float], rng: np.random.Generator) -> Curve:
    """Draw a curve of a class and lay its stated loss at the ceilings."""
    while True:
        rising = np.maximum.accumulate(CLASSES[kind](rng)) + 1e-12 * np.arange(GRID.size)
        flow = np.interp([STATED, 2 * STATED], rising, GRID)
        if rising[0] < STATED and flow[1] - flow[0] < np.log(SOFTEST):
            break
    table = np.interp(GRID + float(np.interp(STATED, rising, GRID)), GRID, rising)
    widths = {t: float(np.exp(rng.normal(0.0, 0.06))) for t in ceiling}
    return Curve(table, ceiling, widths)


def usual_ceilings(rng: np.random.Generator) -> dict[float, float]:
    """Three ceilings from 11 to 15.8 mm³/s, rising with temperature."""
    shift = rng.uniform(-1.0, 1.0)
    return dict(zip(TEMPERATURES, (12.0 + shift, 13.5 + shift, 14.8 + shift), strict=True))


def weigh(
    of: Curve,
    flows: Array,
    replicates: int,
    rng: np.random.Generator,
    *,
    noise: float | Callable[[Array], Array] = 0.006,
    temperatures: tuple[float, ...] | None = None,
    filament_mm: float = 600.0,
    delivery: float = 0.985,
) -> list[Reading]:
    """Coupons of a simulated trial.

    ``noise`` is the relative scatter of a coupon, or a function from its true loss to it.
    """
    rows = []
    for t in temperatures or tuple(of.ceiling):
        flow = np.repeat(np.asarray(flows, dtype=np.float64), replicates)
        kept = np.exp(of.log_delivered(t, flow))
        sd = noise(1 - kept) if callable(noise) else noise
        mass = filament_mm * G_PER_MM * delivery * kept
        mass = mass * (1 + sd * rng.standard_normal(flow.size))
        rows += [
            Reading("simulated rig", "simulated PLA", t, float(q), filament_mm, float(max(m, 1e-4)))
            for q, m in zip(flow, mass, strict=True)
        ]
    return rows


def with_truth(of: Curve, truth: dict[float, float], lowest: float) -> Curve:
    """The same shape with its ceilings against the lowest flow where they are wanted."""
    for _ in range(40):
        moved = {t: c * truth[t] / of.truth(t, lowest) for t, c in of.ceiling.items()}
        of = replace(of, ceiling=moved)
    return of


def weigh_pair(
    rng: np.random.Generator,
    flows: Array,
    replicates: int,
    *,
    gain_mm3_s: float = 0.0,
    kinds: tuple[str, str] | None = None,
    ceilings: dict[float, float] | None = None,
    noise: float = 0.005,
) -> list[Reading]:
    """A trial of two rigs, each with a curve of its own, the second better by a stated flow.

    ``kinds`` left out: a class drawn for each.
    """
    usual = ceilings or usual_ceilings(rng)
    rows = []
    for i, rig in enumerate(("baseline", "candidate")):
        kind = str(rng.choice(list(CLASSES))) if kinds is None else kinds[i]
        truth = {t: c + i * gain_mm3_s for t, c in usual.items()}
        lowest = float(np.min(flows))
        drawn = with_truth(curve(kind, truth, rng), truth, lowest)
        rows += [replace(r, rig=rig) for r in weigh(drawn, flows, replicates, rng, noise=noise)]
    return rows
