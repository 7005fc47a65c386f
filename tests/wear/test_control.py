"""Control charts against the NIST/SEMATECH e-Handbook, and what must hold of any series."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from loops import fewest, some

from beadworth.core.errors import FitError, InputError
from beadworth.wear.control import (
    D2_PAIRS,
    RUN,
    baseline_of,
    ewma_chart,
    individuals_chart,
    sigma_u_relative,
)
from beadworth.wear.limits import limit_width

# NIST/SEMATECH e-Handbook 6.3.2.2, flow rates of ten batches: printed results, half a unit in
# the last printed digit.
FLOWS = [49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1]
# e-Handbook 6.3.2.4: target 50, s 2.0539, weight 0.3; the average before the first reading on.
EWMA_DATA = [52.0, 47.0, 53.0, 49.3, 50.1, 47.0, 51.0, 50.1, 51.2, 50.5, *FLOWS]
EWMA_PRINTED = [
    50.00, 50.60, 49.52, 50.56, 50.18, 50.16, 49.21, 49.75, 49.85, 50.26, 50.33, 50.11, 49.36,
    49.52, 50.05, 49.38, 49.92, 50.73, 51.23, 51.94, 51.99,
]  # fmt: skip


@pytest.mark.parametrize(
    ("name", "printed", "half_digit"),
    [
        ("center", 50.81, 5e-3),
        ("mean_moving_range", 1.8778, 5e-5),
        ("upper", 55.8041, 5e-5),
        ("lower", 45.8159, 5e-5),
    ],
)
def test_individuals_chart_reproduces_the_handbook(name, printed, half_digit):
    chart = individuals_chart(FLOWS)
    found = getattr(chart, name, None) or getattr(chart.baseline, name)
    assert found == pytest.approx(printed, rel=0, abs=half_digit)


def test_the_handbook_series_is_in_control():
    assert individuals_chart(FLOWS, more_rules=True).signals == ()


def test_ewma_reproduces_the_handbook():
    chart = ewma_chart(EWMA_DATA, center=50.0, sigma=2.0539, weight=0.3)
    assert [chart.center, *chart.averages] == pytest.approx(EWMA_PRINTED, rel=0, abs=5e-3)
    assert chart.upper_settled == pytest.approx(52.5884, rel=0, abs=5e-5)
    assert chart.lower_settled == pytest.approx(47.4115, rel=0, abs=7e-5)  # printed cut off
    assert chart.signals == ()


def test_exact_ewma_limits_are_those_of_the_average_itself():
    # The variance of a weighted sum of independent readings, added up term by term.
    weight = 0.25
    chart = ewma_chart([0.0] * 12, center=0.0, sigma=1.0, weight=weight)
    for t, upper in enumerate(chart.upper, 1):
        terms = sum((weight * (1 - weight) ** k) ** 2 for k in range(t))
        assert upper == pytest.approx(3 * math.sqrt(terms), rel=1e-12)
    assert chart.upper[-1] < chart.upper_settled


def test_relative_uncertainty_of_sigma_is_what_simulated_baselines_scatter_by():
    rng = np.random.default_rng(5)
    for count in (5, 10, 30):
        ranges = np.abs(np.diff(rng.standard_normal((40_000, count)), axis=1)).mean(axis=1)
        spread = ranges.std() / ranges.mean()
        assert sigma_u_relative(count) == pytest.approx(spread, rel=0.015)
    # the large-sample constant 0.826 (Cryer and Ryan 1990, from memory)
    assert sigma_u_relative(100_000) ** 2 * 100_000 == pytest.approx(0.826, abs=1e-3)


def test_a_step_a_run_and_a_drift_are_each_named():
    flat = [10.0, 10.2, 9.9, 10.1, 9.8, 10.0, 10.1, 9.9, 10.2, 9.8]
    jumped = individuals_chart([*flat, 12.0], baseline=10, more_rules=True)
    assert {s.rule for s in jumped.signals} == {"beyond a limit", "jump"}
    assert all(s.index == 10 for s in jumped.signals)
    assert "12 is above the upper limit" in jumped.signals[0].words

    shifted = individuals_chart([*flat, *[10.2] * RUN], baseline=10, more_rules=True)
    assert [(s.rule, s.index) for s in shifted.signals] == [("run on one side", 10 + RUN - 1)]
    assert not individuals_chart([*flat, *[10.2] * RUN], baseline=10).signals

    base = baseline_of(flat)
    slow = [*flat, *(10.0 + 0.06 * n for n in range(1, 13))]
    drift = ewma_chart(slow, center=base.center, sigma=base.sigma, weight=0.3)
    assert drift.signals
    assert "drifted up" in drift.signals[0].words
    # the average finds the slow drift before any single reading leaves its limits
    single = individuals_chart(slow, baseline=10).signals
    assert drift.signals[0].index < min((s.index for s in single), default=len(slow))


def test_a_target_moves_the_centre_and_not_the_scatter():
    free, held = individuals_chart(FLOWS), individuals_chart(FLOWS, target=49.0)
    assert held.baseline.center == 49.0
    assert held.baseline.sigma == free.baseline.sigma
    assert held.upper - held.lower == pytest.approx(free.upper - free.lower)


def test_false_alarms_come_as_seldom_as_three_sigma_says():
    # Limits known, normal readings: 0.27 % beyond (two-sided tail of 3 sigma).
    rng = np.random.default_rng(7)
    values = [1.0, -1.0] * 10 + list(rng.standard_normal(20_000))
    chart = individuals_chart(values, baseline=20)
    scale = 2.0 / D2_PAIRS  # sigma taken from the alternating baseline
    outside = math.erfc(3 * scale / math.sqrt(2))
    beyond = [s for s in chart.signals if s.rule == "beyond a limit"]
    assert len(beyond) / 20_000 == pytest.approx(
        outside, abs=4 * math.sqrt(outside / 20_000) + 1e-9
    )


def test_limits_of_a_short_baseline_are_passed_as_seldom_as_stated():
    """Independent readings: any of 14 after a baseline passes at the level, by both charts."""
    rng = np.random.default_rng(12)
    logs, level = some(1500, long=6000), 0.05
    for baseline in (5, 10, 20):
        beyond = drifted = 0
        for _ in range(logs):
            values = rng.standard_normal(baseline + 14)
            single = individuals_chart(
                values, baseline=baseline, width=limit_width(baseline, 14, level), first=baseline
            )
            base = single.baseline
            average = ewma_chart(
                values, center=base.center, sigma=base.sigma, first=baseline,
                width=limit_width(baseline, 14, level, 0.3),
            )  # fmt: skip
            beyond += bool(single.signals)
            drifted += bool(average.signals)
        most = logs - fewest(logs, 1 - level)
        assert beyond <= most
        assert drifted <= most
        assert min(beyond, drifted) >= 0.6 * level * logs  # no wider than it must be


def test_limits_are_never_narrower_than_the_handbooks():
    assert limit_width(10_000, 1, 0.1) == 3.0
    # a long baseline, one reading after: the two-sided normal quantile; 8000 logs tell it so well
    assert limit_width(400, 1, 0.001) == pytest.approx(3.29, abs=0.4)


def test_a_coarse_display_widens_limits_by_what_it_hides():
    plain, coarse = individuals_chart(FLOWS), individuals_chart(FLOWS, display=1.2)
    sigma = math.hypot(plain.baseline.sigma, 1.2 / math.sqrt(12))
    assert coarse.upper - coarse.baseline.center == pytest.approx(3 * sigma + 0.6)


@pytest.mark.parametrize(
    ("values", "count", "says"),
    [([1.0, 2.0], None, "2 readings are too few"), ([1.0] * 8, None, "all the same")],
)
def test_too_little_for_limits_is_cannot_tell(values, count, says):
    with pytest.raises(FitError, match=says) as caught:
        individuals_chart(values, baseline=count)
    assert "cannot tell" in str(caught.value)


def test_a_baseline_beyond_the_readings_and_odd_weights_are_refused():
    with pytest.raises(InputError, match="baseline of 12"):
        individuals_chart(FLOWS, baseline=12)
    for weight in (0.0, 1.2, math.nan):
        with pytest.raises(InputError, match="weight"):
            ewma_chart(FLOWS, center=50, sigma=2, weight=weight)
    with pytest.raises(InputError, match="standard deviation"):
        ewma_chart(FLOWS, center=50, sigma=0.0)


SERIES = st.lists(st.integers(-1000, 1000), min_size=6, max_size=30).filter(
    lambda values: len(set(values[:6])) > 1
)


@given(SERIES, st.integers(-10_000, 10_000), st.sampled_from([0.5, 2.0, 4.0]))
def test_unit_and_zero_of_the_scale_change_no_signal(values, shift, scale):
    # exact in binary, so that no reading crosses a limit by rounding
    plain = individuals_chart(values, baseline=6, more_rules=True)
    moved = individuals_chart([v * scale + shift for v in values], baseline=6, more_rules=True)
    near = [min(abs(v - plain.lower), abs(v - plain.upper)) for v in values]
    if min(near) > 1e-6:
        assert [(s.index, s.rule) for s in plain.signals] == [
            (s.index, s.rule) for s in moved.signals
        ] or any(abs(v - plain.baseline.center) < 1e-6 for v in values)


@given(SERIES)
def test_an_average_of_weight_one_is_the_reading(values):
    chart = ewma_chart(values, center=0.0, sigma=1.0, weight=1.0)
    assert list(chart.averages) == [float(v) for v in values]
    assert chart.upper == pytest.approx([3.0] * len(values))
