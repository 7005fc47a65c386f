"""Options: dominance, scores, rankings, and what weights can never do."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from loops import some

from beadworth.core.errors import BeadworthError, InputError
from beadworth.core.records import from_mapping
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

CRITERIA = (
    Criterion(name=COST, better="less", worst=100.0, best=0.0),
    Criterion(name=HOURS, unit="h/year", worst=0.0, best=50.0),
    Criterion(name="noise", better="less", worst=4.0, best=0.0),
)
BARE = tuple(c.model_copy(update={"worst": None, "best": None}) for c in CRITERIA)


def option(name, cost, hours, noise=0.0, evidence="measured here", **spread):
    return Option(
        name=name,
        cost=Money(value=cost),
        effects={
            HOURS: Effect(evidence=evidence, **(spread or {"value": hours})),
            "noise": Effect(value=noise, evidence="claimed"),
        },
    )


def table(options, weights=None, seed=1, criteria=CRITERIA, **more):
    return compare_options(options, criteria, weights or {}, np.random.default_rng(seed), **more)


def row(found, name):
    return next(r for r in found.rows if r.name == name)


def test_do_nothing_is_always_among_them():
    found = table([option("new hot end", 100.0, 50.0)])
    nothing = row(found, NOTHING)
    assert nothing.cost.middle == 0.0
    assert not nothing.dominated
    only = table([])
    assert [r.name for r in only.rows] == [NOTHING]


def test_a_score_is_the_weighted_place_on_the_stated_scale():
    # by hand: cost 0/60/100/20 of 100 → places 1, 0.4, 0, 0.8; hours 0/50/40/10 of 50 → 0, 1,
    # 0.8, 0.2; noise 0/0/0/1 of 4 → 1, 1, 1, 0.75
    three = [option("a", 60.0, 50.0), option("b", 100.0, 40.0), option("c", 20.0, 10.0, 1.0)]
    found = table(three, {COST: 2.0, HOURS: 1.0})
    assert found.shares == {COST: 0.5, HOURS: 0.25, "noise": 0.25}
    assert row(found, NOTHING).score == pytest.approx(0.5 + 0.25)
    assert row(found, "a").score == pytest.approx(0.5 * 0.4 + 0.25 + 0.25)
    assert row(found, "b").score == pytest.approx(0.25 * 0.8 + 0.25)
    assert row(found, "c").score == pytest.approx(0.5 * 0.8 + 0.25 * 0.2 + 0.25 * 0.75)
    assert row(found, "b").dominated_by == ("a",)
    assert [r.name for r in found.rows] == [NOTHING, "a", "c", "b"]
    assert (found.first, found.no_score) == (NOTHING, "")


def test_who_else_is_listed_moves_no_score():
    three = [option("a", 60.0, 50.0), option("c", 20.0, 10.0)]
    alone = table(three)
    for decoy in (option("decoy", 99.0, 1.0), option("far", 5000.0, 900.0), option("twin", 60, 49)):
        more = table([*three, decoy])
        for name in ("a", "c", NOTHING):
            assert row(more, name).score == row(alone, name).score


def test_no_listed_option_turns_the_order_of_two_others():
    """Random tables of three to six options, each with one more listed."""
    rng = np.random.default_rng(81)
    for _ in range(some(150, long=3000)):
        count = int(rng.integers(3, 7))
        drawn = [option(f"o{n}", *rng.uniform(0.0, (100.0, 50.0, 4.0))) for n in range(count)]
        decoy = option("decoy", *rng.uniform(0.0, (400.0, 200.0, 16.0)))
        one, more = table(drawn), table([*drawn, decoy])
        if one.no_score or more.no_score:
            continue
        order = [r.name for r in one.rows]
        assert [r.name for r in more.rows if r.name != "decoy"] == order


@pytest.mark.parametrize(("hours", "cost"), [(0.03, 1000.0), (100.0, 1.0)])
def test_one_upgrade_beside_doing_nothing_gets_no_score(hours, cost):
    found = table([option("a", cost, hours)], per_hour=lambda share: 2.0 + 0.0 * share)
    assert [r.score for r in found.rows] == [None, None]
    assert found.no_score == (
        "No score: 2 options stand undominated, and a score orders 3 or more. Compare what they "
        "cost and bring."
    )
    assert found.rankings == ()
    assert row(found, "a").net.value == pytest.approx(2 * hours - cost)
    assert found.first == ("a" if 2 * hours > cost else NOTHING)


def test_without_stated_scales_there_is_no_score():
    three = [option("a", 60.0, 50.0), option("c", 20.0, 10.0)]
    found = table(three, criteria=BARE)
    assert found.no_score == (
        "No score: state what counts as worst and as best of cost, hours saved and noise. Scales "
        "taken from the options listed would let one decide between two others."
    )
    assert found.first == "cannot tell"
    with pytest.raises(BeadworthError, match="two values that differ"):
        compare_options(three, [from_mapping(Criterion, {"name": "noise", "worst": 1.0}, "x")], {},
                        np.random.default_rng(1))  # fmt: skip


def test_options_alike_are_called_a_tie_and_share_the_draws():
    alike = [option("a", 60.0, 50.0), option("b", 60.0, 50.0), option("c", 20.0, 10.0)]
    for options in (alike, alike[::-1]):
        found = table(options, {HOURS: 3.0})
        assert row(found, "a").tied_with == ("b",)
        assert row(found, "b").first_share == pytest.approx(0.5)
        assert found.first == "a tie: a and b"


def test_nets_are_hours_times_their_worth_less_the_cost():
    rng = np.random.default_rng(3)
    spread = option("a", 60.0, 0.0, low=10.0, high=90.0)
    found = compare_options([spread], CRITERIA, {}, rng, 40_000, lambda share: 1.0 + share)
    net = row(found, "a").net
    # hours rectangular 10 to 90 times worth 1 to 2, by quadrature on a fine grid
    h, w = np.meshgrid(np.linspace(10, 90, 1601), np.linspace(1, 2, 401))
    assert [net.low, net.value, net.high] == pytest.approx(
        list(np.quantile(h * w - 60.0, [0.025, 0.5, 0.975])), abs=1.5
    )


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
    found = table([*rivals, option("c", 90.0, 95.0, 3.0)], {COST: 0.001})
    shares = [row(found, n).first_share for n in "ab"]
    assert shares[0] == pytest.approx(shares[1], abs=0.03)
    assert sum(r.first_share for r in found.rows) == pytest.approx(1.0)


def test_rankings_tell_where_the_lead_changes():
    # places (cost, hours, noise): nothing (1, 0, 1), a (0.4, 1, 1), c (0.8, 0.2, 0.75). With the
    # share of hours w against cost and noise at 1:1: nothing 1 − w, a 0.7 + 0.3 w: equal at 0.3/1.3
    found = table([option("a", 60.0, 50.0), option("c", 20.0, 10.0, -1.0)])
    hours = next(r for r in found.rankings if r.criterion == HOURS)
    assert hours.weight == pytest.approx(1 / 3)
    assert hours.scores["a"][-1] == pytest.approx(1.0)
    assert hours.changes[-1][2] == "a"


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
    if found.no_score:
        return
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
