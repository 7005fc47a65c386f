"""Whether a check moved as a whole: false changes, true ones, direction, season, rounding."""

from datetime import date, timedelta

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from loops import fewest, some
from scipy import stats

from beadworth.wear.alternatives import SIDE
from beadworth.wear.before_after import unpaired_change
from beadworth.wear.course import course_of
from beadworth.wear.log import Series
from beadworth.wear.summary import ChartSettings, series_report

DAY = date(2026, 3, 2)


def days(count, every=30.4375):
    return [float(round(every * n)) for n in range(count)]


def report(values, every=30, checks=1, **settings):
    dates = tuple(DAY + timedelta(days=every * n) for n in range(len(values)))
    series = Series("play", "", "mm", dates, tuple(map(float, values)), (0.0,) * len(values))
    return series_report(series, ChartSettings(**settings), checks)


def test_a_rise_from_the_first_reading_on_is_a_rise():
    found = report(np.round(np.linspace(0.020, 0.080, 10), 3))
    assert found.course.kind == "slope"
    assert found.finding.startswith(
        "rises by 0.0068 mm a month over 10 readings, so its first readings are no baseline for "
        "the rest. Chance of as much in a log that never changed: under 0.1 %. Less than a year "
        "is logged: a season can look the same."
    )
    assert found.signals == ()
    fall = report(np.round(np.linspace(0.080, 0.020, 10), 3))
    assert fall.finding.startswith("falls by 0.0068 mm a month")


def test_a_step_is_told_with_its_place_and_size():
    rng = np.random.default_rng(61)
    values = 0.05 + 0.004 * rng.standard_normal(30) + 0.03 * (np.arange(30) >= 17)
    found = report(np.round(values, 4), every=7)
    assert (found.course.kind, found.course.at) == ("step", 17)
    assert found.course.size == pytest.approx(0.03, abs=0.005)
    assert found.finding.startswith(f"stepped up by {found.course.size:.3f} mm between 2026-06-22")


def test_a_slope_is_the_least_squares_slope():
    """Against scipy's line through the same readings."""
    rng = np.random.default_rng(62)
    t = np.array(days(18))
    y = 0.3 * t / 30.4375 + rng.standard_normal(18)
    found = course_of(t, y)
    line = stats.linregress(t / 30.4375, y)
    assert found.kind == "slope"
    if found.season is None:
        assert found.size == pytest.approx(line.slope, rel=1e-9)


def test_chances_of_unchanged_logs_are_even():
    """P(chance < x) = x: Kolmogorov-Smirnov over 300 logs of ten and of thirty readings."""
    rng = np.random.default_rng(63)
    for count in (10, 30):
        found = [course_of(days(count, 7.0), rng.standard_normal(count)) for _ in range(300)]
        found = [c.chance for c in found if c.neighbours == 0]
        assert stats.kstest(found, "uniform").pvalue > 1e-3


DRAWS = {
    "independent": lambda rng, n: np.round(rng.standard_normal(n), 3),
    "coarse": lambda rng, n: np.round(rng.standard_normal(n)),
    "very coarse": lambda rng, n: 2 * np.round(rng.standard_normal(n) / 2),
    "season": lambda rng, n: (
        rng.standard_normal(n) + np.sin(2 * np.pi * (np.arange(n) / 12 + rng.random()))
    ),
    "loud season": lambda rng, n: (
        rng.standard_normal(n) + 3 * np.sin(2 * np.pi * (np.arange(n) / 12 + rng.random()))
    ),
}


@pytest.mark.parametrize("name", DRAWS)
@pytest.mark.parametrize("checks", [1, 4])
def test_two_years_without_a_change_show_one_in_one_log_of_twenty(name, checks):
    logs = some(120, long=2000)
    rng = np.random.default_rng([64, checks, sum(map(ord, name))])
    shown = 0
    for _ in range(logs):
        found = [report(DRAWS[name](rng, 24), checks=checks) for _ in range(checks)]
        shown += any(f.signals or (f.course and f.course.changed) for f in found)
    # a season of three deviations is found a little too often (docs/explanation/wear.md: 6.1 %)
    assert shown <= logs - fewest(logs, 0.935 if name == "loud season" else 0.95)


@pytest.mark.parametrize("at", [8, 12, 16])
def test_a_step_of_two_deviations_is_seen(at):
    """By one check alone; docs/explanation/wear.md has 92 to 96 %."""
    logs = some(100, long=1000)
    rng = np.random.default_rng([65, at])
    seen = sum(
        course_of(
            days(24), np.round(rng.standard_normal(24), 3) + 2 * (np.arange(24) >= at)
        ).changed
        for _ in range(logs)
    )
    assert seen >= fewest(logs, 0.9)


