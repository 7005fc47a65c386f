"""A coupon against the others of its setting: the display, the scatter, and how often it errs."""

import dataclasses

import numpy as np
import pytest
from loops import each, fewest, some
from scipy import stats

from beadworth import capacity
from beadworth.capacity.model.block import Scatter, scatter_of
from beadworth.capacity.reading.beliefs import beliefs_of, falling, rounding_u, settings_of
from beadworth.capacity.reading.by_others import LAST_LEVEL, by_others
from beadworth.capacity.reading.neighbours import held
from beadworth.core import display_step
from beadworth.trial import Reading
from beadworth.trial.planning.light import lightest_unseen


def coupon(mass, flow=9.0, t=210.0, name=None, tare=None):
    return Reading("rig", "PLA", t, flow, 600.0, mass, name, tare_g=tare)


def apart(known, new, scatter):
    """Beside the others of its temperature and flow."""
    return held(known, new, scatter).own


@pytest.mark.parametrize(
    ("masses", "step"),
    [
        ([1.79, 1.8, 1.77], 0.01),
        ([1.79], 0.01),
        ([1.8, 1.7], 0.1),
        ([1.7913, 1.8], 0.0001),
        ([1.72, 1.78, 1.74, 1.8, 1.76, 1.72, 1.7, 1.68, 1.66], 0.02),
        ([1.72, 1.78, 1.74, 1.8, 1.76, 1.72, 1.7, 1.68], 0.01),  # seven may be even by chance
        ([1.7, 1.75, 1.8, 1.65, 1.55, 1.6, 1.9, 1.85], 0.05),
        ([2.0, 1.0], 1.0),
        ([1.7912345678], 0.0),
    ],
)
def test_the_step_of_a_display_is_read_off_its_masses(masses, step):
    assert display_step(masses) == pytest.approx(step)


def test_rounding_is_a_rectangle_of_half_a_step_either_way():
    # JCGM 100:2008 4.3.7: half-width 0.005 g over √3 is 0.002887 g; twice where a tare is read
    assert rounding_u(coupon(0.9), 0.01) == pytest.approx(0.0028868 / 0.9, rel=1e-4)
    assert rounding_u(coupon(3.9, tare=3.0), 0.01) == pytest.approx(0.0040825 / 0.9, rel=1e-4)


def test_two_coupons_are_root_two_apart():
    """By hand: scatter 0.5 % known well, display 0.001 g on 1 g, 2 % apart."""
    known = Scatter(0.005, 1e9)
    found = apart([coupon(1.001, name="A")], coupon(1.021, name="B"), known)
    away = np.log(1.021 / 1.001) / (np.sqrt(2) * np.hypot(0.005, 0.001 / np.sqrt(12) / 1.011))
    assert found.p == pytest.approx(2 * stats.norm.sf(away), rel=1e-3)
    assert (found.others, found.who) == (1, ("A",))
    assert found.excess == pytest.approx(1.021 / 1.001 - 1)
    assert apart([coupon(1.0, flow=10.0)], coupon(1.02), known) is None
    assert apart([coupon(1.0, t=220.0)], coupon(1.02), known) is None


