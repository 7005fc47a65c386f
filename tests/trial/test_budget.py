"""Budgets: published examples line by line, the loss budget against GTC and against a spool."""

import math

import GTC
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import integrate

from beadworth.core.errors import InputError
from beadworth.trial import Balance, Spool
from beadworth.trial.planning.budget import (
    averaging,
    combine,
    coverage_factor,
    effective_dof,
    line,
    loss_budget,
    rectangular,
    unshared,
)

# --- JCGM 100:2008 (GUM) H.1, end gauge; nm ------------------------------------------------------
# l = ls + d − ls·(δα·θ + αs·δθ); inputs and results as printed there.
LS = 50_000_623.0


def end_gauge():
    thermal_expansion = 11.5e-6
    return [
        line("standard", value=25.0, unit="nm", sensitivity=1, dof=18),
        line("repeated observations", value=5.8, unit="nm", sensitivity=1, dof=24, type_a=True),
        line("comparator, random", value=3.9, unit="nm", sensitivity=1, dof=5),
        line("comparator, systematic", value=6.7, unit="nm", sensitivity=1, dof=8),
        rectangular("expansion", half_width=2e-6, unit="1/K", sensitivity=0.0),
        line("temperature of the bed", value=0.41, unit="K", sensitivity=0.0),
        line("difference of expansion", value=1e-6, divisor=math.sqrt(3), unit="1/K",
             distribution="rectangular", sensitivity=-LS * -0.1, dof=50),
        line("difference of temperature", value=0.05, divisor=math.sqrt(3), unit="K",
             distribution="rectangular", sensitivity=-LS * thermal_expansion, dof=2),
    ]  # fmt: skip


H1_PRINTED = {
    "standard": (25, 0.5),
    "difference of expansion": (2.9, 0.05),
    "difference of temperature": (16.6, 0.05),
    "expansion": (0, 0.5),
    "temperature of the bed": (0, 0.5),
}


@pytest.mark.parametrize("source", H1_PRINTED)
def test_h1_contributions_as_printed(source):
    printed, half_digit = H1_PRINTED[source]
    (row,) = [row for row in end_gauge() if row.source == source]
    assert row.contribution == pytest.approx(printed, rel=0, abs=half_digit)


def test_h1_difference_of_the_gauges_as_printed():
    parts = combine(end_gauge()[1:4])
    assert parts.combined_u == pytest.approx(9.7, rel=0, abs=0.05)
    # 25.6 is printed, from the rounded 9.7; unrounded (9.685) it is 25.4
    assert parts.effective_dof * (9.7 / parts.combined_u) ** 4 == pytest.approx(25.6, abs=0.05)


def test_h1_combined_degrees_of_freedom_and_expansion_as_printed():
    budget = combine(end_gauge(), confidence=0.99)
    assert budget.combined_u == pytest.approx(32, rel=0, abs=0.5)
    assert budget.combined_u == pytest.approx(31.664, abs=0.002)
    # 16.7 is printed; it needs the unrounded 31.66: with 32 one gets 17.5
    assert budget.effective_dof == pytest.approx(16.7, rel=0, abs=0.06)
    assert budget.effective_dof == pytest.approx(16.752, abs=0.005)
    assert budget.coverage_factor == pytest.approx(2.92, rel=0, abs=0.005)
    # 93 nm is printed: 2.92·32. Unrounded it is 92.5, which rounds to either.
    assert budget.expanded_u == pytest.approx(92.5, rel=0, abs=0.05)
    printed = round(budget.coverage_factor, 2) * round(budget.combined_u)
    assert printed == pytest.approx(93, rel=0, abs=0.5)


def test_h1_degrees_of_freedom_from_the_rounded_combination_would_be_17_5():
    unrounded = combine(end_gauge())
    below = unrounded.combined_u**4 / unrounded.effective_dof
    assert 32**4 / below == pytest.approx(17.5, rel=0, abs=0.05)


def test_h1_second_order_terms_as_printed():
    u_expansion_difference, u_bed = 1e-6 / math.sqrt(3), math.hypot(0.2, 0.5 / math.sqrt(2))
    u_expansion, u_temperature_difference = 2e-6 / math.sqrt(3), 0.05 / math.sqrt(3)
    second = [
        line("δα·θ", value=LS * u_expansion_difference * u_bed, unit="nm", sensitivity=1),
        line("αs·δθ", value=LS * u_expansion * u_temperature_difference, unit="nm", sensitivity=1),
    ]
    # 11.7 needs the unrounded inputs: from 0.58e-6 and 0.41 one gets 11.9
    assert [row.contribution for row in second] == [
        pytest.approx(11.7, rel=0, abs=0.05),
        pytest.approx(1.7, rel=0, abs=0.05),
    ]
    assert combine(end_gauge() + second).combined_u == pytest.approx(34, rel=0, abs=0.5)