def test_a_slope_of_a_tenth_of_a_deviation_a_month_is_seen_in_most_two_year_logs():
    rng = np.random.default_rng(66)
    logs = some(100, long=1000)
    found = [
        course_of(days(24), rng.standard_normal(24) + 0.1 * np.arange(24)) for _ in range(logs)
    ]
    assert sum(f.changed for f in found) >= fewest(logs, 0.65)
    assert all(f.size > 0 for f in found if f.changed)


def test_one_step_of_the_display_is_no_change():
    values = [0.05] * 12 + [0.06] * 12
    assert not course_of(days(24), values).changed
    assert course_of(days(24), [0.05] * 12 + [0.07] * 12).changed


def test_neighbours_that_agree_are_reckoned_with_and_named():
    rng = np.random.default_rng(67)
    shown = {0.0: 0, 0.6: 0}
    for correlation in shown:
        for _ in range(60):
            y = rng.standard_normal(104)
            for n in range(1, 104):
                y[n] = correlation * y[n - 1] + np.sqrt(1 - correlation**2) * y[n]
            shown[correlation] += course_of(days(104, 7.0), np.round(y, 3)).changed
    assert shown[0.0] <= 60 - fewest(60, 0.95)
    assert shown[0.6] <= 60 - fewest(60, 0.85)  # two years of weeks tell the correlation
    y = np.repeat([0.0, 1.0, 0.2, 0.8, 0.1, 0.9, 0.3], 6) + 0.01 * np.arange(42) % 3
    assert "Neighbouring readings agree more" in report(np.round(y, 3), every=7).finding


def test_a_season_is_named_where_a_year_was_logged():
    rng = np.random.default_rng(68)
    y = 3 * np.sin(2 * np.pi * np.arange(30) / 12) + 0.3 * rng.standard_normal(30)
    y += 0.2 * np.arange(30)
    found = report(np.round(y, 2))
    assert found.course.kind == "slope"
    assert found.course.season == pytest.approx(3.0, abs=0.4)
    assert found.course.size == pytest.approx(0.2 * 30.4375 / 30, rel=0.2)
    assert "A yearly season of ±" in found.finding


@given(st.lists(st.integers(-40, 40), min_size=6, max_size=20), st.integers(-1000, 1000))
def test_a_level_added_or_the_scale_turned_over_changes_only_the_sign(values, shift):
    t = days(len(values))
    plain, moved, turned = (
        course_of(t, v) for v in (values, [v + shift for v in values], [-v for v in values])
    )
    assert (plain.kind, plain.at) == (moved.kind, moved.at) == (turned.kind, turned.at)
    assert plain.chance == pytest.approx(moved.chance, abs=2e-3)
    assert plain.size == pytest.approx(-turned.size, abs=1e-9)
    if plain.at is not None:
        assert SIDE <= plain.at <= len(values) - SIDE


def test_before_and_after_a_steady_trend_is_not_told_as_the_changes_doing():
    logs = some(150, long=1000)
    rng = np.random.default_rng(69)
    open_ones = resolved = 0
    for _ in range(logs):
        y = rng.standard_normal(24) + 0.1 * np.arange(24)
        found = unpaired_change(y[:12], y[12:], days=days(24))
        resolved += found.resolved
        open_ones += found.resolved and found.trend_open
    assert resolved > 0.5 * logs  # Welch's test alone takes most of them for a change
    assert open_ones >= fewest(resolved, 0.88)


def test_before_and_after_says_what_it_supposes():
    step = unpaired_change([1.0, 1.1, 0.9, 1.0] * 3, [3.0, 3.1, 2.9, 3.0] * 3, days=days(24))
    assert not step.trend_open
    assert step.sentence("mm") == (
        "2 mm more than before (1.94 to 2.06 mm, 95\u00a0%). Supposes readings that scatter "
        "independently and a level on either side."
    )
    trend = unpaired_change([1.0, 1.22, 1.38], [1.61, 1.82, 2.0], days=days(6))
    assert trend.trend_open
    assert trend.trend_per_month == pytest.approx(0.2033, rel=1e-2)
    assert (
        "A steady trend of +0.2 mm a month through both sides would give as much, and the "
        "readings do not rule it out: this need not be the change's doing."
    ) in trend.sentence("mm")
