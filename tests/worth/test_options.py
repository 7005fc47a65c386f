"""Options: dominance, scores, rankings, and what weights can never do."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from beadworth.core.errors import InputError
from beadworth.worth.estimate import Money
from beadworth.worth.options import (
    COST,
    HOURS,
    NOTHING,
    Criterion,
    Effect,
    Option,
    compare_options,
)

CRITERIA = (Criterion(name=HOURS, unit="h/year"), Criterion(name="noise", better="less"))


def option(name, cost, hours, noise=0.0, evidence="measured here", **spread):
    return Option(
        name=name,
        cost=Money(value=cost),
        effects={
            HOURS: Effect(evidence=evidence, **(spread or {"value": hours})),
            "noise": Effect(value=noise, evidence="claimed"),
        },
    )


def table(options, weights=None, seed=1):
    return compare_options(options, CRITERIA, weights or {}, np.random.default_rng(seed))


def row(found, name):
    return next(r for r in found.rows if r.name == name)


def test_do_nothing_is_always_among_them():
    found = table([option("new hot end", 100.0, 50.0)])
    nothing = row(found, NOTHING)
    assert nothing.cost.middle == 0.0
    assert not nothing.dominated
    only = table([])
    assert [r.name for r in only.rows] == [NOTHING]


def test_a_score_is_the_weighted_place_between_worst_and_best():
    # reckoned on paper: cost 0/60/100 → places 1, 0.4, 0; hours 0/50/40 → 0, 1, 0.8; noise alike
    found = table([option("a", 60.0, 50.0), option("b", 100.0, 40.0)], {COST: 2.0, HOURS: 1.0})
    assert found.shares == {COST: 0.5, HOURS: 0.25, "noise": 0.25}
    assert row(found, NOTHING).score == pytest.approx(0.5)
    assert row(found, "a").score == pytest.approx(0.5 * 0.4 + 0.25)
    assert row(found, "b").score == pytest.approx(0.25 * 0.8)
    assert row(found, "b").dominated_by == ("a",)
    assert [r.name for r in found.rows] == [NOTHING, "a", "b"]


def test_an_unknown_effect_gives_no_score_and_is_not_dominated():
    silent = Option(name="hearsay", cost=Money(value=500.0), effects={})
    found = table([silent, option("a", 60.0, 50.0)])
    assert row(found, "hearsay").score is None
    assert row(found, "hearsay").grade is None
    assert not row(found, "hearsay").dominated
    assert found.rows[-1].name == "hearsay"


def test_the_grade_is_that_of_the_weakest_evidence():
    assert row(table([option("a", 1.0, 1.0)]), "a").grade == "claimed"


def test_the_share_of_draws_it_comes_first_in():
    # two options alike but for hours drawn from the same rectangle: a coin
    rivals = [option(n, 60.0, 0.0, low=10.0, high=90.0) for n in "ab"]
    found = table(rivals, {COST: 0.001})
    shares = [row(found, n).first_share for n in "ab"]
    assert shares[0] == pytest.approx(0.5, abs=0.03)
    assert sum(r.first_share for r in found.rows) == pytest.approx(1.0)


def test_rankings_tell_where_the_lead_changes():
    # nothing: places (cost, hours, noise) = (1, 0, ·); a: (0, 1, ·). With the share of hours w
    # against cost and noise at 1:1, nothing leads while (1−w)/2 > w, that is below one third.
    found = table([option("a", 60.0, 50.0)])
    hours = next(r for r in found.rankings if r.criterion == HOURS)
    ((share, before, after),) = hours.changes
    assert (before, after) == (NOTHING, "a")
    assert share == pytest.approx(1 / 3)
    assert hours.weight == pytest.approx(1 / 3)
    assert hours.scores["a"][0] == pytest.approx(0.0)
    assert hours.scores["a"][-1] == pytest.approx(1.0)


@pytest.mark.parametrize("weight", [0.0, -1.0, float("nan"), float("inf")])
def test_a_weight_that_is_none_is_refused_with_the_remedy(weight):
    with pytest.raises(InputError, match="leave the criterion out") as caught:
        table([option("a", 1.0, 1.0)], {HOURS: weight})
    assert caught.value.problems[0].where == f"weight of {HOURS}"


def test_two_options_of_one_name_are_refused():
    with pytest.raises(InputError, match="two options"):
        table([option("a", 1.0, 1.0), option("a", 2.0, 1.0)])


SMALL = st.integers(0, 4).map(float)
OPTIONS = st.lists(st.tuples(SMALL, SMALL, SMALL), min_size=1, max_size=6).map(
    lambda rows: [option(f"o{n}", *row) for n, row in enumerate(rows)]
)
WEIGHT = st.floats(0.01, 100.0)


@given(OPTIONS, WEIGHT, WEIGHT, WEIGHT)
@settings(deadline=None)
def test_a_dominated_option_is_never_first_under_any_weights(options, cost, hours, noise):
    found = table(options, {COST: cost, HOURS: hours, "noise": noise})
    best = max(r.score for r in found.rows)
    for r in found.rows:
        if r.dominated:
            assert r.score < best
            for other in r.dominated_by:
                assert row(found, other).score > r.score
    assert not found.rows[0].dominated


@given(OPTIONS, WEIGHT, WEIGHT)
@settings(deadline=None)
def test_lead_changes_agree_with_the_scores_beside_them(options, cost, hours):
    found = table(options, {COST: cost, HOURS: hours})
    for ranking in found.rankings:
        lead = None
        shares = [share for share, _, _ in ranking.changes]
        assert shares == sorted(shares)
        for share, before, after in ranking.changes:
            assert lead in (None, before)
            lead = after
            at = np.interp(share, ranking.at, ranking.scores[before])
            assert at == pytest.approx(np.interp(share, ranking.at, ranking.scores[after]))
        ends = {name: line[-1] for name, line in ranking.scores.items()}
        if lead is not None:
            assert ends[lead] == pytest.approx(max(ends.values()))


@given(OPTIONS, WEIGHT)
@settings(deadline=None)
def test_scaling_all_weights_changes_nothing(options, factor):
    one = table(options, {COST: 1.0, HOURS: 2.0, "noise": 3.0})
    many = table(options, {COST: factor, HOURS: 2 * factor, "noise": 3 * factor})
    assert [r.name for r in one.rows] == [r.name for r in many.rows]