def test_h1_agrees_with_an_independent_library():
    gauge = GTC.ureal(LS, 25, 18)
    d = GTC.ureal(0, 5.8, 24) + GTC.ureal(0, 3.9, 5) + GTC.ureal(0, 6.7, 8)
    da = GTC.ureal(0, 1e-6 / math.sqrt(3), 50)
    dt = GTC.ureal(0, 0.05 / math.sqrt(3), 2)
    length = gauge + d - gauge * (da * -0.1 + 11.5e-6 * dt)
    ours = combine(end_gauge())
    assert ours.combined_u == pytest.approx(GTC.uncertainty(length), rel=1e-9)
    assert ours.effective_dof == pytest.approx(GTC.dof(length), rel=1e-9)


def test_g41_relative_uncertainties_as_printed():
    # JCGM 100:2008 G.4.1: 0.25 % (9 dof), 0.57 % (4), 0.82 % (14)
    rows = [line(str(u), value=u, unit="%", sensitivity=1, dof=dof)
            for u, dof in ((0.25, 9), (0.57, 4), (0.82, 14))]  # fmt: skip
    budget = combine(rows)
    assert budget.combined_u == pytest.approx(1.03, rel=0, abs=0.005)
    assert budget.effective_dof == pytest.approx(19.0, rel=0, abs=0.05)
    assert coverage_factor(19) == pytest.approx(2.09, rel=0, abs=0.005)
    assert coverage_factor(19) * budget.combined_u == pytest.approx(2.2, rel=0, abs=0.05)


def test_ea_4_02_s2_weighing():
    # EA-4/02, example S2, calibrating a 10 kg weight; mg
    rows = [
        line("standard", value=45.0, divisor=2.0, unit="mg", sensitivity=1),
        rectangular("drift of the standard", half_width=15.0, unit="mg", sensitivity=1),
        line("difference of the weights, mean of three", value=25.0, divisor=math.sqrt(3),
             unit="mg", sensitivity=1, type_a=True),
        rectangular("comparator", half_width=10.0, unit="mg", sensitivity=1),
        rectangular("air buoyancy", half_width=10.0, unit="mg", sensitivity=1),
    ]  # fmt: skip
    printed = ((22.5, 0.05), (8.66, 0.005), (14.4, 0.05), (5.77, 0.005), (5.77, 0.005))
    assert [row.contribution for row in rows] == [
        pytest.approx(u, rel=0, abs=half_digit) for u, half_digit in printed
    ]
    assert combine(rows).combined_u == pytest.approx(29.26, rel=0, abs=0.01)
    # 29.2 and U = 58 mg are printed: cut down, not rounded
    cut = math.floor(10 * combine(rows).combined_u) / 10
    assert cut == 29.2
    assert 2 * cut == pytest.approx(58, rel=0, abs=0.5)


def test_jcgm_101_9_3_weighing_in_air():
    """Calibration of a weight (JCGM 101:2008, 9.3), figures from memory, recomputed; mg.

    Air density enters only through its product with the difference of the densities, so the
    first order misses it.
    """
    first = [line("standard", value=0.050, unit="mg", sensitivity=1),
             line("added weight", value=0.020, unit="mg", sensitivity=1)]  # fmt: skip
    assert combine(first).combined_u == pytest.approx(0.0539, rel=0, abs=5e-5)
    u_air = 0.1 / math.sqrt(3)
    u_inverse = math.hypot(1000 / math.sqrt(3) / 8000**2, 50 / math.sqrt(3) / 8000**2)
    second = line("air times densities", value=u_air * u_inverse * 1e5, unit="mg", sensitivity=1)
    assert combine([*first, second]).combined_u == pytest.approx(0.0750, rel=0, abs=5e-5)


def test_lines_of_shared_observations_count_as_one_component():
    # the same standard deviation of 6 weighings used twice: 5 dof together, not 10
    rows = [line(name, value=0.3, unit="g", sensitivity=1, dof=5, shares="s") for name in "ab"]
    assert effective_dof(rows) == pytest.approx(5)
    apart = [line(name, value=0.3, unit="g", sensitivity=1, dof=5) for name in "ab"]
    assert effective_dof(apart) == pytest.approx(10)


