"""Beams, screws and heaters against handbook arithmetic."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from beadworth.core.errors import RigValueError
from beadworth.rig import Beam
from beadworth.rig.heater import (
    heater_current_a,
    heater_ohm,
    heater_power_w,
    standing_loss_w,
)
from beadworth.rig.statics import (
    deflection_mm,
    friction_angle_deg,
    lead_angle_deg,
    lift_off_n,
    screw_efficiency,
    second_moment_mm4,
)

SQUARE = Beam(section="rectangle", width_mm=20.0, height_mm=20.0)
ROUND = Beam(section="round", height_mm=8.0)


# Handbook beam formulas, worked examples recomputed elsewhere; half a last digit
@pytest.mark.parametrize(
    ("beam", "modulus", "support", "mm", "half"),
    [
        (SQUARE, 69, "cantilever", 0.0978261, 5e-8),
        (SQUARE, 69, "simple", 0.00611413, 5e-9),
        (SQUARE, 69, "fixed", 0.00152853, 5e-9),
        (ROUND, 200, "cantilever", 2.238116, 5e-7),
        (ROUND, 200, "simple", 0.1398823, 5e-8),
        (ROUND, 200, "fixed", 0.0349706, 5e-8),
    ],
)
def test_beam_under_ten_newton(beam, modulus, support, mm, half):
    got = deflection_mm(support, 300, modulus, second_moment_mm4(beam), load_n=10)
    assert got == pytest.approx(mm, abs=half)


def test_second_moments():
    assert second_moment_mm4(SQUARE) == pytest.approx(13333.33, abs=5e-3)
    assert second_moment_mm4(ROUND) == pytest.approx(201.0619, abs=5e-5)


@pytest.mark.parametrize(("support", "mm"), [("cantilever", 0.2517881), ("simple", 0.02622793)])
def test_rod_under_an_even_load(support, mm):
    got = deflection_mm(support, 300, 200, second_moment_mm4(ROUND), even_n_per_m=10)
    assert got == pytest.approx(mm, rel=2e-7)


@given(st.floats(1, 50), st.floats(1, 50), st.floats(0.1, 60))
def test_a_tube_lies_between_nothing_and_solid(b, h, wall):
    tube = Beam(section="tube", width_mm=b, height_mm=h, wall_mm=wall)
    solid = b * h**3 / 12
    assert 0 < second_moment_mm4(tube) <= solid * (1 + 1e-12)


@pytest.mark.parametrize(
    "beam",
    [
        Beam(), Beam(section="round"), Beam(section="rectangle", height_mm=3.0),
        Beam(section="tube", height_mm=3.0, width_mm=3.0),
    ],
)  # fmt: skip
def test_a_section_not_recorded_is_not_known(beam):
    assert second_moment_mm4(beam) is None


def test_screw_of_two_millimetres_lead():
    # any machine-elements handbook: lead 2, pitch diameter 7, μ 0.2, 30° trapezium, by hand
    lead = lead_angle_deg(2.0, 7.0)
    friction = friction_angle_deg(0.2, 15.0)
    assert math.tan(math.radians(lead)) == pytest.approx(2 / (math.pi * 7))
    assert math.tan(math.radians(friction)) == pytest.approx(0.2 / math.cos(math.pi / 12))
    assert lead < friction


@given(st.floats(0.5, 44), st.floats(0.5, 44))
def test_a_screw_that_holds_has_less_than_half_efficiency(lead, friction):
    # handbook fact: a self-locking screw is at most 50 % efficient
    if lead <= friction:
        assert screw_efficiency(lead, friction) <= 0.5 + 1e-12


def test_lift_off_is_a_moment_over_a_spacing():
    assert lift_off_n(0.4, 10.0, 30.0, 60.0) == pytest.approx(2.0)


@pytest.mark.parametrize(
    ("watts", "volts", "ohm", "ampere"),
    [
        (40, 24, 14.4, 1.666667),
        (50, 24, 11.52, 2.083333),
        (60, 24, 9.6, 2.5),
        (40, 12, 3.6, 10 / 3),
    ],
)
def test_heater_arithmetic(watts, volts, ohm, ampere):
    # 40 W at 24 V is 14.4 Ω and 1.67 A: common practice, no source; arithmetic recomputed
    assert heater_ohm(watts, volts) == pytest.approx(ohm)
    assert heater_current_a(watts, volts, volts) == pytest.approx(ampere, abs=1e-6)
    assert heater_power_w(watts, volts, volts) == pytest.approx(watts)
    assert heater_power_w(watts, volts, volts / 2) == pytest.approx(watts / 4)


def test_standing_loss_is_its_coefficient_times_the_rise():
    assert standing_loss_w(0.05, 220.0, 20.0) == pytest.approx(10.0)


def test_heater_refuses_all_at_once():
    with pytest.raises(RigValueError) as caught:
        heater_ohm(-40, 0)
    assert [p.where for p in caught.value.problems] == ["rated_w", "rated_v"]
