"""What a comparison calls: ends that hold at all temperatures, and curves that fit."""

import dataclasses
import importlib.util
import sys
from pathlib import Path

import numpy as np
import pytest
from loops import fewest, some

from beadworth import capacity
from beadworth.capacity.fitting.fit import QUANTILES
from beadworth.capacity.reading.together import intervals_together, paired_differences
from beadworth.capacity.result import Ceiling, CeilingPosterior, Fit, GroupFit

SIDAK_95 = {1: 1.95996, 2: 2.23648, 3: 2.38774, 6: 2.63104}
"""z with P(|Z| < z)^m = 0.95 for m independent normals: Z. Šidák, J. Am. Stat. Assoc. 62 (1967)
626; two-sided normal quantiles of 0.95^(1/m)."""


@pytest.mark.parametrize("m", SIDAK_95)
def test_ends_together_are_those_of_independent_normals(m):
    draws = np.random.default_rng([41, m]).standard_normal((100_000, m))
    ends = intervals_together(draws, 0.95)
    assert ends == pytest.approx(np.tile([-SIDAK_95[m], SIDAK_95[m]], (m, 1)), abs=0.05)
    inside = ((draws >= ends[:, 0]) & (draws <= ends[:, 1])).all(axis=1).mean()
    assert inside == pytest.approx(0.95, abs=0.0005)


def test_values_that_move_together_need_no_wider_ends():
    one = np.random.default_rng(42).standard_normal(20_000)
    ends = intervals_together(np.stack([one, 3 * one + 5], axis=1), 0.95)
    assert ends[0] == pytest.approx([-1.96, 1.96], abs=0.05)
    assert ends[1] == pytest.approx(3 * ends[0] + 5, abs=1e-12)


def test_pairs_of_draws_are_taken_across_the_groups_only():
    a = np.arange(400.0)[:, None] * [1.0, 1.0]
    paired = paired_differences(a, a)
    assert paired.shape == (400 * 40, 2)
    assert (paired[:, 0] == paired[:, 1]).all()  # values of a row stay together
    assert len(np.unique(paired[:, 0])) > 40


def made_group(rig, estimate, sd, shared, rng, lack=0.5):
    """A group whose ceilings are known by normals that share a part of their error."""
    m = len(estimate)
    z = np.sqrt(shared) * rng.standard_normal((4000, 1))
    draws = estimate + sd * (z + np.sqrt(1 - shared) * rng.standard_normal((4000, m)))
    posteriors = tuple(
        CeilingPosterior(200.0 + 10 * i, np.quantile(draws[:, i], QUANTILES), draws[:400, i])
        for i in range(m)
    )
    group = GroupFit(rig, "PLA", 0.005, 60.0, lack, (), (), (), None, (), posteriors)
    ceilings = [
        Ceiling(rig, "PLA", p.temperature_c, 0.02, *np.quantile(p.flow_mm3_s, [0.5, 0.025, 0.975]),
                "interval")
        for p in posteriors
    ]  # fmt: skip
    return group, ceilings


def compared(rng, m, shared, gain=0.0, lack=0.5):
    parts = []
    for rig, plus in (("stock", 0.0), ("long", gain)):
        error = np.sqrt(shared) * rng.standard_normal() + np.sqrt(1 - shared) * rng.standard_normal(
            m
        )
        parts.append(made_group(rig, 13.0 + plus + 0.3 * error, 0.3, shared, rng, lack))
    fit = Fit(0.02, 0.95, tuple(c for _, cs in parts for c in cs), tuple(g for g, _ in parts))
    return capacity.compare(fit, "stock", "long")