def test_p_values_of_good_coupons_are_even(truths):
    """Masses with no display: P(p < x) = x, Kolmogorov-Smirnov over 300 trials."""
    rng = np.random.default_rng(51)
    found = []
    for _ in range(300):
        rows = [
            coupon(float(1.7 * np.exp(0.004 * z)), flow=7.0 + n // 3)
            for n, z in enumerate(rng.standard_normal(24))
        ]
        found.append(apart(rows[:-1], rows[-1], Scatter(0.004, 2.0)).p)
    assert stats.kstest(found, "uniform").pvalue > 1e-3


def test_the_display_is_the_floor_of_the_scatter():
    same = [coupon(0.9, flow=7.0 + n // 3) for n in range(24)]
    new = coupon(0.91, flow=7.0)
    # nothing scatters, and 15 free differences say so; the display's part is 0.01 g/√12 of the mass
    beliefs = beliefs_of(same[1:], new, 0.01, Scatter(0.005, 2.0))
    assert beliefs.sd(0) < 0.005
    assert beliefs.settings.shown[0] == pytest.approx((0.0028868 / 0.9) ** 2, rel=1e-4)
    one_step, five = (apart(same, coupon(0.9 - k * 0.01, flow=7.0), Scatter(0.005, 2.0)).p
                      for k in (1, 5))  # fmt: skip
    assert one_step > 0.01
    assert five < 1e-5


def test_an_odd_coupon_hardly_raises_the_scatter_it_is_judged_by():
    rng = np.random.default_rng(52)
    rows = [
        coupon(float(1.7 * np.exp(0.004 * z)), flow=7.0 + n // 3)
        for n, z in enumerate(rng.standard_normal(36))
    ]
    known = Scatter(0.005, 2.0)
    clean = beliefs_of(rows[:-1], rows[-1], 0.0, known).sd(-1)
    rows[5] = dataclasses.replace(rows[5], mass_g=rows[5].mass_g * 0.6)
    assert beliefs_of(rows[:-1], rows[-1], 0.0, known).sd(-1) / clean < 1.2


def test_coupons_are_sorted_by_their_setting():
    """Against numpy's own mean of each setting, and its median against the slowest."""
    rng = np.random.default_rng(54)
    rows = [
        coupon(float(1.7 * (0.9 if n % 5 == 4 else 1.0) * np.exp(0.004 * z)), 7.0 + n % 5,
               t=210.0 + 10 * (n % 2))
        for n, z in enumerate(rng.standard_normal(50))
    ]  # fmt: skip
    found = settings_of(rows, 0.0)
    for i, (at, count, mean) in enumerate(zip(found.at, found.count, found.mean, strict=True)):
        y = np.log([r.mass_g / 600 for r in rows if (r.temperature_c, r.flow_mm3_s) == tuple(at)])
        assert count == len(y)
        assert mean == pytest.approx(y.mean(), rel=1e-12)
        assert found.away2[i].sum() == pytest.approx(len(y) * y.var(), rel=1e-9)
    assert found.loss[found.at[:, 1] == 11.0] == pytest.approx(0.1, abs=0.01)
    assert (found.loss[found.at[:, 1] < 11.0] < 0.006).all()


def test_a_falling_sequence_is_the_nearest_there_is():
    """By hand: 3, 1, 2 → 3, 1.5, 1.5; weights 1, 3, 1 → 3, 1.25, 1.25. And against scipy's."""
    from scipy.optimize import isotonic_regression

    assert falling(np.array([3.0, 1.0, 2.0]), np.ones(3)) == pytest.approx([3.0, 1.5, 1.5])
    one = falling(np.array([3.0, 1.0, 2.0]), np.array([1.0, 3.0, 1.0]))
    assert one == pytest.approx([3.0, 1.25, 1.25])
    rng = np.random.default_rng(59)
    for n in (1, 2, 8, 15):
        values, weight = rng.standard_normal(n), rng.uniform(0.5, 3.0, n)
        theirs = isotonic_regression(values, weights=weight, increasing=False).x
        assert falling(values, weight) == pytest.approx(theirs, abs=1e-12)


def two_sides(rng, below, above):
    """Eight flows of three, half of them past the knee, each side with a scatter of its own."""
    rows = []
    for n in range(24):
        flow = 7.0 + n // 3
        lost, sd = (0.0, below) if n < 12 else (0.05 * (n // 3 - 3), above)
        rows.append(coupon(float(1.7 * (1 - lost) * np.exp(sd * rng.standard_normal())), flow))
    return rows


def test_scatter_above_the_knee_is_learnt_apart_where_it_differs():
    rng = np.random.default_rng(55)
    known = Scatter(0.005, 2.0)
    found = {}
    for name, above in (("alike", 0.005), ("louder", 0.02)):
        sds = []
        for _ in range(20):
            rows = two_sides(rng, 0.005, above)
            beliefs = beliefs_of(rows[:-1], rows[-1], 0.0, known)
            sds.append([beliefs.sd(0), beliefs.sd(-2)])
        found[name] = np.median(sds, axis=0)
    assert found["alike"] == pytest.approx([0.005, 0.006], rel=0.2)
    assert found["louder"] == pytest.approx([0.006, 0.02], rel=0.25)


def test_others_that_disagree_above_the_knee_do_not_ask_for_a_coupon():
    """Two of one deep setting 8 % apart: what the third is away from their mean says little."""
    rng = np.random.default_rng(60)
    known = Scatter(0.005, 2.0)
    rows = two_sides(rng, 0.005, 0.005)
    lighter = dataclasses.replace(rows[-1], mass_g=rows[-2].mass_g * 0.93)
    agree = [*rows[:-3], dataclasses.replace(rows[-2]), rows[-2]]
    apart_two = [*rows[:-3], dataclasses.replace(rows[-2], mass_g=rows[-2].mass_g * 1.08), rows[-2]]
    level = LAST_LEVEL / 24
    assert apart([*agree, lighter], lighter, known).p < level
    assert apart([*apart_two, lighter], lighter, known).p > level


def test_a_coupon_alone_is_held_against_faster_ones():
    """By hand: scatter 0.5 % known well, two faster ones 4 % heavier on average."""
    known = Scatter(0.005, 1e9)
    rows = [coupon(1.701, flow=9.0, name="A"), coupon(1.703, flow=10.0, name="B")]
    found = held(rows, coupon(1.635, flow=8.0), known).faster
    u = 0.001 / np.sqrt(12) / np.array([1.701, 1.703, 1.635])
    sd = np.sqrt(0.005**2 + (u**2).mean())
    away = np.log([1.701, np.sqrt(1.701 * 1.703)]) - np.log(1.635)
    z = away / (sd * np.sqrt([2.0, 1.5]))
    assert found.p == pytest.approx(2 * stats.norm.sf(z[1]), rel=0.02)
    assert (found.others, found.faster, found.who) == (2, 2, ("A", "B"))
    assert found.excess == pytest.approx(1.635 / np.sqrt(1.701 * 1.703) - 1)
    assert held(rows, coupon(1.72, flow=8.0), known).found is None  # heavier than they are
    assert held(rows, coupon(1.635, flow=11.0), known).found is None  # none is faster


def test_a_partner_and_faster_ones_together_say_more_than_the_partner():
    """By hand: scatter 0.5 % known well; its partner and two of the next flow, all of 1.7 g."""
    known = Scatter(0.005, 1e9)
    rows = [coupon(1.7, 8.0, name="A"), coupon(1.7, 9.0, name="B"), coupon(1.7, 9.0, name="C")]
    z = np.log(1.7 / 1.65) / (0.005 * np.sqrt([2.0, 4 / 3]))
    # the display, 0.05 g here, would drown it: masses of a finer step
    fine = [dataclasses.replace(r, mass_g=r.mass_g + 1e-5) for r in rows]
    found = held(fine, coupon(1.65, flow=8.0), known)
    assert found.own.p == pytest.approx(2 * stats.norm.sf(z[0]), rel=0.01)
    assert found.faster.p == pytest.approx(stats.norm.sf(z[1]), rel=0.01)
    assert (found.faster.others, found.faster.faster) == (3, 2)
    assert found.faster.who == ("A", "B", "C")
    assert found.found is found.faster


def read(mass_g, step_g):
    return max(round(round(mass_g / step_g) * step_g, 6), step_g)


def simulated(seed, step, filament, noise, replicates, light=False):
    """A hard knee, coupons in a random order; one in a setting of its own 5 % light."""
    rng = np.random.default_rng([53, seed, int(1000 * step), int(filament), replicates])
    rows = []
    for n in range(16 * replicates):
        flow = 7.0 + 1.5 * (n // replicates % 8)
        t = 210.0 + 10 * (n // replicates // 8)
        kept = min(1.0, (13.1 + 0.15 * (t - 210)) / flow)
        mass = filament * 2.953e-3 * kept * (1 + noise * rng.standard_normal())
        rows.append(Reading("rig", "PLA", t, flow, filament, mass, f"A{n}"))
    bad = int(rng.integers(len(rows))) if light else -1
    rows = [
        dataclasses.replace(r, mass_g=read(r.mass_g * (0.95 if n == bad else 1.0), step))
        for n, r in enumerate(rows)
    ]
    setting = (rows[bad].temperature_c, rows[bad].flow_mm3_s)
    order = rng.permutation(len(rows))
    return [rows[i] for i in order], setting


DESIGNS = [(0.01, 300.0, 0.005, 3), (0.01, 600.0, 0.005, 2), (0.001, 600.0, 0.005, 3),
           (0.001, 450.0, 0.01, 3), (0.1, 600.0, 0.005, 3)]  # fmt: skip


USUAL = Scatter(0.005, 2.0)


def least(rows):
    """Smallest probability over its level of each coupon, as a trial is weighed."""
    found = {}
    for i, new in enumerate(rows):
        for name, share in by_others(rows[:i], new, USUAL, len(rows)).closest.items():
            found[name] = min(share, found.get(name, share))
    return found


def test_good_coupons_are_seldom_asked_for_again():
    """A hard knee, five balances: at most 2 % of trials."""
    trials, again = some(3, long=300), 0
    for design in DESIGNS:
        for seed in range(trials):
            rows, _ = simulated(seed, *design)
            again += min(least(rows).values()) < 1
    runs = trials * len(DESIGNS)
    assert again <= runs - fewest(runs, 0.98)


def test_scatter_that_triples_above_the_knee_asks_for_no_more():
    trials, again = some(12, long=300), 0
    for seed in range(trials):
        rng = np.random.default_rng([56, seed])
        rows = [dataclasses.replace(r, coupon=f"A{n}", mass_g=read(r.mass_g, 0.001))
                for n, r in enumerate(two_sides(rng, 0.005, 0.015))]  # fmt: skip
        again += min(least([rows[i] for i in rng.permutation(24)]).values()) < 1
    # 3 %: the bar is 2 %, and docs/explanation/capacity.md says what is measured
    assert again <= trials - fewest(trials, 0.97)


def test_a_light_coupon_is_seen_once_its_setting_is_full():
    trials, seen = some(4, long=300), 0
    designs = DESIGNS[:3]
    for design in designs:
        for seed in range(trials):
            rows, setting = simulated(seed, *design, light=True)
            own = {r.coupon for r in rows if (r.temperature_c, r.flow_mm3_s) == setting}
            seen += min(share for name, share in least(rows).items() if name in own) < 1
    assert seen >= fewest(trials * len(designs), 0.95)


@each(design=[(2, 1, 0.006), (3, 1, 0.01), (3, 3, 0.006)])
def test_what_a_plan_calls_seen_is_seen(design):
    """lightest_unseen, half of the flows above a hard knee, coupons that scatter as planned."""
    replicates, temperatures, u = design
    runs = some(60, long=1500)
    settings = 8 * temperatures
    coupons = replicates * settings
    light = lightest_unseen(u, replicates=replicates, settings=settings, coupons=coupons)
    rng = np.random.default_rng([57, *design[:2]])
    kept = np.tile(np.minimum(1.0, 12.5 / np.linspace(7.0, 19.0, 8)), temperatures)
    seen = 0
    for _ in range(runs):
        mass = 1.7 * np.repeat(kept, replicates) * np.exp(u * rng.standard_normal(coupons))
        bad = int(rng.integers(coupons))
        mass[bad] *= 1 - light
        rows = [
            coupon(
                float(m),
                7.0 + 12.0 / 7.0 * (n // replicates % 8),
                210.0 + 10 * (n // replicates // 8),
            )
            for n, m in enumerate(mass)
        ]
        own = [r for r in rows if (r.temperature_c, r.flow_mm3_s)
               == (rows[bad].temperature_c, rows[bad].flow_mm3_s)]  # fmt: skip
        tests = [held(rows, r, scatter_of(u)).found for r in own]
        seen += min(t.p / t.level for t in tests) < LAST_LEVEL / coupons
    # from both sides: what is promised, and no more than a promise that is kept needs
    assert seen >= fewest(runs, 0.95)
    assert seen <= runs - (runs - fewest(runs, 0.995)) // 4 or runs < 1000


def test_without_replicates_no_plan_promises_that_a_light_coupon_is_seen():
    assert lightest_unseen(0.006, replicates=1, settings=8, coupons=8) is None


def test_which_of_two_is_wrong_is_not_claimed():
    rows = [coupon(1.701, flow=7.0 + n // 2, name=f"B{n}") for n in range(8)]
    answer = capacity.judge_coupon(rows, coupon(1.5, flow=20.0, name="C2"), coupons=40)
    assert answer.verdict == "ok"  # alone in its setting, before there is a curve to 20 mm³/s
    rows.append(coupon(1.5, flow=20.0, name="C1"))
    answer = capacity.judge_coupon(rows, coupon(1.301, flow=20.0, name="C2"), coupons=40)
    assert answer.reason == (
        "13.3 % lighter than C1 at 20 mm³/s; a good coupon is seldom as far off. One of the "
        "two is wrong, and these two alone do not say which. Look for a missing or extra piece, "
        "the right bag, the tare; then weigh it again, or run it again."
    )


def test_slow_coupons_are_not_held_against_fast_ones():
    """The first coupons of a run may all be deep in the knee: a full one after them is none."""
    deep = [coupon(0.7, flow=19.0), coupon(0.75, flow=17.0)]
    assert capacity.judge_coupon(deep, coupon(0.88, flow=9.0)).verdict == "ok"
    slow = [coupon(0.7, flow=9.0), coupon(0.75, flow=8.0)]
    answer = capacity.judge_coupon(slow, coupon(0.88, flow=9.0))
    assert "more than any coupon of this rig delivered at this flow or a lower one" in answer.reason


@pytest.mark.filterwarnings("error")
def test_no_sum_runs_over_where_a_curve_is_open():
    rows = [coupon(m, flow=q) for q, m in ((9.0, 1.7), (9.5, 1.69), (10.0, 1.71), (10.5, 1.7))]
    for mass in (1e-4, 0.5, 1.7):
        capacity.judge_coupon(rows, coupon(mass, flow=40.0))
