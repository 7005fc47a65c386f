"""Pressure and viscosity against closed forms (check values, sections 4 and 6, CALC)."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from melt_pressure import cone_pressure_pa, tube_pressure_pa, wall_rate_1_s

from beadworth.material import Rheology
from beadworth.material.library import GENERIC
from beadworth.melt.rheology import (
    PISTON_MM,
    fluid_row,
    melt_flow_viscosity,
    piston_pressure_mpa,
    viscosity_pa_s,
    wall_stress_kpa,
)

NODES, WEIGHTS = np.polynomial.legendre.leggauss(16)
NODES, WEIGHTS = (NODES + 1) / 2, WEIGHTS / 2


def power_law(consistency, n):
    return fluid_row(
        Rheology(kind="power-law", n=n, consistency_pa_sn=consistency, reference_c=200.0)
    )


def tube_mpa(fluid, radius_mm, length_mm, flow_mm3_s):
    pressure = tube_pressure_pa(
        fluid, flow_mm3_s * 1e-9, radius_mm / 1e3, length_mm / 1e3, 200.0, NODES, WEIGHTS
    )
    return pressure / 1e6


# Bird, Armstrong, Hassager, Dynamics of Polymeric Liquids, vol. 1: tube and cone formulas
@pytest.mark.parametrize(
    ("consistency", "n", "length_mm", "radius_mm", "flow", "expected"),
    [
        (1000.0, 1.0, 2, 0.2, 5, 15.915494),
        (5000.0, 0.4, 2, 0.2, 5, 1.642998),
        (5000.0, 0.4, 15, 1.0, 5, 0.357244),
        (10000.0, 0.3, 0.5, 0.2, 10, 0.524068),
    ],
)
def test_tube_pressure(consistency, n, length_mm, radius_mm, flow, expected):
    got = tube_mpa(power_law(consistency, n), radius_mm, length_mm, flow)
    assert got == pytest.approx(expected, rel=0, abs=5e-7)


@pytest.mark.parametrize(
    ("consistency", "n", "expected"), [(5000.0, 0.4, 0.202770612), (1000.0, 1.0, 0.911530440)]
)
def test_cone_pressure(consistency, n, expected):
    fluid = power_law(consistency, n)
    slope = math.tan(math.radians(30))
    got = cone_pressure_pa(fluid, 5e-9, 1e-3, 0.2e-3, slope, 200.0, NODES, WEIGHTS) / 1e6
    assert got == pytest.approx(expected, rel=0, abs=5e-10)


def test_rabinowitsch_wall_rate_of_a_power_law():
    # n = 0.4: the true wall rate is 1.375 times the apparent one
    rate = wall_rate_1_s(power_law(5000.0, 0.4), 5e-9, 0.2e-3, 200.0, NODES, WEIGHTS)
    assert rate == pytest.approx(1094.1902, rel=0, abs=5e-5)


CROSS = Rheology(
    kind="cross-arrhenius", n=0.3, tau_star_pa=30000.0, zero_pa_s=3000.0, reference_c=200.0
)


@pytest.mark.parametrize(
    ("flow", "rate", "pressure"),
    [
        (1, 219.480, 0.679566),
        (5, 1190.778, 1.215720),
        (10, 2429.274, 1.526067),
        (20, 4923.491, 1.901844),
    ],
)
def test_cross_fluid_in_a_tube(flow, rate, pressure):
    fluid = fluid_row(CROSS)
    got = wall_rate_1_s(fluid, flow * 1e-9, 0.2e-3, 200.0, NODES, WEIGHTS)
    assert got == pytest.approx(rate, rel=0, abs=6e-4)
    assert tube_mpa(fluid, 0.2, 1.0, flow) == pytest.approx(pressure, rel=0, abs=6e-7)


def test_cross_wlf_viscosity_of_the_pla_grade():
    # parameters of one grade from memory, rounded; the arithmetic recomputed in other code (awk)
    rheology = GENERIC["PLA"].rheology.model_copy(update={"n": 0.25, "d1_pa_s": 3.3e9})
    expected = {1: 4849.280, 10: 3309.479, 100: 1188.062, 1000: 258.0118, 10000: 47.76074}
    for rate, viscosity in expected.items():
        got = viscosity_pa_s(rheology, float(rate), 200.0)
        assert got == pytest.approx(viscosity, rel=0, abs=6e-4 if rate < 1000 else 6e-5)


def test_arrhenius_factor():
    # Ea 60 kJ/mol, 200 → 220 °C: 0.538729
    fluid = CROSS.model_copy(update={"activation_j_mol": 60000.0})
    ratio = viscosity_pa_s(fluid, 1e-9, 220.0) / viscosity_pa_s(fluid, 1e-9, 200.0)
    assert ratio == pytest.approx(0.538729, rel=0, abs=5e-7)


# ISO 1133-1 die; dimensions from memory, arithmetic recomputed
@pytest.mark.parametrize(
    ("load", "pressure", "stress"),
    [(2.16, 0.29572, 19.36), (5, 0.68453, 44.816), (21.6, 2.95718, 193.603)],
)
def test_iso_1133_pressure_on_the_barrel_area(load, pressure, stress):
    assert piston_pressure_mpa(load) == pytest.approx(pressure, rel=0, abs=5e-6)
    # one unit of the last printed digit: 44.816 is printed where 44.81549 comes out
    assert wall_stress_kpa(load) == pytest.approx(stress, rel=0, abs=1e-2 if load < 3 else 1e-3)


def test_iso_1133_pressure_on_the_piston_area():
    assert piston_pressure_mpa(2.16, PISTON_MM) == pytest.approx(0.30048, rel=0, abs=5e-6)


@pytest.mark.parametrize(
    ("mfr", "density", "rate", "viscosity"),
    [(10, 1.0, 18.4628, 1048.61), (6, 1.08, 10.2571, 1887.50)],
)
def test_melt_flow_rate_turns_into_viscosity(mfr, density, rate, viscosity):
    got, at = melt_flow_viscosity(mfr, 2.16, density)
    assert at == pytest.approx(rate, rel=0, abs=5e-5)
    assert got == pytest.approx(viscosity, rel=0, abs=5e-3)


@given(st.floats(0.2, 1.0), st.floats(10, 1e5), st.floats(0.05, 1.5), st.floats(0.1, 60))
def test_tube_solver_equals_the_power_law_formula(n, consistency, radius_mm, flow):
    radius = radius_mm / 1e3
    rate = (3 * n + 1) / (4 * n) * 4 * flow * 1e-9 / (math.pi * radius**3)
    expected = 2 * 0.01 / radius * consistency * rate**n / 1e6
    assert tube_mpa(power_law(consistency, n), radius_mm, 10.0, flow) == pytest.approx(
        expected, rel=1e-7
    )


def test_rate_solver_holds_over_a_wide_range():
    fluid = fluid_row(GENERIC["PLA"].rheology)
    flows = np.logspace(-3, 3, 13)
    pressures = [tube_mpa(fluid, 0.2, 1.0, flow) for flow in flows]
    assert np.all(np.diff(pressures) > 0)
