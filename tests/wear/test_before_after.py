"""Before and after against published examples and scipy."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from beadworth.core.errors import FitError, InputError
from beadworth.wear.before_after import paired_change, unpaired_change

# NIST/SEMATECH e-Handbook 7.3.1 (data MEM; results CALC in separate code).
OLD = [32, 37, 35, 28, 41, 44, 35, 31, 34, 38, 42]
NEW = [36, 31, 30, 31, 34, 36, 29, 32, 31]
# Student, The probable error of a mean, Biometrika 6 (1908): hours of sleep gained with two
# drugs by ten people (data MEM; results CALC in separate code).
FIRST = [0.7, -1.6, -0.2, -1.2, -0.1, 3.4, 3.7, 0.8, 0.0, 2.0]
SECOND = [1.9, 0.8, 1.1, 0.1, -0.1, 4.4, 5.5, 1.6, 4.6, 3.4]


def test_unpaired_reproduces_the_handbook_processes():
    found = unpaired_change(NEW, OLD)
    assert found.t == pytest.approx(2.269373, rel=0, abs=5e-7)
    assert found.dof == pytest.approx(15.5325, rel=0, abs=5e-5)
    assert found.p == pytest.approx(0.037879, rel=0, abs=5e-7)
    assert found.difference == pytest.approx(36.0909 - 32.2222, abs=1e-4)


def test_paired_reproduces_student_and_pairing_changes_the_verdict():
    # first less second, as printed: second is 'before' here
    paired = paired_change(SECOND, FIRST)
    assert paired.t == pytest.approx(-4.062128, rel=0, abs=5e-7)
    assert paired.dof == 9
    assert paired.p == pytest.approx(0.00283289, rel=0, abs=5e-9)
    assert (paired.low, paired.high) == pytest.approx((-2.4598858, -0.7001142), rel=0, abs=5e-8)
    assert paired.resolved
    apart = unpaired_change(SECOND, FIRST)
    assert apart.t == pytest.approx(-1.860813, rel=0, abs=5e-7)
    assert apart.dof == pytest.approx(17.77647, rel=0, abs=5e-6)
    assert apart.p == pytest.approx(0.0793941, rel=0, abs=5e-8)
    assert (apart.low, apart.high) == pytest.approx((-3.3654832, 0.2054832), rel=0, abs=5e-8)
    assert not apart.resolved


@given(
    st.lists(st.integers(-50, 50), min_size=2, max_size=12),
    st.lists(st.integers(-50, 50), min_size=2, max_size=12),
)
def test_unpaired_agrees_with_scipy(before, after):
    if len(set(before)) == 1 or len(set(after)) == 1:  # their library warns of precision
        if len(set(before)) == len(set(after)):
            with pytest.raises(FitError, match="do not scatter"):
                unpaired_change(before, after)
        return
    found = unpaired_change(before, after)
    theirs = stats.ttest_ind(after, before, equal_var=False)
    assert found.t == pytest.approx(float(theirs.statistic), rel=1e-9, abs=1e-12)
    assert found.p == pytest.approx(float(theirs.pvalue), rel=1e-9)
    interval = theirs.confidence_interval(0.95)
    assert (found.low, found.high) == pytest.approx((interval.low, interval.high), rel=1e-9)


def test_the_sentence_says_how_much_or_that_nothing_is_resolved():
    assert (
        unpaired_change(NEW, OLD)
        .sentence("g")
        .startswith("3.87 g more than before (0.246 to 7.49 g, 95\u00a0%)")
    )
    assert unpaired_change(SECOND, FIRST).sentence("h").startswith("No change resolved")


def test_what_cannot_be_compared_is_refused():
    with pytest.raises(FitError, match="after: cannot tell: 1 reading,"):
        unpaired_change([1.0, 2.0], [1.0])
    with pytest.raises(FitError, match="pair"):
        paired_change([1.0], [2.0])
    with pytest.raises(FitError, match="do not scatter"):
        paired_change([1.0, 2.0], [2.0, 3.0])
    with pytest.raises(InputError, match="cannot be paired"):
        paired_change([1.0, 2.0], [1.0])
    with pytest.raises(InputError, match="confidence"):
        unpaired_change(OLD, NEW, confidence=math.nan)