def test_what_is_taken_as_known_has_infinite_degrees_of_freedom():
    budget = combine([rectangular("a", half_width=1, unit="g", sensitivity=1)])
    assert math.isinf(budget.effective_dof)
    assert budget.coverage_factor == pytest.approx(1.959964, abs=1e-6)


@settings(deadline=None)
@given(st.lists(st.tuples(st.floats(0.01, 10), st.integers(1, 50)), min_size=1, max_size=6))
def test_effective_degrees_of_freedom_lie_between_the_least_and_the_sum(parts):
    rows = [line(str(i), value=u, unit="1", sensitivity=1, dof=dof)
            for i, (u, dof) in enumerate(parts)]  # fmt: skip
    dofs = [dof for _, dof in parts]
    assert min(dofs) - 1e-9 <= effective_dof(rows) <= sum(dofs) + 1e-9


# --- the filament along its spool -----------------------------------------------------------


@pytest.mark.parametrize("x", [1e-6, 1e-3, 0.01, 0.6, 1.0, 5.0, 100.0])
def test_averaging_is_the_double_integral_of_the_correlation(x):
    # Var(mean over ℓ)/Var(point) = (1/ℓ²)∬exp(−|s−t|/λ)ds dt = (2/ℓ²)∫(ℓ−h)exp(−h/λ)dh
    want, _ = integrate.quad(lambda h: 2 * (1 - h) * math.exp(-h * x), 0, 1)
    assert averaging(x * 1000.0, 1000.0) == pytest.approx(want, rel=1e-9)


def test_averaging_limits():
    assert averaging(1e-9, 1.0) == pytest.approx(1.0)
    assert averaging(1e6, 1.0) == pytest.approx(2e-6, rel=1e-5)


def test_two_hundredths_of_a_millimetre_are_1_3_per_cent_of_section():
    budget = loss_budget(balance=Balance(repeatability_g=0.0), spool=Spool(), filament_mm=0.1,
                         diameter_mm=1.75, density_g_cm3=1.24, replicates=1,
                         references=10**9)  # fmt: skip
    (row,) = [r for r in budget.lines if "spool, 1 coupon" in r.source]
    # 2·(0.02/√3)/1.75 = 1.3197 %
    assert row.contribution == pytest.approx(0.013197, abs=1e-6)


def ornstein_uhlenbeck(rng, points, step, correlation):
    """A stationary Gaussian process with correlation exp(−|s|/λ), unit variance."""
    keep = math.exp(-step / correlation)
    noise = rng.standard_normal(points)
    noise[1:] *= math.sqrt(1 - keep * keep)
    from scipy.signal import lfilter

    return lfilter([1.0], [1.0, -keep], noise)


def test_budget_of_the_spool_against_a_simulated_one():
    """Coupons cut from one spool in a shuffled order, purges between them: the spread of loss.

    Nothing is lost and nothing is weighed wrongly, so all spread is the filament's. What the
    coupons of a block have alike cancels; taken as independent they would seem to spread more
    (docs/explanation/budget.md).
    """
    rng = np.random.default_rng(11)
    length, purge, step, correlation = 600.0, 40.0, 20.0, 1000.0
    replicates, references, flows = 3, 4, 8
    total = flows * replicates + references
    per = int((length + purge) / step)
    places = np.linspace(0, total - 1, references).round().astype(int)
    others = np.setdiff1d(np.arange(total), places)
    losses = []
    for _ in range(2000):
        diameter = 1.75 + 0.02 / math.sqrt(3) * ornstein_uhlenbeck(
            rng, total * per, step, correlation
        )
        section = (diameter**2).reshape(total, per)[:, int(purge / step) :].mean(axis=1)
        reference = section[places].mean()
        shuffled = rng.permutation(others).reshape(flows, replicates)
        losses.append(1 - section[shuffled].mean(axis=1) / reference)
    seen = float(np.sqrt((np.array(losses) ** 2).mean()))

    def expected(block):
        budget = loss_budget(
            balance=Balance(readability_g=1e-9, repeatability_g=0.0),
            spool=Spool(correlation_length_mm=correlation),
            filament_mm=length, diameter_mm=1.75, density_g_cm3=1.24, replicates=replicates,
            references=references, block=block,
        )  # fmt: skip
        return math.hypot(*(r.contribution for r in budget.lines if "spool" in r.source))

    assert seen / expected((total, length + purge)) == pytest.approx(1.0, abs=0.06)
    assert seen / expected(None) < 0.95


