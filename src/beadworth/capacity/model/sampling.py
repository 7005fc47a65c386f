"""Equally likely curves: tempered sequential Monte Carlo with a fixed seed.

A mixture of t distributions about the modes is turned step by step into the posterior (P. Del
Moral, A. Doucet, A. Jasra, J. R. Stat. Soc. B 68 (2006) 411; from memory), each step as long as
the effective sample size allows, with Metropolis steps between. Then every row walks on, and all
places it comes by count, until the ends of the intervals are known well enough.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import solve_triangular
from scipy.special import logsumexp

from beadworth.capacity.model._kernel import walk
from beadworth.capacity.model.curve import CurveModel
from beadworth.capacity.model.ends import Ends
from beadworth.capacity.model.starts import Mode

Array = NDArray[np.float64]

FREEDOM = 6.0
"""Degrees of freedom of the mixture's parts."""
JUMPS: Array = np.array([0.5, 1.0, 1.7])
"""Lengths of a step towards a draw from the rows' own normal, about the length that suits."""
DIFFERENCES: Array = np.array([0.3, 0.7])
"""Lengths of a step along the difference of two rows, likewise."""
TAKEN = 0.25
"""Share of steps taken at the length that suits."""


@dataclass(frozen=True)
class Effort:
    """How much is spent, and when it is enough."""

    first: int
    """Draws from the mixture."""
    rows: int
    tempering: int
    """Steps of every row between two temperatures."""
    fewest: int
    most: int
    """Steps of every row that count."""
    end_error_mm3_s: float
    """Standard error of an interval's ends at which to stop."""


FULL = Effort(3000, 600, 7, 100, 340, 0.007)
QUICK = Effort(800, 250, 4, 60, 60, 0.0)
"""For the answer at the balance, which has a tenth of a second."""


@dataclass(frozen=True)
class Draws:
    """Equally likely unknowns."""

    rows: Array
    """(draws, unknowns), thinned."""
    ceiling: Array
    """(many draws, blocks), mm³/s: all that the rows came by."""
    end_error_mm3_s: Array
    """Per block: standard error of the worse end of its 95 % interval, as the rows differ."""
    effective: Array
    """Per block: independent draws that would know the worse end as well."""


