"""Pooling with trials that say 'at least' or 'at most': no bias, and intervals that hold."""

import numpy as np
import pytest
from loops import fewest, some

from beadworth.typical.censored import pool_censored
from beadworth.typical.pooling import pool


def drawn(rng, trials, tau, end):
    """Trials of true mean 0, each with a ladder that ends near ``end``; and a further one."""
    u = rng.uniform(0.02, 0.06, trials)
    true = tau * rng.standard_normal(trials + 1)
    y = true[:trials] + u * rng.standard_normal(trials)
    ends = rng.uniform(end - 0.1, end + 0.1, trials)
    seen = y < ends
    return y[seen], u[seen], ends[~seen], float(true[trials])


@pytest.mark.parametrize(("trials", "tau", "end"), [(8, 0.1, 0.05), (8, 0.2, 0.0), (14, 0.15, 0.1)])
def test_at_least_is_no_reason_to_look_low(trials, tau, end):
    runs = some(12, long=300)
    rng = np.random.default_rng([91, trials, int(100 * tau)])
    held = further = count = 0
    plain, found = [], []
    for _ in range(runs):
        y, u, ends, ahead = drawn(rng, trials, tau, end)
        if len(y) < 3 or not len(ends):
            continue
        count += 1
        pooled = pool_censored(y, u, ends)
        held += pooled.low <= 0.0 <= pooled.high
        further += pooled.prediction_low <= ahead <= pooled.prediction_high
        plain.append(pool(y, u).mean)
        found.append(pooled.mean)
    assert held >= fewest(count, 0.94)
    assert further >= fewest(count, 0.93)
    error = 3 * np.std(found) / np.sqrt(count)
    assert abs(np.mean(found)) < 0.03 + error
    assert np.mean(plain) < np.mean(found) - 0.02


def test_at_most_is_the_mirror_of_at_least():
    y, u, ends, _ = drawn(np.random.default_rng(92), 10, 0.15, 0.05)
    assert len(ends)
    up, down = pool_censored(y, u, ends), pool_censored(-y, u, (), -ends)
    assert (down.low, down.mean, down.high) == pytest.approx(
        (-up.high, -up.mean, -up.low), abs=5e-3
    )


def test_without_bounds_nothing_changes():
    y, u, _, _ = drawn(np.random.default_rng(93), 10, 0.15, 0.05)
    assert pool_censored(y, u) == pool(y, u)


def test_a_bound_far_below_says_nothing_and_a_higher_one_says_more():
    y, u, _, _ = drawn(np.random.default_rng(94), 9, 0.1, 2.0)
    means = [pool_censored(y, u, [bound]).mean for bound in (-2.0, 0.0, 0.2, 0.4)]
    assert means == sorted(means)
    assert means[0] == pytest.approx(pool(y, u).mean, abs=0.02)
