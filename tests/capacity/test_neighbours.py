"""A coupon against the others of its setting: the display, the scatter, and how often it errs."""

import dataclasses

import numpy as np
import pytest
from loops import fewest, some
from scipy import stats

from beadworth import capacity
from beadworth.capacity.model.block import Scatter
from beadworth.capacity.reading.neighbours import (
    apart,
    farthest,
    own_variance,
    rounding_u,
)
from beadworth.core import display_step
from beadworth.trial import Reading


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
    variance, dof = own_variance(same, Scatter(0.005, 2.0), 0.01)
    assert dof == 18.0
    assert variance == pytest.approx(2 * 0.005**2 / 18)
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
    clean, _ = own_variance(rows, Scatter(0.005, 2.0), 0.0)
    rows[5] = dataclasses.replace(rows[5], mass_g=rows[5].mass_g * 0.6)
    spoilt, _ = own_variance(rows, Scatter(0.005, 2.0), 0.0)
    assert np.sqrt(spoilt / clean) < 1.35
    assert farthest(rows) is rows[5]
    assert farthest(rows[::3]) is None


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


def test_good_coupons_are_seldom_held_against_their_neighbours():
    """A hard knee, five balances: at most 2 % of trials, and no more than that by much."""
    trials, again = some(12, long=300), 0
    for design in DESIGNS:
        for seed in range(trials):
            rows, _ = simulated(seed, *design)
            level = 0.02 / len(rows)
            found = [apart(rows[:i], new, Scatter(0.005, 2.0)) for i, new in enumerate(rows)]
            again += any(a is not None and a.p < level for a in found)
    runs = trials * len(DESIGNS)
    assert again <= runs - fewest(runs, 0.98)


def test_a_light_coupon_is_seen_once_its_setting_is_full():
    trials, seen = some(12, long=300), 0
    designs = DESIGNS[:3]
    for design in designs:
        for seed in range(trials):
            rows, setting = simulated(seed, *design, light=True)
            own = [r for r in rows if (r.temperature_c, r.flow_mm3_s) == setting]
            found = [apart(rows, r, Scatter(0.005, 2.0)) for r in own]
            seen += min(a.p for a in found) < 0.01 / len(rows)
    assert seen >= fewest(trials * len(designs), 0.95)


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
