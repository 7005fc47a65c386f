"""A coupon against the others of its setting: the display, the scatter, and how often it errs."""

import dataclasses

import numpy as np
import pytest
from loops import fewest, some
from scipy import stats

from beadworth import capacity
from beadworth.capacity.model.block import Scatter
from beadworth.capacity.reading.by_others import LAST_LEVEL, by_others
from beadworth.capacity.reading.faster import beside_faster
from beadworth.capacity.reading.neighbours import apart, rounding_u, scatter_beside, settings_of
from beadworth.core import display_step
from beadworth.trial import Reading
from beadworth.trial.planning.light import lightest_unseen


def coupon(mass, flow=9.0, t=210.0, name=None, tare=None):
    return Reading("rig", "PLA", t, flow, 600.0, mass, name, tare_g=tare)


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
    sd, dof = scatter_beside(same[1:], new, same[1:3], Scatter(0.005, 2.0))
    assert dof == 17.0
    # nothing scatters but what was known before; the display's part is 0.01 g/√12 of the mass
    shown = 0.0028868 * np.sqrt((2 / 0.9**2 + 1 / 0.91**2) / 3)
    assert sd == pytest.approx(np.hypot(0.005 * np.sqrt(2 / 17), shown), rel=1e-4)
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
    clean, _ = scatter_beside(rows[:-1], rows[-1], rows[-3:-1], known)
    rows[5] = dataclasses.replace(rows[5], mass_g=rows[5].mass_g * 0.6)
    spoilt, _ = scatter_beside(rows[:-1], rows[-1], rows[-3:-1], known)
    assert spoilt / clean < 1.5


def test_sums_of_squares_are_those_of_each_setting():
    """Against numpy's own variance of each setting, and its median."""
    rng = np.random.default_rng(54)
    rows = [
        coupon(float(1.7 * np.exp(0.01 * z)), flow=7.0 + n % 5, t=210.0 + 10 * (n % 2))
        for n, z in enumerate(rng.standard_normal(40))
    ]
    found = settings_of(rows, 0.0)
    for at, count, square, middle in zip(
        found.at, found.count, found.square, found.middle, strict=True
    ):
        y = np.log([r.mass_g / 600 for r in rows if (r.temperature_c, r.flow_mm3_s) == tuple(at)])
        assert count == len(y)
        assert square == pytest.approx(len(y) * y.var(), rel=1e-9)
        assert middle == pytest.approx(np.median(y), rel=1e-12)


