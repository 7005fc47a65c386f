"""The loss curve: kernels against plain numpy and libraries; draws that agree with themselves."""

from __future__ import annotations

import numpy as np
import pytest
import random_curves
from hypothesis import given
from hypothesis import strategies as st
from plain_curve import plain_loss_exponent, plain_widths
from scipy.integrate import quad
from scipy.special import logsumexp, ndtr
from scipy.stats import multivariate_normal

from beadworth.capacity.model._kernel import (
    AT_ALIKE,
    AT_DRIFT,
    AT_SCATTER,
    AT_SLOPE,
    AT_STEPS,
    AT_WALK,
    FAR_SLOPE,
    FREEDOM,
    LOG_SD,
    MOST_DRIFT,
    SD_LOG_SD,
    SD_SLOPE,
    SD_WALK,
    SLOPE,
    SPARE,
    WALK,
    WITHIN,
)
from beadworth.capacity.model.block import Block
from beadworth.capacity.model.curve import MIDDLE, curve_model
from beadworth.capacity.model.posterior import integrate
from beadworth.capacity.model.prepare import groups_of
from beadworth.capacity.model.sampling import Effort

FLOWS = np.array([6.0, 8.0, 10.0, 11.5, 13.0, 15.0, 18.0])


def block(seed, temperature, ceiling):
    rng = np.random.default_rng(seed)
    mean = -5.8 - 0.3 * np.maximum(np.log(FLOWS / ceiling), 0) + 0.003 * rng.standard_normal(7)
    return Block(temperature, FLOWS, mean, np.full(7, 2.9), 1e-4, 21)


MODEL = curve_model((block(1, 205.0, 11.0), block(2, 220.0, 13.0)), 0.02)
PRIOR_SD = np.concatenate([np.full(2, 0.1), np.full(MODEL.size - 2, 1.0)])
MIDDLE_ROW = np.concatenate([np.log([11.2, 13.3]), np.zeros(MODEL.size - 2)])


def row_of(seed, spread=1.0):
    rng = np.random.default_rng(seed)
    return MIDDLE_ROW + spread * PRIOR_SD * rng.standard_normal(MODEL.size)


@given(st.integers(0, 10**6), st.floats(0.0, 2.5), st.integers(0, 1))
def test_the_kernel_is_the_plain_curve(seed, spread, at):
    row = row_of(seed, spread)
    flow = np.geomspace(2.0, 40.0, 60)
    compiled = MODEL.loss_exponents(row[None], at, flow)[0]
    # far below the ceiling exponents are rounding of what is added to −1
    assert compiled == pytest.approx(plain_loss_exponent(MODEL, row, at, flow), rel=1e-9, abs=1e-10)
    assert (np.diff(compiled) >= 0).all()


@given(st.integers(0, 10**6))
def test_at_the_ceiling_the_stated_loss_is_lost(seed):
    row = row_of(seed)
    for at in (0, 1):
        h = plain_loss_exponent(MODEL, row, at, np.exp(row[at : at + 1]))
        assert -np.expm1(-h[0]) == pytest.approx(0.02, rel=1e-9)
    # and the ceiling told counts against the lowest flow weighed
    for at, ceiling in enumerate(MODEL.ceilings(row[None])[0]):
        lowest, there = plain_loss_exponent(MODEL, row, at, np.array([6.0, ceiling]))
        if lowest < 0.2 and there < 2.5:
            assert there - lowest == pytest.approx(MODEL.stated, rel=1e-8)


@pytest.mark.parametrize("seed", range(6))
def test_places_are_the_integral_of_one_over_the_slope(seed):
    """u(h) = ∫ dh ÷ slope, with ln slope straight over ln h between the knots."""
    row = row_of(seed, 0.7)
    grid, prior, at = MODEL.grid, MODEL.prior, MODEL.at
    slope = np.empty(grid.shape[1])  # the definition, knot by knot from the ceiling outwards
    slope[MIDDLE] = prior[SLOPE] + prior[SD_SLOPE] * row[at[AT_SLOPE]]
    for j in range(MIDDLE - 1, -1, -1):
        own = np.sqrt(grid[1, j]) * row[at[AT_STEPS] + j]
        slope[j] = slope[j + 1] - prior[MOST_DRIFT] * ndtr(row[at[AT_DRIFT]]) * grid[1, j] + own
    for j in range(MIDDLE, len(slope) - 1):
        back = np.exp(-0.5 * grid[1, j])
        own = np.sqrt(1 - back**2) * row[at[AT_STEPS] + j]
        slope[j + 1] = prior[FAR_SLOPE] + (slope[j] - prior[FAR_SLOPE]) * back + own

    def one_over(log_h):
        return np.exp(log_h - np.interp(log_h, grid[0], slope))

    width = plain_widths(MODEL, row)[0]
    for log_h in np.linspace(grid[0, 0], grid[0, -1], 9):
        place, _ = quad(one_over, grid[0, MIDDLE], log_h, points=grid[0, 1:-1], limit=200)
        flow = np.exp(row[0] + place / width)
        found = plain_loss_exponent(MODEL, row, 0, np.array([flow]))[0]
        assert np.log(found) == pytest.approx(log_h, abs=1e-6)


