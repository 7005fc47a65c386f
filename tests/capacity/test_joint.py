"""Errors that belong together enter a fit whole: against dense normals, and against coupons."""

import numpy as np
import pytest
from plain_curve import plain_loss_exponent
from scipy.special import logsumexp
from scipy.stats import multivariate_normal

from beadworth.capacity import fit
from beadworth.capacity.model.block import Block, Scatter
from beadworth.capacity.model.curve import ALIKE_WITHIN, curve_model
from beadworth.core import FitError
from beadworth.trial import JointErrors, Reading

FLOWS = np.array([8.0, 9.5, 11.0, 11.4, 12.5, 14.0])
RNG = np.random.default_rng(5)


def covariance(size, seed):
    rng = np.random.default_rng(seed)
    a = rng.standard_normal((size, 2 * size))
    return a @ a.T / (2 * size)


def blocks():
    means = np.array([0.0, 0.002, -0.004, -0.006, -0.03, -0.11])
    return tuple(
        Block(t, q, means, 1 / np.diag(v), 0.0, len(q), v)
        for t, q, v in ((200.0, FLOWS, covariance(6, 1)), (220.0, 1.1 * FLOWS, covariance(6, 2)))
    )


MODEL = curve_model(blocks(), 0.02, Scatter(0.006, 12.0))


def plain_likelihood(row):
    """Dense normals, the delivery with a prior all but flat."""
    sd = MODEL.scatter(row[None])[0]
    terms = []
    for squared, log_weight in MODEL.unshared.T:
        total = log_weight
        for b, block in enumerate(blocks()):
            h = plain_loss_exponent(MODEL, row, b, block.flow)
            apart = np.abs(np.subtract.outer(np.log(block.flow), np.log(block.flow)))
            own = squared * np.outer(h, h) * np.maximum(0, 1 - apart / ALIKE_WITHIN)
            dense = sd**2 * block.shared + own + 1.0
            y = MODEL.cell[1, MODEL.first[b] : MODEL.first[b + 1]]
            total += multivariate_normal.logpdf(y, -h, dense)
        terms.append(total)
    return logsumexp(terms)


def test_the_density_is_that_of_dense_normals_with_the_whole_covariance():
    row = np.zeros(MODEL.size)
    row[:2] = np.log([12.0, 13.2])
    rows = np.repeat(row[None], 7, axis=0)
    rows[:, :2] += 0.04 * RNG.standard_normal((7, 2))  # ceilings have a flat prior
    compiled = MODEL.densities(rows)
    plain = np.array([plain_likelihood(r) for r in rows])
    assert np.diff(compiled) == pytest.approx(np.diff(plain), rel=1e-5, abs=2e-2)


def test_residuals_are_white():
    row = np.zeros(MODEL.size)
    row[:2] = np.log([12.0, 13.2])
    off = MODEL.residuals(row[None])[0][: len(FLOWS)]
    b = blocks()[0]
    h = plain_loss_exponent(MODEL, row, 0, b.flow)
    apart = np.abs(np.subtract.outer(np.log(b.flow), np.log(b.flow)))
    own = MODEL.usual_unshared**2 * np.outer(h, h) * np.maximum(0, 1 - apart / ALIKE_WITHIN)
    v = np.linalg.inv(MODEL.scatter(row[None])[0] ** 2 * b.shared + own)
    z = b.mean + h
    one = np.ones(len(h))
    z = z - one * (one @ v @ z) / (one @ v @ one)
    assert off @ off == pytest.approx(z @ v @ z, rel=1e-9)


def readings(rng, root, size=9, temperature=210.0):
    """Bins of a hard limit at 12 mm³/s, with errors that belong together."""
    flow = np.linspace(8.0, 15.0, size)
    kept = np.minimum(1.0, 12.0 * 0.98 / flow)
    mass = 1.79 * kept * np.exp(root @ rng.standard_normal(size))
    return [
        Reading("rig", "PLA", temperature, float(q), 600.0, float(m), f"L{i}")
        for i, (q, m) in enumerate(zip(flow, mass, strict=True))
    ]


def test_a_level_that_all_share_costs_nothing_and_each_by_itself_does():
    rows = readings(np.random.default_rng(3), 0.002 * np.eye(9))
    names = tuple(r.coupon for r in rows)
    alone = JointErrors(names, tuple(map(tuple, 0.002**2 * np.eye(9))), 40.0)
    level = JointErrors(names, tuple(map(tuple, 0.002**2 * np.eye(9) + 0.03**2)), 40.0)
    louder = JointErrors(names, tuple(map(tuple, 0.012**2 * np.eye(9))), 40.0)
    one, two, three = (fit(rows, joint=[j], draft=True).ceilings[0] for j in (alone, level, louder))
    assert one.low < 12.0 < one.high
    assert (two.low, two.high) == pytest.approx((one.low, one.high), abs=0.12)
    assert three.high - three.low > 1.5 * (one.high - one.low)


@pytest.mark.parametrize(
    "matrix", [((1.0, 0.0),), ((1.0, 2.0), (2.0, 1.0)), ((1.0, 0.5), (0.1, 1.0))]
)
def test_a_table_that_is_no_covariance_is_refused(matrix):
    rows = readings(np.random.default_rng(3), 0.002 * np.eye(9))
    with pytest.raises(FitError) as error:
        fit(rows, joint=[JointErrors(("L0", "L1"), matrix, 10.0)])
    assert str(error.value) == (
        "errors that belong together: the covariance of 2 coupons must be a symmetric positive "
        "table of 2 × 2, worth more than nothing. Give it as the analysis of the trace wrote it."
    )


def test_coupons_beside_a_ramp_keep_their_own_scatter():
    rng = np.random.default_rng(8)
    rows = readings(rng, 0.004 * np.eye(9))
    joint = JointErrors(
        tuple(r.coupon for r in rows), tuple(map(tuple, 0.004**2 * np.eye(9))), 40.0
    )
    coupons = [
        Reading("rig", "PLA", 210.0, q, 600.0, 1.79 * min(1.0, 11.76 / q) * (1 + e), f"C{q}-{i}")
        for q in (8.0, 11.0, 12.0, 13.0)
        for i, e in enumerate(0.003 * rng.standard_normal(3))
    ]
    together = fit([*rows, *coupons], joint=[joint], draft=True).ceilings[0]
    alone = fit(rows, joint=[joint], draft=True).ceilings[0]
    assert together.low < 12.0 < together.high
    assert together.high - together.low < alone.high - alone.low