def test_on_an_even_spool_hardly_anything_is_left_unshared():
    # correlation over 100 m: a block of 10 coupons of 640 mm is all but one diameter
    assert unshared(600.0, 1e5, (10, 640.0)) < 0.05
    assert unshared(600.0, 1e5) > 0.99
    assert unshared(600.0, 10.0, (10, 640.0)) == pytest.approx(unshared(600.0, 10.0), rel=0.01)
    assert unshared(600.0, 1e5, (1, 640.0)) == unshared(600.0, 1e5)


# --- the loss budget -------------------------------------------------------------------------


def test_loss_budget_agrees_with_an_independent_library():
    """The model equation of docs/explanation/budget.md, propagated by GTC."""
    balance = Balance(readability_g=0.01, repeatability_g=0.008, repeatability_dof=9,
                      linearity_g=0.015)  # fmt: skip
    spool = Spool(diameter_u_mm=0.004)
    r, n, length, diameter, loss = 3, 4, 800.0, 1.75, 0.1
    mass = length * math.pi / 4 * diameter**2 * 1.24e-3
    ours = loss_budget(balance=balance, spool=spool, filament_mm=length, diameter_mm=diameter,
                       density_g_cm3=1.24, replicates=r, references=n, loss=loss)  # fmt: skip

    def coupon(net):
        def display():
            return GTC.ureal(0, 0.005 / math.sqrt(3)) + GTC.ureal(0, 0.008)

        weighed = net + display() - display()
        fed = length + GTC.ureal(0, 0.5 / math.sqrt(3))
        d = GTC.ureal(diameter, 0.004)
        return weighed / fed / (d * d)

    own = sum(coupon(mass * (1 - loss)) for _ in range(r)) / r
    bent = GTC.ureal(0, 0.015 / math.sqrt(3)) - GTC.ureal(0, 0.015 / math.sqrt(3))
    references = sum(coupon(mass) for _ in range(n)) / n
    value = 1 - own / references + bent / mass
    assert ours.combined_u == pytest.approx(GTC.uncertainty(value), rel=1e-9)
    # one standard deviation of 10 weighings stands behind every repeatability line
    repeated = sum(row.contribution**2 for row in ours.lines if row.shares) ** 0.5
    assert ours.effective_dof == pytest.approx(9 * (ours.combined_u / repeated) ** 4)


@settings(deadline=None)
@given(
    st.integers(1, 12), st.integers(1, 12), st.floats(50, 3000), st.floats(0.0, 0.05),
    st.booleans(), st.floats(0.0, 0.1),
)  # fmt: skip
def test_more_of_anything_never_makes_loss_less_sure(r, n, length, tolerance, measured, loss):
    spool = Spool(diameter_tolerance_mm=tolerance, diameter_u_mm=0.005 if measured else None)

    def u(r, n, length):
        return loss_budget(balance=Balance(linearity_g=0.01), spool=spool, filament_mm=length,
                           diameter_mm=1.75, density_g_cm3=1.24, replicates=r, references=n,
                           loss=loss).combined_u  # fmt: skip

    assert u(r + 1, n, length) < u(r, n, length)
    assert u(r, n + 1, length) < u(r, n, length)
    assert u(r, n, length * 1.5) < u(r, n, length)


def test_replicates_do_not_average_linearity():
    def u(count):
        budget = loss_budget(balance=Balance(linearity_g=0.02), spool=Spool(), filament_mm=600,
                             diameter_mm=1.75, density_g_cm3=1.24, replicates=count,
                             references=count)  # fmt: skip
        return next(row.contribution for row in budget.lines if "linearity" in row.source)

    assert u(1) == u(12) > 0


def test_a_budget_of_nothing_is_refused_all_at_once():
    with pytest.raises(InputError) as caught:
        loss_budget(balance=Balance(), spool=Spool(), filament_mm=0, diameter_mm=-1,
                    density_g_cm3=1.24, replicates=0, references=1)  # fmt: skip
    assert [p.what.split(" is ")[0] for p in caught.value.problems] == [
        "filament_mm", "diameter_mm", "replicates",
    ]  # fmt: skip
