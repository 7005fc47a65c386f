"""Checks of a balance against published tables, and what a budget takes of them."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import numpy as np
import pytest
from loops import fewest, some

from beadworth.core import RecordError, from_mapping
from beadworth.trial import (
    Balance,
    BalanceCheck,
    Spool,
    describe_weighing,
    drift,
    linearity,
    measured_balance,
    repeatability,
)
from beadworth.trial.planning.balance_checks import sd_interval, sd_relative_u
from beadworth.trial.planning.budget import loss_budget

DATA = Path(__file__).parent / "data"
DAY = date(2026, 11, 30)


def check(kind="repeatability", shown=(1.784, 1.783, 1.785, 1.784, 1.785), at=(), **more):
    data = {"balance": "B", "kind": kind, "on": "2026-11-30", "shown_g": shown, "at": at,
            "step_g": 0.001} | more  # fmt: skip
    return from_mapping(BalanceCheck, data, "balance check")


# NIST StRD, univariate summary statistics, files verbatim; certified standard deviation by its
# words, data from the line under the dashes.
@pytest.mark.parametrize("name", ["Mavro", "NumAcc2"])
def test_the_standard_deviation_is_the_certified_one(name):
    lines = (DATA / f"{name}.dat").read_text().splitlines()
    certified = next(line.split(":")[1] for line in lines if "denom. = n-1" in line)
    start = next(n for n, line in enumerate(lines) if line.startswith("----"))
    values = [float(line) for line in lines[start + 1 :] if line.strip()]
    found = repeatability(values, step_g=1e-6)
    assert found.sd_g == pytest.approx(float(certified), rel=1e-12)
    assert found.dof == len(values) - 1


# JCGM 100:2008 (GUM), table E.1: standard deviation of the experimental standard deviation of the
# mean, relative to that of the mean, in whole per cent (from memory).
GUM_E1 = {2: 76, 3: 52, 4: 42, 5: 36, 10: 24, 20: 16, 30: 13, 50: 10}


@pytest.mark.parametrize(("n", "printed"), GUM_E1.items())
def test_how_well_few_placings_say_it_as_in_gum_table_e1(n, printed):
    assert 100 * sd_relative_u(n) == pytest.approx(printed, abs=0.5)


# Critical values of chi-square, NIST/SEMATECH e-Handbook 1.3.6.7.4 (from memory): upper 0.975,
# lower 0.025.
CHI2 = {4: (11.143, 0.484), 9: (19.023, 2.700), 19: (32.852, 8.907)}


@pytest.mark.parametrize(("dof", "quantiles"), CHI2.items())
def test_the_interval_of_a_standard_deviation_by_the_chi_square_table(dof, quantiles):
    low, high = sd_interval(dof)
    assert dof / low**2 == pytest.approx(quantiles[0], abs=5e-4)
    assert dof / high**2 == pytest.approx(quantiles[1], abs=5e-4)


def test_the_interval_holds_the_truth_as_often_as_it_says():
    rng, runs = np.random.default_rng(5), some(400, long=10_000)
    held = 0
    for _ in range(runs):
        found = repeatability(list(rng.normal(1.8, 0.004, 5)), step_g=1e-5)
        held += found.low_g <= 0.004 <= found.high_g
    assert fewest(runs, 0.95) <= held <= runs - fewest(runs, 0.05)


def test_placings_that_all_agree_are_not_taken_for_perfect():
    found = repeatability([1.78] * 5, step_g=0.01)
    assert (found.sd_g, found.dof, found.relative_u) == (0.005, None, None)
    # at that scatter five placings in the middle of a step all show it once in twenty
    rng = np.random.default_rng(1)
    shown = np.round(rng.normal(0, found.high_g, (20_000, 5)) / 0.01)
    assert (np.ptp(shown, axis=1) == 0).mean() == pytest.approx(0.05, abs=0.006)
    assert repeatability([1.78] * 4 + [1.79], step_g=0.01).dof == 4


def test_drift_is_told_from_none_only_where_it_is():
    minutes = [0, 10, 20, 30, 40]
    steady = drift(minutes, [1.784, 1.785, 1.784, 1.785, 1.784])
    rising = drift(minutes, [1.784, 1.785, 1.786, 1.786, 1.788])
    assert not steady.resolved
    assert rising.resolved
    assert rising.g_per_hour == pytest.approx(60 * 9e-5, rel=1e-6)
    # against numpy's least squares, scaled covariance
    slope, cov = np.polyfit(minutes, [1.784, 1.785, 1.786, 1.786, 1.788], 1, cov=True)
    assert rising.g_per_hour == pytest.approx(60 * slope[0], rel=1e-9)
    assert rising.u_g_per_hour == pytest.approx(60 * np.sqrt(cov[0, 0]), rel=1e-9)


def test_linearity_leaves_a_common_scale_error_out():
    known = [0.0, 1.0, 2.0, 5.0, 10.0]
    straight = linearity(known, [1.001 * mass + 0.002 for mass in known])
    assert straight.largest_g == pytest.approx(0, abs=1e-12)
    assert straight.slope_error == pytest.approx(0.001)
    assert straight.errors_g[-1] == pytest.approx(0.012)
    bent = linearity(known, [0.0, 1.0, 2.003, 5.0, 10.0])
    line = np.polyfit(known, [0, 0, 0.003, 0, 0], 1)
    left = np.array([0, 0, 0.003, 0, 0]) - np.polyval(line, known)
    assert bent.largest_g == pytest.approx(np.abs(left).max())


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"shown": (1.0, 1.1)}, "2 values: a check of repeatability needs 3 at least."),
        ({"kind": "drift", "shown": (1.0, 1.1)}, "2 values: a check of drift needs 3 at least."),
        ({"kind": "linearity", "shown": (1, 2, 3), "at": (1, 2, 3)},
         "3 values: a check of linearity needs 4 at least."),
        ({"kind": "drift", "shown": (1, 1, 1), "at": (0, 1)}, "2 times stand beside 3 values."),
        ({"at": (0, 1, 2, 3, 4)}, "5 times or masses stand beside 5 values."),
        ({"kind": "drift", "shown": (1, 1, 1), "at": (5, 5, 5)}, "all stand at the same place."),
        ({"step_g": 0.0}, "0.0 is not above 0."),
    ],
)  # fmt: skip
def test_a_check_that_says_nothing_is_refused(change, said):
    with pytest.raises(RecordError) as refusal:
        check(**change)
    assert [problem.what for problem in refusal.value.problems] == [said]


def test_a_budget_takes_what_was_measured():
    checks = [
        check(shown=(1.80, 1.81, 1.82), on="2026-10-01"),
        check(),
        check("linearity", (0.0, 1.0, 2.002, 5.0), (0, 1, 2, 5)),
    ]
    made = measured_balance(checks, Balance(readability_g=0.01, repeatability_g=0.01))
    assert made.readability_g == 0.001
    assert made.repeatability_g == pytest.approx(np.std([4, 3, 5, 4, 5], ddof=1) / 1000, abs=5e-7)
    assert (made.repeatability_dof, made.repeatability_on) == (4, DAY)
    assert made.linearity_on == DAY
    spool = Spool(diameter_u_mm=0.005)
    budget = loss_budget(balance=made, spool=spool, filament_mm=600, diameter_mm=1.75,
                         density_g_cm3=1.24, replicates=3, references=7)  # fmt: skip
    rows = {row.source: row for row in budget.lines}
    row = rows["repeatability measured 2026-11-30, tare and gross, 3 coupons"]
    assert (row.evaluation, row.dof) == ("A", 4)
    assert "linearity measured 2026-11-30, coupons against references" in rows
    assert describe_weighing(made) == (
        "readability 0.001 g; repeatability 0.000837 g, measured 2026-11-30 (5 weighings); "
        "linearity ± 0.0015 g, measured 2026-11-30"
    )


def test_what_was_not_measured_is_said_to_be_assumed():
    assert describe_weighing(Balance()) == "readability 0.01 g; repeatability 0.01 g, assumed"
    stated = Balance(repeatability_g=0.004, repeatability_dof=9)
    assert describe_weighing(stated) == (
        "readability 0.01 g; repeatability 0.004 g, stated (10 weighings)"
    )
    assert measured_balance([], Balance(repeatability_g=0.02)).repeatability_g == 0.02
