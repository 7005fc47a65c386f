"""Pooling against published meta-analyses, an independent library, and what must always hold."""

import math
import warnings

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from loops import some
from scipy import stats

from beadworth.core.errors import FitError, InputError
from beadworth.typical.pooling import Pooled, dersimonian_laird, pool, restricted_log_likelihood

# Colditz et al., JAMA 271 (1994) 698-702, as tabulated in van Houwelingen, Arends & Stijnen,
# Statistics in Medicine 21 (2002) table I: 13 trials of a vaccine; cases and others, treated and
# control. Counts read in a published worked analysis that prints them beside its results.
VACCINE = np.array([
    [4, 119, 11, 128], [6, 300, 29, 274], [3, 228, 11, 209], [62, 13536, 248, 12619],
    [33, 5036, 47, 5761], [180, 1361, 372, 1079], [8, 2537, 10, 619], [505, 87886, 499, 87892],
    [29, 7470, 45, 7232], [17, 1699, 65, 1600], [186, 50448, 141, 27197], [5, 2493, 3, 2338],
    [27, 16886, 29, 17825],
], dtype=float)  # fmt: skip
# printed there: log risk ratio and its variance, to four decimals
PRINTED_Y = (-0.8893, -1.5854, -1.3481, -1.4416, -0.2175, -0.7861, -1.6209, 0.0120, -0.4694,
             -1.3713, -0.3394, 0.4459, -0.0173)  # fmt: skip
PRINTED_V = (0.3256, 0.1946, 0.4154, 0.0200, 0.0512, 0.0069, 0.2230, 0.0040, 0.0564, 0.0730,
             0.0124, 0.5325, 0.0714)  # fmt: skip

# Collins, Yusuf & Peto, BMJ 290 (1985) 17-23: 9 trials of diuretics; cases and number, treated
# and control (counts from memory, confirmed by the printed results below)
DIURETICS = np.array([
    [14, 131, 14, 136], [21, 385, 17, 134], [14, 57, 24, 48], [6, 38, 18, 40], [12, 1011, 35, 760],
    [138, 1370, 175, 1336], [15, 506, 20, 524], [6, 108, 2, 103], [65, 153, 40, 102],
], dtype=float)  # fmt: skip


def log_risk_ratio(table):
    a, b, c, d = table.T
    return np.log(a / (a + b) / (c / (c + d))), 1 / a - 1 / (a + b) + 1 / c - 1 / (c + d)


def log_odds_ratio(table):
    a, n, c, m = table.T
    return np.log(a * (m - c) / (c * (n - a))), 1 / a + 1 / (n - a) + 1 / c + 1 / (m - c)


@pytest.fixture(scope="module")
def vaccine():
    return log_risk_ratio(VACCINE)


def test_the_inputs_are_those_printed(vaccine):
    np.testing.assert_allclose(vaccine[0], PRINTED_Y, rtol=0, atol=5.1e-5)
    np.testing.assert_allclose(vaccine[1], PRINTED_V, rtol=0, atol=5.1e-5)


# Viechtbauer's worked analysis of these data (REML, Hartung–Knapp), as printed; tolerance half a
# unit in the last digit. |Q| large, so the modification of Hartung–Knapp does not act here.
PRINTED = {
    "tau2": (0.3132, 5e-5), "i2": (0.9222, 5e-5), "q": (152.2330, 5e-5), "mean": (-0.7145, 5e-5),
    "u": (0.1798, 5e-5), "low": (-1.1084, 5e-5), "high": (-0.3206, 5e-5),
}  # fmt: skip


@pytest.mark.parametrize("name", PRINTED)
def test_reml_reproduces_the_printed_worked_example(vaccine, name):
    printed, half_digit = PRINTED[name]
    pooled = pool(vaccine[0], np.sqrt(vaccine[1]))
    assert getattr(pooled, name) == pytest.approx(printed, rel=0, abs=half_digit)


def test_prediction_interval_reproduces_the_printed_one(vaccine):
    pooled = pool(vaccine[0], np.sqrt(vaccine[1]))
    printed = (0.14, 1.76)  # risk ratios, two decimals
    # printed with Student's t of k − 1 = 12; ours has k − 2 = 11 (half-widths in proportion)
    shrink = stats.t.ppf(0.975, 12) / stats.t.ppf(0.975, 11)
    half = shrink * (pooled.prediction_high - pooled.mean)
    assert half == pytest.approx(shrink * (pooled.mean - pooled.prediction_low))
    got = math.exp(pooled.mean - half), math.exp(pooled.mean + half)
    np.testing.assert_allclose(got, printed, rtol=0, atol=0.005)