def two_sides(rng, below, above):
    """Eight flows of three, half of them past the knee, each side with a scatter of its own."""
    rows = []
    for n in range(24):
        flow = 7.0 + n // 3
        lost, sd = (0.0, below) if n < 12 else (0.05 * (n // 3 - 3), above)
        rows.append(coupon(float(1.7 * (1 - lost) * np.exp(sd * rng.standard_normal())), flow))
    return rows


def test_each_side_of_the_knee_is_judged_by_its_own_scatter_where_they_differ():
    rng = np.random.default_rng(55)
    known = Scatter(0.005, 2.0)
    found = {}
    for name, above in (("alike", 0.005), ("louder", 0.02)):
        sds = []
        for _ in range(60):
            rows = two_sides(rng, 0.005, above)
            sds.append([scatter_beside(rows[:k] + rows[k + 1 :], rows[k], rows[k - 2 : k], known)[0]
                        for k in (2, 23)])  # fmt: skip
        found[name] = np.median(sds, axis=0)
    assert found["alike"] == pytest.approx([0.005, 0.005], rel=0.15)
    assert found["louder"][1] == pytest.approx(0.02, rel=0.15)
    assert found["louder"][0] < 0.009  # below the knee what is above counts little


def test_a_coupon_alone_is_held_against_faster_ones():
    """By hand: scatter 0.5 % known well, two faster ones 4 % heavier on average."""
    known = Scatter(0.005, 1e9)
    rows = [coupon(1.701, flow=9.0, name="A"), coupon(1.703, flow=10.0, name="B")]
    found = beside_faster(rows, coupon(1.635, flow=8.0), known)
    u = 0.001 / np.sqrt(12) / np.array([1.701, 1.703, 1.635])
    sd = np.sqrt(0.005**2 + (u**2).mean())
    away = np.log([1.701, np.sqrt(1.701 * 1.703)]) - np.log(1.635)
    z = away / (sd * np.sqrt([2.0, 1.5]))
    assert found.p == pytest.approx(2 * stats.norm.sf(z[1]), rel=0.02)
    assert (found.others, found.who) == (2, ("A", "B"))
    assert found.excess == pytest.approx(1.635 / np.sqrt(1.701 * 1.703) - 1)
    assert beside_faster(rows, coupon(1.72, flow=8.0), known) is None  # heavier than they are
    assert beside_faster(rows, coupon(1.635, flow=11.0), known) is None  # none is faster


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
    trials, again = some(5, long=300), 0
    for design in DESIGNS:
        for seed in range(trials):
            rows, _ = simulated(seed, *design)
            again += min(least(rows).values()) < 1
    runs = trials * len(DESIGNS)
    assert again <= runs - fewest(runs, 0.98)


def test_scatter_that_triples_above_the_knee_asks_for_no_more():
    trials, again = some(20, long=300), 0
    for seed in range(trials):
        rng = np.random.default_rng([56, seed])
        rows = [dataclasses.replace(r, coupon=f"A{n}", mass_g=read(r.mass_g, 0.001))
                for n, r in enumerate(two_sides(rng, 0.005, 0.015))]  # fmt: skip
        again += min(least([rows[i] for i in rng.permutation(24)]).values()) < 1
    # more than promised, and so said in docs/explanation/capacity.md: 13 %
    assert again <= trials - fewest(trials, 0.87)


def test_a_light_coupon_is_seen_once_its_setting_is_full():
    trials, seen = some(7, long=300), 0
    designs = DESIGNS[:3]
    for design in designs:
        for seed in range(trials):
            rows, setting = simulated(seed, *design, light=True)
            own = {r.coupon for r in rows if (r.temperature_c, r.flow_mm3_s) == setting}
            seen += min(share for name, share in least(rows).items() if name in own) < 1
    assert seen >= fewest(trials * len(designs), 0.95)


def test_what_a_plan_calls_seen_is_seen():
    """lightest_unseen, in a flat design whose scatter is known no better than it is said."""
    runs = some(150, long=2000)
    for replicates, settings in ((2, 8), (3, 8)):
        coupons = replicates * settings
        light = lightest_unseen(0.006, replicates=replicates, settings=settings, coupons=coupons)
        rng = np.random.default_rng([57, replicates])
        seen = 0
        for _ in range(runs):
            mass = 1.7 * np.exp(0.006 * rng.standard_normal(coupons))
            mass[0] *= 1 - light
            rows = [coupon(float(m), flow=7.0 + n // replicates) for n, m in enumerate(mass)]
            seen += apart(rows, rows[0], Scatter(0.006, 2.0)).p < LAST_LEVEL / coupons
        # a few points fewer: the light coupon itself loosens the scatter that it is held against
        assert abs(seen / runs - 0.93) < 0.03 + 3.3 * np.sqrt(0.95 * 0.05 / runs)
    assert lightest_unseen(0.006, replicates=1, settings=8, coupons=8) is None


def test_which_of_two_is_wrong_is_not_claimed():
    rows = [coupon(1.701, flow=7.0 + n // 2, name=f"B{n}") for n in range(8)]
    answer = capacity.judge_coupon(rows, coupon(1.5, flow=20.0, name="C2"), coupons=40)
    assert answer.verdict == "ok"  # alone in its setting, before there is a curve to 20 mm³/s
    rows.append(coupon(1.5, flow=20.0, name="C1"))
    answer = capacity.judge_coupon(rows, coupon(1.301, flow=20.0, name="C2"), coupons=40)
    assert answer.reason == (
        "13.3 % lighter than C1 at 20 mm³/s; a good coupon is hardly ever as far off. One of the "
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
