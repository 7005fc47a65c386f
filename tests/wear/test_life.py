"""Lives against the NIST/SEMATECH e-Handbook, scipy and statsmodels."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from loops import fewest, some
from scipy import stats

from beadworth.core.errors import FitError, InputError
from beadworth.wear.life import FEWEST_FAILURES, product_limit, weibull_life

# NIST/SEMATECH e-Handbook 8.4.1.3 (data of 8.2.2.1): 20 units, ten failures, ten taken off at
# 500 h. Data and printed results read in the handbook's page (PAGE).
HANDBOOK = [54, 187, 216, 240, 244, 335, 361, 373, 375, 386, *[500] * 10]
FAILED = [True] * 10 + [False] * 10
PRINTED = {
    "scale": (606.5280, 5e-4),  # the likelihood is highest at 606.52756: see the test below
    "shape": (1.7208, 5e-5),
    "mean_h": (540.737, 5e-3),
    "sd_h": (323.806, 5e-3),
    "log_likelihood": (-75.135, 5e-4),
    "aic": (154.27, 5e-3),
}


@pytest.fixture(scope="module")
def life():
    return weibull_life(HANDBOOK, FAILED)


@pytest.mark.parametrize("name", PRINTED)
def test_weibull_reproduces_the_handbook(life, name):
    printed, half_digit = PRINTED[name]
    found = {"scale": life.scale_h.value, "shape": life.shape.value}.get(name)
    found = getattr(life, name) if found is None else found
    assert found == pytest.approx(printed, rel=0, abs=half_digit)


def test_weibull_agrees_with_a_general_library_and_its_likelihood(life):
    censored = stats.CensoredData(uncensored=HANDBOOK[:10], right=HANDBOOK[10:])
    shape, _, scale = stats.weibull_min.fit(censored, floc=0)
    assert life.shape.value == pytest.approx(shape, rel=1e-4)
    assert life.scale_h.value == pytest.approx(scale, rel=1e-4)
    law = stats.weibull_min(life.shape.value, scale=life.scale_h.value)
    whole = law.logpdf(HANDBOOK[:10]).sum() + law.logsf(HANDBOOK[10:]).sum()
    assert life.log_likelihood == pytest.approx(whole, rel=1e-12)
    assert life.mean_h == pytest.approx(law.mean(), rel=1e-9)
    assert life.tenth_h.value == pytest.approx(law.ppf(0.1), rel=1e-9)


def _likelihood(shape, scale):
    law = stats.weibull_min(shape, scale=scale)
    return law.logpdf(HANDBOOK[:10]).sum() + law.logsf(HANDBOOK[10:]).sum()


def test_no_point_near_it_is_likelier_the_printed_one_included(life):
    shape, scale = life.shape.value, life.scale_h.value
    near = [(shape * a, scale * b) for a in (0.9999, 1, 1.0001) for b in (0.9999, 1, 1.0001)]
    for other in [*near, (1.7208, 606.5280)]:
        assert _likelihood(*other) <= life.log_likelihood + 1e-12


def test_profile_intervals_end_where_the_best_likelihood_left_is_down_by_the_drop(life):
    from scipy.optimize import minimize_scalar

    drop = 10 / 2 * math.log(1 + stats.t.ppf(0.975, 9) ** 2 / 9)
    for end in (life.shape.low, life.shape.high):
        best = minimize_scalar(
            lambda log_scale, end=end: -_likelihood(end, math.exp(log_scale)),
            bounds=(3, 12), method="bounded", options={"xatol": 1e-10},
        )  # fmt: skip
        assert -best.fun == pytest.approx(life.log_likelihood - drop, abs=1e-6)
    for estimate, k in ((life.scale_h, 1.0), (life.tenth_h, -math.log(0.9))):
        for end in (estimate.low, estimate.high):
            best = minimize_scalar(
                lambda shape, end=end, k=k: -_likelihood(shape, end / k ** (1 / shape)),
                bounds=(0.05, 20), method="bounded", options={"xatol": 1e-10},
            )  # fmt: skip
            assert -best.fun == pytest.approx(life.log_likelihood - drop, abs=1e-6)


def test_the_test_against_a_constant_rate_uses_the_exponential_likelihood(life):
    rate = 10 / sum(HANDBOOK)
    exponential = 10 * math.log(rate) - rate * sum(HANDBOOK)
    p = stats.chi2.sf(2 * (life.log_likelihood - exponential), 1)
    assert life.constant_rate_p == pytest.approx(p, rel=1e-9)


def test_profile_intervals_hold_the_truth_about_as_often_as_they_say():
    # Fewest failures allowed, a third still running: where half a chi-square would hold 0.89.
    rng = np.random.default_rng(11)
    held = {"shape": 0, "scale": 0}
    runs = some(150, long=600)
    for _ in range(runs):
        lives = np.sort(rng.weibull(2.0, 8)) * 400
        cut = lives[FEWEST_FAILURES - 1]
        found = weibull_life(np.minimum(lives, cut), lives <= cut)
        held["shape"] += found.shape.low <= 2.0 <= found.shape.high
        held["scale"] += found.scale_h.low <= 400.0 <= (found.scale_h.high or math.inf)
    for count in held.values():
        assert fewest(runs) <= count <= (0.975 if runs == 600 else 1.0) * runs


def test_the_drop_of_a_normal_mean_is_exact_and_tends_to_half_a_chi_square():
    from beadworth.wear.life import _drop

    readings = np.array([3.1, 2.7, 3.6, 2.9, 3.3])
    reach = stats.t.ppf(0.975, 4) * readings.std(ddof=1) / math.sqrt(5)

    def best(mean):
        return -5 / 2 * math.log(((readings - mean) ** 2).mean())

    mean = readings.mean()
    assert best(mean) - best(mean + reach) == pytest.approx(_drop(5, 0.95), rel=1e-12)
    assert _drop(10**6, 0.95) == pytest.approx(stats.chi2.ppf(0.95, 1) / 2, rel=1e-4)


def test_product_limit_agrees_with_statsmodels():
    from statsmodels.duration.survfunc import SurvfuncRight

    lives = [5, 5, 7, 9, 9, 12, 15, 15, 21]
    failed = [True, False, True, True, True, False, True, False, False]
    found = product_limit(lives, failed)
    theirs = SurvfuncRight(np.array(lives), np.array(failed).astype(int))
    assert found.times_h == pytest.approx(theirs.surv_times)
    assert found.share == pytest.approx(theirs.surv_prob)


def test_product_limit_without_censoring_is_the_share_left():
    found = product_limit([1, 2, 3, 4], [True] * 4)
    assert found.share == pytest.approx([0.75, 0.5, 0.25, 0.0])
    assert found.plotted == pytest.approx([0.125, 0.375, 0.625, 0.875])


def test_too_few_failures_is_cannot_tell():
    with pytest.raises(FitError, match=r"cannot tell how lives are spread: 4 failures"):
        weibull_life([100, 200, 300, 400, 500], [True] * 4 + [False])
    with pytest.raises(FitError, match="same time"):
        weibull_life([100.0] * 6, [True] * 6)


def test_bad_lives_are_refused_all_at_once():
    with pytest.raises(InputError) as caught:
        weibull_life([0.0, -3.0, math.nan], [True, True])
    assert len(caught.value.problems) == 4


@settings(max_examples=60)
@given(
    st.lists(st.integers(1, 5000), min_size=5, max_size=25),
    st.integers(0, 2**25 - 1),
    st.sampled_from([0.01, 1.0, 60.0]),
)
def test_a_life_law_counts_in_any_unit_and_bounds_what_it_says(lives, mask, unit):
    failed = [n < FEWEST_FAILURES or bool(mask >> n & 1) for n in range(len(lives))]
    if max(lives) == min(t for t, ended in zip(lives, failed, strict=True) if ended):
        with pytest.raises(FitError, match="same time"):
            weibull_life(lives, failed)
        return
    found = weibull_life(lives, failed)
    scaled = weibull_life([t * unit for t in lives], failed)
    assert scaled.shape.value == pytest.approx(found.shape.value, rel=1e-6)
    assert scaled.scale_h.value == pytest.approx(found.scale_h.value * unit, rel=1e-6)
    for estimate in (found.shape, found.scale_h, found.tenth_h):
        assert estimate.low is None or estimate.low < estimate.value
        assert estimate.high is None or estimate.high > estimate.value
