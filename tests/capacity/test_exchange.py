"""Choosing coupons against what the normal distribution says, and against trying every choice."""

from itertools import combinations_with_replacement

import numpy as np
import pytest
from loops import each

from beadworth.capacity.reading.exchange import choose, updated
from beadworth.capacity.reading.prospect import Prospect


def made_up(seed, targets=2, candidates=6):
    """A group with a random covariance of its ceilings and candidate coupons."""
    rng = np.random.default_rng(seed)
    mixed = rng.normal(size=(targets + candidates, 4))
    covariance = mixed @ mixed.T + 0.1 * np.eye(targets + candidates)
    flow = np.arange(1.0, candidates + 1)
    noise = rng.uniform(0.3, 0.8, candidates)
    width = np.sqrt(np.diag(covariance)[:targets])
    return Prospect(None, np.full(candidates, 210.0), flow, covariance, noise, width,
                    [False] * targets)  # fmt: skip


def conditional(group, picked):
    """Covariance of the ceilings given noisy looks, in one step: S11 − S12·S22⁻¹·S21."""
    n = group.targets
    at = [n + c for c in picked]
    seen = group.covariance[np.ix_(at, at)] + np.diag(group.noise[picked])
    across = group.covariance[:n, at]
    return group.covariance[:n, :n] - across @ np.linalg.solve(seen, across.T)


def criterion_of(groups, picks, criterion):
    sds = np.concatenate([
        np.sqrt(np.diag(conditional(group, [c for w, c in picks if w == index])))
        for index, group in enumerate(groups)
    ])  # fmt: skip
    return sds.sum() if criterion == "mean" else sds.max()


@each(seed=range(3))
def test_coupon_by_coupon_is_the_conditional_normal(seed):
    groups = [made_up(seed), made_up(seed + 10, targets=1, candidates=3)]
    picks = [(0, 2), (0, 2), (1, 1), (0, 5)]
    for index, (group, after) in enumerate(zip(groups, updated(groups, picks), strict=True)):
        picked = [c for w, c in picks if w == index]
        assert after[: group.targets, : group.targets] == pytest.approx(conditional(group, picked))


@pytest.mark.parametrize("criterion", ["mean", "widest"])
@each(seed=range(6))
def test_what_is_chosen_is_close_to_the_best_of_every_choice(seed, criterion):
    groups = [made_up(seed), made_up(seed + 10, targets=1, candidates=3)]
    settings = [(w, c) for w, group in enumerate(groups) for c in range(len(group.flow))]
    best = min(
        criterion_of(groups, picks, criterion)
        for picks in combinations_with_replacement(settings, 3)
    )
    picks = choose(groups, 3, criterion)
    assert len(picks) == 3
    assert criterion_of(groups, picks, criterion) <= 1.02 * best
