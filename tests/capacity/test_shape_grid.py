"""The grids over shapes: a normal likelihood, whose integral is known, is found and covered."""

import math

import numpy as np
import pytest

from beadworth.capacity.model.families import FAMILIES
from beadworth.capacity.model.shape_grid import first_grid, narrow

BY_AXES = {len(family.box()): family for family in FAMILIES}


def laid_over(family, centre, sd, correlation=0.0):
    """A family's grid where the log likelihood is that of a normal in its box; and its heights."""
    d = len(centre)
    covariance = np.outer(sd, sd) * np.where(np.eye(d) == 1, 1.0, correlation)
    inverse = np.linalg.inv(covariance)

    def height_of(x):
        away = x - centre
        return -0.5 * np.einsum("ni,ij,nj->n", away, inverse, away)

    first = first_grid(family)
    laid = narrow(family, first, height_of(first), height_of)
    return laid, height_of(laid.x), covariance


@pytest.mark.parametrize("axes", sorted(set(BY_AXES) - {0}))
@pytest.mark.parametrize("share", [0.02, 0.06])
@pytest.mark.parametrize("correlation", [0.0, 0.8])
def test_the_integral_mean_and_covariance_of_a_normal(axes, share, correlation):
    """∫ exp(−½ zᵀz) = (2π)^(d/2)·√det, as a share of the box the flat prior is on."""
    family = BY_AXES[axes]
    box = family.box()
    side = box[:, 1] - box[:, 0]
    centre = box[:, 0] + side * np.array([0.47, 0.56])[:axes]
    laid, height, covariance = laid_over(family, centre, share * side, correlation)
    weight = np.exp(height)
    truth = (2 * math.pi) ** (axes / 2) * math.sqrt(np.linalg.det(covariance)) / np.prod(side)
    assert weight.sum() * laid.mass == pytest.approx(truth, rel=2e-3)
    weight /= weight.sum()
    away = laid.x - centre
    assert weight @ away == pytest.approx(np.zeros(axes), abs=1e-3 * side.max())
    found = (away * weight[:, None]).T @ away
    assert found == pytest.approx(covariance, rel=0.02, abs=0.02 * covariance.max())
    assert laid.height <= 0.0


def test_a_family_without_a_free_shape_is_one_point():
    family = BY_AXES[0]
    first = first_grid(family)
    laid = narrow(family, first, np.array([-3.0]), lambda x: np.full(len(x), np.nan))
    assert (laid.x.shape, laid.mass, laid.height) == ((1, 0), 1.0, -3.0)


def test_a_likelihood_beyond_the_box_leaves_points_at_its_edge():
    family = BY_AXES[1]
    (low, high), *_ = family.box()
    laid, _, _ = laid_over(family, np.array([high + (high - low)]), np.array([0.1 * (high - low)]))
    assert len(laid.x) >= 1
    assert ((laid.x >= low) & (laid.x <= high)).all()
    assert laid.x.max() > high - 0.1 * (high - low)