@pytest.mark.parametrize(("m", "shared"), [(1, 0.0), (3, 0.0), (3, 0.7), (6, 0.3)])
def test_trials_without_a_difference_call_one_in_twenty(m, shared):
    trials = some(60, long=2000)
    rng = np.random.default_rng([43, m, int(10 * shared)])
    found = [compared(rng, m, shared) for _ in range(trials)]
    called = sum(any(d.resolved for d in c.differences) for c in found)
    assert called <= trials - fewest(trials, 0.95)
    if trials == 2000:
        assert called >= 0.02 * trials  # no wider than it must be
    alone = sum(any(not d.low <= 0 <= d.high for d in c.differences) for c in found)
    assert alone >= called


def test_a_difference_of_five_deviations_is_called():
    rng = np.random.default_rng(44)
    found = [compared(rng, 3, 0.3, gain=5 * 0.3 * np.sqrt(2)) for _ in range(40)]
    assert sum(all(d.resolved for d in c.differences) for c in found) >= fewest(40, 0.95)
    assert all(d.low > 0 for c in found for d in c.differences if d.resolved)


@pytest.mark.parametrize(("lack", "called"), [(0.0101, True), (0.0099, False), (None, True)])
def test_nothing_is_called_with_a_curve_that_does_not_fit(lack, called):
    found = compared(np.random.default_rng(45), 3, 0.3, gain=4.0, lack=lack)
    assert [d.resolved for d in found.differences] == [called] * 3
    if called:
        assert found.sentence == "The candidate delivers more at all 3 common temperatures."
        return
    assert found.sentence == (
        "No difference is called: a curve does not fit its coupons. "
        "Read the notes on the curves of stock and long with it."
    )
    assert found.differences[0].sentence == (
        "At 200 °C no difference is called: the curve of stock misses its coupons by more than "
        "they scatter (lack of fit p = 0.01) and the curve of long misses its coupons by more "
        "than they scatter (lack of fit p = 0.01)."
    )
    assert found.differences[0].money_per_mm3_s.value is None


def with_near(group, whole, near):
    return dataclasses.replace(group, lack_of_fit_p=whole, lack_near_p=near)


def test_what_a_curve_misses_far_above_its_ceiling_bars_nothing():
    rng = np.random.default_rng(51)
    made = [made_group(rig, np.full(3, c), 0.3, 0.3, rng) for rig, c in (("a", 13.0), ("b", 17.0))]
    ceilings = tuple(c for _, cs in made for c in cs)

    def found(whole, near):
        groups = (made[0][0], with_near(made[1][0], whole, near))
        return capacity.compare(Fit(0.02, 0.95, ceilings, groups), "a", "b")

    far = found(1e-6, 0.0101)
    assert all(d.resolved for d in far.differences)
    assert far.notes[-1] == (
        "b: Far above the ceiling the curve misses its coupons by more than they scatter (lack of "
        "fit p = 1e-06); near the ceiling it fits, and ceilings rest on that."
    )
    near = found(0.5, 0.0099)
    assert not any(d.resolved for d in near.differences)
    assert near.differences[0].doubt == (
        "the curve of b misses its coupons near the ceiling by more than they scatter (lack of fit "
        "p = 0.01)"
    )


@pytest.mark.parametrize(
    ("whole", "near", "said"),
    [
        (None, None, "Without replicates lack of fit cannot be tested."),
        (0.4, None, "Lack of fit against replicate scatter: p = 0.4: nothing amiss to see."),
        (0.4, 0.32, "Lack of fit against replicate scatter: p = 0.4, near the ceilings 0.32: "
                    "nothing amiss to see."),
        (0.0002, 0.32, "Lack of fit against replicate scatter: p = 0.0002, near the ceilings 0.32: "
                       "far above the ceilings the curves miss something the replicates agree on; "
                       "ceilings rest on what is near."),
        (0.3, 0.03, "Lack of fit against replicate scatter: p = 0.3, near the ceilings 0.03: the "
                    "curves may miss something the replicates agree on."),
        (0.3, 0.002, "Lack of fit against replicate scatter: p = 0.3, near the ceilings 0.002: the "
                     "curves miss something the replicates agree on, and no difference is called "
                     "with them."),
    ],
)  # fmt: skip
def test_where_a_curve_misses_its_coupons_is_said(whole, near, said):
    group, _ = made_group("a", np.full(1, 13.0), 0.3, 0.3, np.random.default_rng(52))
    assert capacity.describe_lack_of_fit(with_near(group, whole, near)) == said


