"""Rates against the NIST/SEMATECH e-Handbook and the Poisson tails they are made of."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from beadworth.core.errors import InputError
from beadworth.wear.reliability import failure_rate


def test_no_failure_bounds_the_rate_by_three_over_the_hours():
    rate = failure_rate(0, 640.0)
    assert rate.high_per_h * 640.0 == pytest.approx(3.00, rel=0, abs=5e-3)
    assert rate.high_per_h == pytest.approx(-math.log(0.05) / 640.0, rel=1e-12)
    assert rate.low_per_h is None
    assert rate.rate_per_h is None
    assert "does not say that it cannot fail" in rate.sentence
    assert "never" not in rate.sentence


def test_rate_interval_reproduces_the_handbook_example():
    # e-Handbook 8.4.5.1: 2 failures in 800 h, 90 %: factors 0.3177 and 5.6281 on the mean time
    # between failures of 400 h, 127 h to 2251 h (MEM, confirmed by the page's own formula).
    rate = failure_rate(2, 800.0, 0.90)
    assert 1 / rate.high_per_h / 400 == pytest.approx(0.3177, rel=0, abs=5e-5)
    assert 1 / rate.low_per_h / 400 == pytest.approx(5.6281, rel=0, abs=6e-5)
    assert 1 / rate.high_per_h == pytest.approx(127, abs=0.5)
    assert 1 / rate.low_per_h == pytest.approx(2251, abs=0.5)


@given(st.integers(1, 60), st.floats(1.0, 1e5))
def test_rate_bounds_are_the_poisson_tails(failures, hours):
    rate = failure_rate(failures, hours)
    assert stats.poisson.sf(failures - 1, rate.low_per_h * hours) == pytest.approx(0.025, rel=1e-6)
    assert stats.poisson.cdf(failures, rate.high_per_h * hours) == pytest.approx(0.025, rel=1e-6)
    assert rate.low_per_h < rate.rate_per_h < rate.high_per_h


def test_bad_rates_are_refused_all_at_once():
    with pytest.raises(InputError) as caught:
        failure_rate(-1, 0.0, 1.0)
    assert len(caught.value.problems) == 3
