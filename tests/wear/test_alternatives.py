"""How much likelier a slope or a step makes a series: against dense matrices, and what shows."""

import numpy as np
import pytest
from loops import fewest, some
from scipy import stats

from beadworth.wear.alternatives import SEASONS, SIDE, YEAR_DAYS, alternatives
from beadworth.wear.course import course_of


def months(count):
    return tuple(float(round(30.4375 * n)) for n in range(count))


def dense(layout, y):
    """Marginal likelihoods from whole covariances: the level and the scatter integrated out.

    Of readings freed of their level by contrasts: ∫ σ^(-n)·exp(-zᵀV⁻¹z/2σ²) dσ is
    (zᵀV⁻¹z)^(-(n-1)/2) times what is the same for every V.
    """
    t = np.array(layout)
    n = len(t)
    contrasts = np.linalg.qr(np.column_stack([np.ones(n), np.eye(n)[:, 1:]]))[0][:, 1:]
    z = contrasts.T @ y

    def likelihood(covariance):
        v = contrasts.T @ covariance @ contrasts
        return np.linalg.det(v) ** -0.5 * (z @ np.linalg.solve(v, z)) ** (-(n - 1) / 2)

    angle = 2 * np.pi * t / YEAR_DAYS
    year = np.stack([np.sin(angle), np.cos(angle)], axis=1)
    changes = [(0.2, 3.0 * t / (t[-1] - t[0]))]
    places = range(SIDE, n - SIDE + 1)
    changes += [(0.8 / len(places), 2.0 * (np.arange(n) >= k)) for k in places]
    changed = nothing = 0.0
    for spread, share in SEASONS if t[-1] >= YEAR_DAYS else ((0.0, 1.0),):
        base = np.eye(n) + spread**2 * year @ year.T
        nothing += share * likelihood(base)
        changed += share * sum(w * likelihood(base + np.outer(a, a)) for w, a in changes)
    return np.log(changed / nothing)


@pytest.mark.parametrize("count", [8, 15, 26])
def test_likelihoods_are_those_of_the_whole_covariances(count):
    rng = np.random.default_rng([71, count])
    layout = months(count)
    for rise in (0.0, 0.3):
        y = 5.0 + rng.standard_normal(count) + rise * np.arange(count)
        found = alternatives(layout).weigh(y[None]).change[0]
        assert found == pytest.approx(dense(layout, y), abs=1e-8)


def test_level_and_scale_do_not_count():
    rng = np.random.default_rng(72)
    y = rng.standard_normal((3, 20))
    known = alternatives(months(20))
    assert known.weigh(40 * y - 7).change == pytest.approx(known.weigh(y).change, abs=1e-9)


def test_in_logs_without_a_change_one_is_seldom_much_likelier():
    """P(likelihood ratio ≥ 1/α) ≤ α where nothing changed (Markov), over the seasons' weights."""
    logs, count = some(2000, long=20_000), 24
    rng = np.random.default_rng(73)
    known = alternatives(months(count))
    which = rng.choice(len(SEASONS), logs, p=[share for _, share in SEASONS])
    spread = np.array([s for s, _ in SEASONS])[which, None] * rng.standard_normal((logs, 2))
    y = rng.standard_normal((logs, count)) + spread @ known.year.T
    found = known.weigh(y).change
    for level in (0.2, 0.05):
        assert (found >= -np.log(level)).sum() <= logs - fewest(logs, 1 - level)
    # its mean is 1: E0[L1/L0] = ∫ L1
    assert np.exp(found).mean() == pytest.approx(1.0, abs=6 * np.exp(found).std() / np.sqrt(logs))


@pytest.mark.parametrize(("count", "checks"), [(12, 1), (24, 4)])
def test_a_step_said_to_show_in_nine_logs_of_ten_does(count, checks):
    logs = some(150, long=1000)
    rng = np.random.default_rng([74, count])
    heights, seen = (
        [],
        0,
    )  # what is quoted goes by each log's own scatter; in the middle by the true
    for _ in range(logs):
        y = rng.standard_normal(count)
        own = course_of(months(count), y, checks).would_show
        heights.append(np.nan if own is None else own)
    height = float(np.nanmedian(heights))
    for _ in range(logs):
        y = rng.standard_normal(count) + height * (np.arange(count) >= (count + 1) // 2)
        seen += course_of(months(count), y, checks).changed
    assert abs(seen / logs - 0.9) < 0.03 + 3.3 * stats.binom.std(logs, 0.9) / logs


def test_so_few_readings_show_no_step():
    assert course_of(months(6), [1.0, 1.3, 0.9, 1.1, 1.2, 1.0], 40).would_show is None