def test_the_notes_of_both_curves_come_along():
    rng = np.random.default_rng(46)
    made = [made_group(rig, np.array([13.0, 14.0]), 0.3, 0.3, rng) for rig in ("stock", "long")]
    slipping = dataclasses.replace(made[1][0], notes=("at 210 °C less comes out at 19 mm³/s.",))
    ceilings = tuple(c for _, cs in made for c in cs)
    found = capacity.compare(
        Fit(0.02, 0.95, ceilings, (made[0][0], slipping)), "stock", "long", price=40.0
    )
    assert found.notes[0] == (
        "Each interval holds with 95 % at its own temperature. A difference is called where zero "
        "also lies outside the ends that hold at all 2 temperatures at once with 95 %."
    )
    assert found.notes[-1] == "long: At 210 °C less comes out at 19 mm³/s."
    assert found.sentence.endswith("Read the notes on the curve of long with it.")


def test_a_called_difference_has_both_its_intervals_in_words():
    row = compared(np.random.default_rng(50), 3, 0.3, gain=4.0).differences[0]
    assert row.sentence == (
        f"At 200 °C the candidate delivers {row.difference_mm3_s:.1f} mm³/s more "
        f"({row.low:.1f} to {row.high:.1f}), {100 * row.percent.value:.0f} %; "
        f"{row.low_together:.1f} to {row.high_together:.1f} for all 3 at once."
    )


def test_an_interval_that_holds_alone_only_is_not_called():
    found = None
    for seed in range(400):
        found = compared(np.random.default_rng([47, seed]), 3, 0.0, gain=0.9)
        row = next((d for d in found.differences if d.low > 0.05 and not d.resolved), None)
        if row:
            break
    assert row.low_together <= 0 < row.low < row.high < row.high_together
    assert f"{row.low:+.1f} to".replace("-", "−") in row.sentence
    assert "leaves zero out at this temperature alone" in row.sentence
    assert "for all 3 at once does not; better with probability" in row.sentence


def test_fits_without_draws_take_bonferronis_level():
    rng = np.random.default_rng(48)
    parts = [made_group(rig, np.full(3, 13.0), 0.3, 0.0, rng) for rig in ("stock", "long")]
    bare = tuple(
        dataclasses.replace(
            g, posteriors=tuple(dataclasses.replace(p, draw_mm3_s=None) for p in g.posteriors)
        )
        for g, _ in parts
    )
    found = capacity.compare(
        Fit(0.02, 0.95, tuple(c for _, cs in parts for c in cs), bare), "stock", "long"
    )
    # 0.3·√2 times the normal quantile of 1 − 0.05/6: 2.394 (O. J. Dunn, 1961)
    row = found.differences[0]
    assert row.high_together - row.low_together == pytest.approx(2 * 0.4243 * 2.394, rel=0.05)


def _random_curves():
    folder = Path(__file__).parents[2] / "benchmarks"
    spec = importlib.util.spec_from_file_location("random_curves", folder / "random_curves.py")
    module = importlib.util.module_from_spec(spec)
    sys.modules["random_curves"] = module
    spec.loader.exec_module(module)
    return module


@pytest.mark.usefixtures("short_fits")
def test_curves_of_two_shapes_with_one_ceiling_are_seldom_told_apart():
    curves = _random_curves()
    trials = some(3, long=60)
    called = 0
    for seed in range(trials):
        rng = np.random.default_rng([49, seed])
        rows = curves.weigh_pair(rng, np.linspace(7.0, 19.0, 8), 3)
        found = capacity.compare(capacity.fit(rows), "baseline", "candidate")
        called += any(d.resolved for d in found.differences)
    assert called <= trials - fewest(trials, 0.95)
