"""Fits of separate trials side by side say what one fit of both says."""

import numpy as np
import pytest

from beadworth import capacity
from beadworth.capacity import ceiling_at
from beadworth.capacity.fitting.joining import joined, relabelled
from beadworth.core.errors import FitError

FLOWS = np.linspace(7.0, 25.0, 10)


@pytest.fixture(scope="module")
def trials(truths):
    rng = np.random.default_rng(31)
    stock = truths.trial(truths.hard_limit, {210.0: 12.0, 220.0: 13.0}, FLOWS, 2, rng, rig="stock")
    long = truths.trial(truths.hard_limit, {210.0: 17.5, 220.0: 13.02}, FLOWS, 2, rng, rig="long")
    return stock, long


def test_two_fits_joined_compare_like_one_fit_of_all(trials):
    stock, long = trials
    apart = capacity.compare(joined(capacity.fit(stock), capacity.fit(long)), "stock", "long")
    whole = capacity.compare(capacity.fit(stock + long), "stock", "long")
    assert apart.differences == whole.differences


def test_other_names_reach_everything_that_carries_one(trials):
    fit = relabelled(capacity.fit(trials[0]), lambda rig: f"their {rig}")
    group = fit.groups[0]
    named = [group, *group.curves, *group.delivery, *fit.ceilings, *filter(None, [group.law])]
    assert {part.rig for part in named} == {"their stock"}
    assert ceiling_at(fit, "their stock", None, 215.0).rig == "their stock"


def test_one_rig_twice_or_two_losses_are_refused(trials):
    fit = capacity.fit(trials[0])
    with pytest.raises(FitError, match=r"stock with .* stands in both"):
        joined(fit, fit)
    with pytest.raises(FitError, match=r"ceilings at 0\.02 and at 0\.05 loss"):
        joined(fit, capacity.fit(trials[1], loss=0.05))