# Viechtbauer, Statistics in Medicine 26 (2007) 37-52, table II: τ² by method, four decimals
@pytest.mark.parametrize(("method", "printed"), [("DL", 0.2297), ("REML", 0.3008)])
def test_between_trial_variance_reproduces_table_ii(method, printed):
    y, v = log_odds_ratio(DIURETICS)
    assert pool(y, np.sqrt(v), method=method).tau2 == pytest.approx(printed, rel=0, abs=5e-5)


@pytest.mark.parametrize("data", [log_risk_ratio(VACCINE), log_odds_ratio(DIURETICS)])
def test_moment_estimator_is_that_of_statsmodels(data):
    from statsmodels.stats.meta_analysis import combine_effects

    y, v = data
    oracle = combine_effects(y, v, method_re="chi2", use_t=True)
    got = pool(y, np.sqrt(v), method="DL")
    assert got.tau2 == pytest.approx(oracle.tau2, rel=1e-12)
    assert got.mean == pytest.approx(oracle.mean_effect_re, rel=1e-12)
    assert got.u == pytest.approx(oracle.sd_eff_w_re, rel=1e-12)
    assert got.q == pytest.approx(oracle.q, rel=1e-12)
    # Hartung–Knapp: its adjusted standard deviation with t of k − 1
    low, high = oracle.conf_int(use_t=True)[3]
    assert oracle.scale_hksj_re > 1
    assert (got.low, got.high) == pytest.approx((low, high), rel=1e-9)


@pytest.mark.parametrize("data", [log_risk_ratio(VACCINE), log_odds_ratio(DIURETICS)])
def test_reml_is_where_the_restricted_likelihood_is_greatest(data):
    y, v = data
    best = pool(y, np.sqrt(v)).tau2
    grid = np.linspace(0.0, 3.0, 30_001)
    heights = [restricted_log_likelihood(t, y, v) for t in grid]
    assert best == pytest.approx(grid[int(np.argmax(heights))], abs=1e-4)


def test_restricted_likelihood_is_the_normal_one_with_the_mean_integrated_out(vaccine):
    """Against a numerical integral over μ, up to the one constant."""
    y, v = vaccine
    mu = np.linspace(-6, 5, 40_001)

    def integrated(tau2):
        s = v + tau2
        inside = -0.5 * (np.log(s).sum() + ((y[:, None] - mu) ** 2 / s[:, None]).sum(axis=0))
        top = inside.max()
        return top + math.log(np.trapezoid(np.exp(inside - top), mu))

    gap = restricted_log_likelihood(0.3, y, v) - restricted_log_likelihood(0.9, y, v)
    assert gap == pytest.approx(integrated(0.3) - integrated(0.9), abs=1e-9)


def test_reml_has_little_bias_and_the_intervals_the_coverage_that_is_told():
    """Simulated sets of 6 trials; the mean's interval within three standard errors.

    The prediction interval takes τ² as known: benchmarks/pooling_coverage.py measures what that
    covers.
    """
    rng = np.random.default_rng(71)
    tau, k, runs = 0.2, 6, some(400, long=1500)
    means = ahead = 0
    tau2 = []
    for _ in range(runs):
        u = rng.uniform(0.05, 0.25, k)
        true = 1.0 + tau * rng.standard_normal(k + 1)
        pooled = pool(true[:k] + u * rng.standard_normal(k), u)
        means += pooled.low <= 1.0 <= pooled.high
        ahead += pooled.prediction_low <= true[k] <= pooled.prediction_high
        tau2.append(pooled.tau2)
    assert means / runs > 0.95 - 3 * math.sqrt(0.95 * 0.05 / runs)
    assert 0.88 < ahead / runs < 0.98
    assert np.mean(tau2) == pytest.approx(tau**2, rel=0.1 if runs == 1500 else 0.2)


def test_too_few_trials_cannot_tell():
    with pytest.raises(FitError, match="cannot tell: 2 trials are too few"):
        pool([1.0, 2.0], [0.1, 0.1])


