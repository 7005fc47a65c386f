"""Weighted kappa against worked examples and another program."""

import numpy as np
import pytest

from beadworth.core import InputError
from beadworth.witness.agreement import table_of, weighted_kappa

# Cohen 1968, Psychol. Bull. 70, 213, table 1: proportions of 200; prints kappa .492, weighted .348
# (the digits as the R package psych quotes them in its examples for cohen.kappa)
COHEN = np.array([[0.44, 0.07, 0.09], [0.05, 0.20, 0.05], [0.01, 0.03, 0.06]])
APART = np.array([[0, 1, 3], [1, 0, 6], [3, 6, 0]])

# 88 patients by two dermatologists, the worked example of weighted kappa in the manual of a
# statistics package (table and printed digits from memory): kappa 0.5082, error 0.0655, 95 % limits
# 0.3798 and 0.6366, linear weights.
SKIN = np.array([[10, 4, 1, 0], [5, 10, 12, 2], [2, 4, 12, 5], [0, 2, 6, 13]])


def test_the_printed_figures_of_cohen():
    assert weighted_kappa(COHEN * 200, 1 - APART / 6).kappa == pytest.approx(0.348, abs=5e-4)
    assert weighted_kappa(COHEN * 200, np.eye(3)).kappa == pytest.approx(0.492, abs=5e-4)


def test_the_worked_example_with_its_interval():
    found = weighted_kappa(SKIN, "linear")
    assert found.kappa == pytest.approx(0.5082, abs=5e-5)
    assert found.u == pytest.approx(0.0655, abs=5e-5)
    assert (found.low, found.high) == (
        pytest.approx(0.3798, abs=5e-5), pytest.approx(0.6366, abs=5e-5)
    )  # fmt: skip
    assert found.count == 88


@pytest.mark.parametrize("kind", ["linear", "quadratic"])
def test_as_another_program_has_it(kind):
    from statsmodels.stats.inter_rater import cohens_kappa

    rng = np.random.default_rng(4)
    for _ in range(20):
        table = rng.integers(0, 9, (5, 5)) + 3 * np.eye(5, dtype=int)
        theirs = cohens_kappa(table, wt=kind)
        found = weighted_kappa(table, kind)
        assert found.kappa == pytest.approx(theirs.kappa, abs=1e-9)
        assert found.u == pytest.approx(theirs.std_kappa, abs=1e-9)


def test_full_agreement_is_one_and_one_grade_says_nothing():
    assert weighted_kappa(np.diag([4, 3, 2, 1, 1])).kappa == pytest.approx(1.0)
    assert weighted_kappa(np.diag([0, 9, 0, 0, 0])).kappa is None
    assert weighted_kappa(np.zeros((5, 5))).count == 0


def test_a_table_counts_pairs_and_refuses_what_is_no_grade():
    assert table_of([0, 4, 4], [0, 3, 4])[4].tolist() == [0, 0, 0, 1, 1]
    with pytest.raises(InputError, match="2 grades cannot be held against 1"):
        table_of([0, 1], [0])
    with pytest.raises(InputError, match="grades go from 0 to 4"):
        table_of([5], [0])
