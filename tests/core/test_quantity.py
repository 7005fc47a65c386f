"""Arithmetic everyone shares, against published figures and independent integration."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from beadworth.core.errors import RigValueError
from beadworth.core.quantity import (
    bead_section_mm2,
    coverage_factor,
    feed_mm_s,
    filament_mass_g,
    filament_section_mm2,
    melt_power_w,
)

# Plain geometry, recomputed outside this project (check values, section 10, CALC): half a unit in
# the last printed digit.
SECTIONS = [(1.75, 2.40528188, 5e-9), (2.85, 6.37939658, 5e-9)]
# The list prints 327.3636 for 1.27 g/cm³; 10⁶/(1.27e-3·2.40528188) mm is 327.36353 m, so its last
# digit is off by one and the recomputed 327.3635 stands here.
METRES_PER_KG = [(1.24, 335.2836), (1.04, 399.7612), (1.27, 327.3635)]


@pytest.mark.parametrize(("diameter", "section", "half_digit"), SECTIONS)
def test_filament_section(diameter, section, half_digit):
    assert filament_section_mm2(diameter) == pytest.approx(section, rel=0, abs=half_digit)


@pytest.mark.parametrize(("density", "metres"), METRES_PER_KG)
def test_a_kilogram_of_filament_is_as_long_as_published(density, metres):
    assert filament_mass_g(metres * 1000, 1.75, density) == pytest.approx(1000, rel=0.5e-4 / 300)


def test_melt_power_of_the_handbook_example():
    # 10 mm³/s, 1240 kg/m³, 2000 J/kgK, +190 K: 4.712 W (check values, section 10, CALC)
    assert melt_power_w(10, 1.24, 2.0, 190) == pytest.approx(4.712, rel=0, abs=5e-4)


def test_latent_heat_adds_per_gram():
    with_latent = melt_power_w(10.0, 1.24, 2.0, 190.0, latent_j_g=30.0)
    assert with_latent - melt_power_w(10.0, 1.24, 2.0, 190.0) == pytest.approx(10 * 1.24e-3 * 30)


@given(st.floats(0.05, 2), st.floats(1.001, 20))
def test_bead_section_equals_integration_of_its_outline(layer, ratio):
    """The outline integrated height by height, knowing nothing of the closed form."""
    width = layer * ratio
    # Gauss–Legendre in the angle of the side arc: z = (h/2) sin φ, chord = (w−h) + h cos φ
    nodes, weights = np.polynomial.legendre.leggauss(24)
    phi = nodes * math.pi / 2
    chord = (width - layer) + layer * np.cos(phi)
    area = float(np.sum(weights * math.pi / 2 * chord * layer / 2 * np.cos(phi)))
    assert bead_section_mm2(width, layer) == pytest.approx(area, rel=1e-10)


def test_bead_is_below_the_plain_product():
    assert bead_section_mm2(0.45, 0.2) < 0.45 * 0.2


def test_bead_section_broadcasts():
    got = bead_section_mm2(np.array([[0.4], [0.6]]), np.array([0.1, 0.2]))
    assert got.shape == (2, 2)
    assert got[1, 0] == bead_section_mm2(0.6, 0.1)


@pytest.mark.parametrize("width", [0.2, 0.1, float("nan")])
def test_a_bead_no_wider_than_high_is_refused(width):
    with pytest.raises(RigValueError, match=r"is not possible at 0\.2 mm layer height") as caught:
        bead_section_mm2(width, 0.2)
    assert "larger than the layer height" in caught.value.problems[0].remedy


def test_feed_turns_back_into_flow():
    assert feed_mm_s(12.0, 1.75) * filament_section_mm2(1.75) == pytest.approx(12.0)


# JCGM 100:2008, table G.2: printed to two decimals
T_TABLE = [(1, 0.95, 12.71), (10, 0.95, 2.23), (10, 0.99, 3.17), (math.inf, 0.95, 1.96)]


@pytest.mark.parametrize(("dof", "confidence", "printed"), T_TABLE)
def test_coverage_factors_are_those_of_the_table(dof, confidence, printed):
    assert coverage_factor(dof, confidence) == pytest.approx(printed, rel=0, abs=0.005)


def test_degrees_of_freedom_are_cut_down_to_a_whole_number():
    assert coverage_factor(10.99) == coverage_factor(10.0) > coverage_factor(11.0)
    assert coverage_factor(0.4) == coverage_factor(1.0)
    assert coverage_factor() == pytest.approx(1.959963984540054, rel=1e-14)