@pytest.mark.parametrize("bad", [0.0, -1.0, math.nan, math.inf])
def test_an_uncertainty_that_is_none_is_named(bad):
    with pytest.raises(InputError, match=r"estimate 2: 2 with standard uncertainty"):
        pool([1.0, 2.0, 3.0], [0.1, bad, 0.1])


TRIALS = st.lists(
    st.tuples(st.floats(-50, 50), st.floats(0.01, 20)), min_size=3, max_size=12
)  # fmt: skip
QUICK = settings(max_examples=150, deadline=None)


def both(trials, method):
    y, u = zip(*trials, strict=True)
    return pool(y, u, method=method)


METHODS = st.sampled_from(["REML", "DL"])


@pytest.mark.parametrize("apart", [0.0, 7.1e-159, 1e-12])
def test_trials_next_to_no_distance_apart_have_no_heterogeneity(apart):
    pooled = pool([0.0, 0.0, apart], [1.0, 1.0, 1.0], method="REML")
    assert (pooled.tau2, pooled.i2) == (0.0, 0.0)
    assert pooled.mean == pytest.approx(apart / 3, rel=1e-9)


@QUICK
@given(TRIALS, METHODS)
def test_what_always_holds(trials, method):
    pooled = both(trials, method)
    y = [t[0] for t in trials]
    assert pooled.tau2 >= 0
    assert 0 <= pooled.i2 < 1
    assert 0 <= pooled.q_p <= 1
    assert min(y) - 1e-9 <= pooled.mean <= max(y) + 1e-9
    assert sum(pooled.weights) == pytest.approx(1)
    assert pooled.prediction_low <= pooled.low < pooled.mean < pooled.high
    assert pooled.high <= pooled.prediction_high


@QUICK
@given(TRIALS, METHODS, st.randoms(use_true_random=False))
def test_order_does_not_matter(trials, method, rng):
    mixed = list(trials)
    rng.shuffle(mixed)
    a, b = both(trials, method), both(mixed, method)
    for name in ("mean", "u", "low", "high", "tau2", "prediction_low"):
        assert getattr(a, name) == pytest.approx(getattr(b, name), rel=1e-6, abs=1e-6)


@QUICK
@given(TRIALS, METHODS, st.floats(0.01, 100), st.floats(-100, 100))
def test_another_unit_changes_nothing_but_the_unit(trials, method, scale, shift):
    a = both(trials, method)
    b = both([(scale * y + shift, scale * u) for y, u in trials], method)
    loose = {"rel": 1e-5, "abs": 1e-5 * scale}
    assert b.mean == pytest.approx(scale * a.mean + shift, **loose)
    assert b.high - b.low == pytest.approx(scale * (a.high - a.low), **loose)
    assert b.tau2 == pytest.approx(scale**2 * a.tau2, rel=1e-4, abs=1e-5 * scale**2)


@QUICK
@given(st.floats(-50, 50), st.lists(st.floats(0.01, 20), min_size=3, max_size=12), METHODS)
def test_trials_that_agree_are_pooled_as_one(value, u, method):
    pooled: Pooled = pool([value] * len(u), u, method=method)
    w = 1 / np.square(u)
    assert pooled.tau2 == 0
    assert pooled.mean == pytest.approx(value, abs=1e-9)
    assert pooled.u == pytest.approx(1 / math.sqrt(w.sum()))
    # a further trial differs from the mean's interval by one degree of freedom less alone
    k = len(u)
    ratio = stats.t.ppf(0.975, k - 2) / stats.t.ppf(0.975, k - 1)
    assert pooled.prediction_high - pooled.mean == pytest.approx(
        ratio * (pooled.high - pooled.mean), rel=1e-6
    )


@QUICK
@given(TRIALS)
def test_moment_estimator_never_leaves_what_its_definition_gives(trials):
    from statsmodels.stats.meta_analysis import combine_effects

    y, u = (np.array(v) for v in zip(*trials, strict=True))
    if np.ptp(y) > 1e-6:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", RuntimeWarning)  # it goes on below zero
            oracle = combine_effects(y, u**2, method_re="chi2")
        want = max(0.0, oracle.tau2)
        assert dersimonian_laird(y, u**2) == pytest.approx(want, rel=1e-6, abs=1e-9)