def plain_density(row):
    """The log posterior from dense normal distributions, the delivery with a prior all but flat."""
    n, at, prior = 2, MODEL.at, MODEL.prior
    log_sd = MODEL.noise[LOG_SD] + MODEL.noise[SD_LOG_SD] * row[at[AT_SCATTER]]
    terms = []
    for squared, log_weight in MODEL.unshared.T:
        total = log_weight
        for b in range(n):
            _, y, weight, crowd = MODEL.cell[:, MODEL.first[b] : MODEL.first[b + 1]]
            h = plain_loss_exponent(MODEL, row, b, FLOWS)
            covariance = np.diag(np.exp(2 * log_sd) / weight + squared * h**2 * crowd) + 1.0
            total += multivariate_normal.logpdf(y, -h, covariance)
        terms.append(total)
    total = logsumexp(terms)
    total -= MODEL.noise[SPARE] * log_sd
    total -= 0.5 * MODEL.noise[WITHIN] / np.exp(2 * log_sd)
    log_walk = prior[WALK] + prior[SD_WALK] * row[at[AT_WALK]]
    for j in range(n, at[AT_SCATTER]):
        if at[AT_STEPS] <= j < at[AT_ALIKE]:
            away = row[j] ** 2 / np.exp(2 * log_walk) / prior[FREEDOM]
            total -= 0.5 * (prior[FREEDOM] + 1) * np.log1p(away) + log_walk
        else:
            total -= 0.5 * row[j] ** 2
    return total


def test_the_density_is_that_of_dense_normals():
    rows = np.stack([row_of(seed, 0.5) for seed in range(12)])
    compiled = MODEL.densities(rows)
    plain = np.array([plain_density(row) for row in rows])
    assert np.diff(compiled) == pytest.approx(np.diff(plain), rel=1e-5, abs=2e-2)


def test_a_ceiling_outside_the_range_looked_in_is_impossible():
    row = MIDDLE_ROW.copy()
    row[0] = np.log(1.61 * FLOWS[-1])
    assert MODEL.densities(row[None])[0] == -np.inf
    row[0] = np.log(1.59 * FLOWS[-1])
    assert np.isfinite(MODEL.densities(row[None])[0])


def weighed(kind, seed):
    rng = np.random.default_rng([11, seed])
    curve = random_curves.curve(kind, random_curves.usual_ceilings(rng), rng)
    readings = random_curves.weigh(curve, np.linspace(7.0, 19.0, 8), 3, rng)
    (group,), _ = groups_of(readings)
    return curve, group


def ends(posterior):
    return np.quantile(posterior.draws.ceiling, [0.025, 0.975], axis=0)


def test_two_seeds_give_the_same_interval_within_what_is_claimed():
    _, group = weighed("smooth onset", 1)
    one, other = (integrate(group.blocks(), 0.02, seed=s) for s in (0, 1))
    claimed = np.hypot(one.draws.end_error_mm3_s, other.draws.end_error_mm3_s)
    assert (np.abs(ends(one) - ends(other)) < 4 * claimed).all()
    assert (np.abs(ends(one) - ends(other)) < 0.06).all()
    again = integrate(group.blocks(), 0.02, seed=0)
    assert (again.draws.ceiling == one.draws.ceiling).all()


def test_a_long_walk_from_elsewhere_finds_the_same_interval():
    """No tempering to speak of and many more steps: what the starts did is forgotten."""
    _, group = weighed("one to four kinks", 2)
    usual = integrate(group.blocks(), 0.02)
    long = integrate(group.blocks(), 0.02, effort=Effort(900, 400, 1, 900, 900, 0.0), seed=3)
    assert (np.abs(ends(usual) - ends(long)) < 0.05).all()