def sample(model: CurveModel, starts: tuple[Mode, ...], effort: Effort, seed: int = 0) -> Draws:
    """Draw from the posterior of a model."""
    rng = np.random.default_rng(seed)
    rows = _temper(model, starts, effort, rng)
    walker = _Walker(model, rows, rng)
    for _ in range(max(2, effort.fewest // 20)):
        walker.go(10)
    kept: list[Array] = []
    thinned, ends = [], Ends()
    done, error, effective = 0, np.empty(0), np.empty(0)
    while done < effort.most:
        kept.append(walker.go(20))
        thinned.append(walker.rows.copy())
        done += 20
        if done >= effort.fewest:
            error, effective = ends.known(kept)
            if (error <= effort.end_error_mm3_s).all():
                break
    ceiling = np.concatenate(kept)
    return Draws(
        np.concatenate(thinned[-5:]), ceiling.reshape(-1, model.blocks), error, effective
    )  # fmt: skip


class _Walker:
    """Rows on their way through the posterior."""

    def __init__(self, model: CurveModel, rows: Array, rng: np.random.Generator) -> None:
        self.model, self.rows, self.rng = model, np.ascontiguousarray(rows), rng
        self.density = model.densities(self.rows)
        self.ceiling = model.ceilings(self.rows)
        self.length = 0.35

    def go(self, steps: int) -> Array:
        """Walk on; the ceilings after each step, (steps, rows, blocks)."""
        m, rng = self.model, self.rng
        count, size = self.rows.shape
        out = np.empty((steps, count, m.blocks))
        kind = (np.arange(steps) % 5 == 4).astype(np.int64)
        lengths = (JUMPS, DIFFERENCES)
        jump = np.stack(
            [rng.choice(np.minimum(self.length * lengths[k], 0.95), count) for k in kind]
        )
        partner = np.stack([[rng.permutation(count), rng.permutation(count)] for _ in kind])
        centre, root = self.rows.mean(axis=0), _root(self.rows)
        white = solve_triangular(root, (self.rows - centre).T, lower=True, check_finite=False).T
        normal, chance = rng.standard_normal((steps, count, size)), rng.random((steps, count))
        taken = walk(
            self.rows, np.ascontiguousarray(white), self.density, self.ceiling, kind, normal,
            partner, jump, np.log(chance), centre, root, m.at, m.grid, m.prior, m.first, m.cell,
            m.shared, m.limit, m.noise, m.unshared, m.stated, out,
        )  # fmt: skip
        self.length = float(np.clip(self.length * np.exp(taken / jump.size - TAKEN), 0.05, 0.55))
        return out


def _root(rows: Array) -> Array:
    """Cholesky factor of the rows' covariance, a little wider and with its correlations damped."""
    covariance = np.cov(rows, rowvar=False)
    damped = 0.93 * covariance + 0.07 * np.diag(np.diag(covariance))
    factor = np.linalg.cholesky(1.1 * damped + 1e-7 * np.eye(len(covariance)))
    return np.asarray(factor, dtype=np.float64)


def _mixture(
    model: CurveModel, starts: tuple[Mode, ...]
) -> tuple[Array, list[tuple[float, Array, Array]]]:
    """Shares and (log share, middle, root) of a t about every mode."""
    n, parts = model.blocks, []
    for mode in starts:
        sharp = mode.information + 1e-2 * np.eye(model.size)
        sharp[:n, :n] += 25.0 * np.eye(n)
        share = -0.25 * (mode.sum_squares - starts[0].sum_squares)
        parts.append((share, mode.row, np.linalg.cholesky(2.5 * np.linalg.inv(sharp))))
    total = float(logsumexp([share for share, _, _ in parts]))
    parts = [(share - total, middle, root) for share, middle, root in parts]
    return np.exp([share for share, _, _ in parts]), parts


def _temper(
    model: CurveModel, starts: tuple[Mode, ...], effort: Effort, rng: np.random.Generator
) -> Array:
    """From the mixture to the posterior."""
    shares, parts = _mixture(model, starts)
    size, power = model.size, 0.0

    def proposal(rows: Array) -> Array:
        logs = []
        for share, middle, root in parts:
            z = solve_triangular(root, (rows - middle).T, lower=True, check_finite=False)
            away = np.log1p((z**2).sum(axis=0) / FREEDOM)
            logs.append(share - np.log(np.diag(root)).sum() - 0.5 * (FREEDOM + size) * away)
        return np.asarray(logsumexp(np.stack(logs), axis=0))

    which = rng.choice(len(parts), effort.first, p=shares)
    normal = rng.standard_normal((effort.first, size))
    stretch = np.sqrt(FREEDOM / rng.chisquare(FREEDOM, effort.first))
    rows = np.empty((effort.first, size))
    for k, (_, middle, root) in enumerate(parts):
        at = which == k
        rows[at] = middle + (normal[at] * stretch[at, None]) @ root.T
    start, density = proposal(rows), model.densities(rows)
    while power < 1.0:
        gain = np.where(np.isfinite(density), density - start, -np.inf)
        gain -= gain.max()
        step = _longest(gain, 1.0 - power, 0.6 * effort.rows)
        power = min(1.0, power + step)
        weight = np.cumsum(np.exp(step * gain))
        places = (np.arange(effort.rows) + rng.random()) / effort.rows * weight[-1]
        chosen = np.minimum(np.searchsorted(weight, places), len(weight) - 1)
        rows, start, density = rows[chosen], start[chosen], density[chosen]
        rows, start, density = _shake(
            model, proposal, (rows, start, density), power, effort.tempering, rng
        )
    return rows


def _longest(gain: Array, left: float, wanted: float) -> float:
    """The longest step of the power that leaves this many effective draws."""

    def effective(step: float) -> float:
        w = np.exp(step * gain)
        return float(w.sum() ** 2 / (w**2).sum())

    if effective(left) >= wanted:
        return left
    low, high = 0.0, left
    for _ in range(30):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if effective(middle) > wanted else (low, middle)
    return max(low, 1e-3)


def _shake(
    model: CurveModel,
    proposal: Callable[[Array], Array],
    state: tuple[Array, Array, Array],
    power: float,
    steps: int,
    rng: np.random.Generator,
) -> tuple[Array, Array, Array]:
    """Metropolis steps at one power, towards draws from the rows' own normal."""
    rows, start, density = state
    centre, root = rows.mean(axis=0), _root(rows)
    for _ in range(steps):
        length = rng.choice(0.35 * JUMPS, len(rows))[:, None]
        z = solve_triangular(root, (rows - centre).T, lower=True, check_finite=False).T
        new_z = np.sqrt(1 - length**2) * z + length * rng.standard_normal(rows.shape)
        new = centre + new_z @ root.T
        new_start, new_density = proposal(new), model.densities(new)
        odds = power * (new_density - density) + (1 - power) * (new_start - start)
        odds += 0.5 * ((new_z**2).sum(axis=1) - (z**2).sum(axis=1))
        taken = np.log(rng.random(len(rows))) < odds
        rows = np.where(taken[:, None], new, rows)
        start, density = np.where(taken, new_start, start), np.where(taken, new_density, density)
    return rows, start, density
