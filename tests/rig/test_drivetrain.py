"""Steps, torque over speed, acceleration, resonance."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from beadworth.core.errors import RigValueError
from beadworth.rig import Axis, Motor
from beadworth.rig.drivetrain import (
    Train,
    Windings,
    belt_stiffness_n_m,
    diagonal_acceleration_m_s2,
    pull_out_torque_nm,
    ratio_of,
    resonance_hz,
    safe_acceleration_m_s2,
    steps_per_mm,
    travel_per_turn_mm,
    windings,
)


def test_a_twenty_tooth_pulley_makes_eighty_steps():
    # common practice, no source; arithmetic recomputed elsewhere
    belt = Axis(drive="belt", pulley_teeth=20, belt_pitch_mm=2.0)
    assert travel_per_turn_mm(belt) == 40
    assert steps_per_mm(200, 16, ratio_of(belt), travel_per_turn_mm(belt)) == 80


def test_a_screw_of_lead_eight_makes_four_hundred():
    assert steps_per_mm(200, 16, 1.0, travel_per_turn_mm(Axis(drive="screw", lead_mm=8.0))) == 400


def test_a_worm_needs_its_ratio():
    assert ratio_of(Axis(drive="worm belt")) is None
    assert travel_per_turn_mm(Axis(drive="belt", pulley_teeth=20)) is None


def test_steps_refuse_a_missing_tooth_count():
    with pytest.raises(RigValueError, match="travel_mm_per_turn"):
        steps_per_mm(200, 16, 1.0, 0.0)


MOTOR = Motor(
    holding_torque_nm=0.45,
    rated_current_a=2.0,
    phase_inductance_mh=2.5,
    phase_resistance_ohm=1.4,
    supply_v=24.0,
)


def test_sine_currents_give_holding_over_root_two():
    coil = windings(MOTOR, 200, None)
    assert pull_out_torque_nm(coil, 0.0) == pytest.approx(0.45 / math.sqrt(2))
    half = windings(MOTOR, 200, 1.0)
    assert pull_out_torque_nm(half, 0.0) == pytest.approx(0.45 / math.sqrt(2) / 2)


def test_unknown_windings_stay_unknown():
    assert windings(Motor(holding_torque_nm=0.4), 200, None) is None


coils = st.builds(
    Windings,
    torque_per_amp_nm_a=st.floats(0.02, 1.0),
    resistance_ohm=st.floats(0.2, 10),
    inductance_h=st.floats(2e-4, 2e-2),
    supply_v=st.floats(5, 60),
    current_a=st.floats(0.2, 5),
    pole_pairs=st.just(50.0),
)


@given(coils, st.floats(0, 40))
def test_torque_is_the_best_current_inside_both_circles(coil, speed):
    """Brute force over the plane of the current is the specification."""
    omega = 2 * math.pi * speed
    z = complex(coil.resistance_ohm, coil.pole_pairs * omega * coil.inductance_h)
    e = coil.torque_per_amp_nm_a * omega
    angle = np.linspace(-math.pi, math.pi, 1441)[:, None]
    size = np.linspace(0, coil.current_a, 241)[None, :]
    current = size * np.exp(1j * angle)
    inside = np.abs(e + z * current) <= coil.supply_v
    best = current.real[inside].max() if inside.any() else 0.0
    got = pull_out_torque_nm(coil, speed)
    slack = coil.torque_per_amp_nm_a * coil.current_a * 0.02
    assert got >= coil.torque_per_amp_nm_a * max(best, 0.0) - 1e-9
    assert got <= coil.torque_per_amp_nm_a * max(best, 0.0) + slack


@given(coils, st.floats(0, 40), st.floats(0, 40))
def test_torque_only_falls_with_speed_and_rises_with_supply(coil, one, other):
    slow, fast = sorted((one, other))
    assert pull_out_torque_nm(coil, fast) <= pull_out_torque_nm(coil, slow) + 1e-9
    more = Windings(**{**coil.__dict__, "supply_v": coil.supply_v * 1.5})
    assert pull_out_torque_nm(more, fast) >= pull_out_torque_nm(coil, fast) - 1e-9


@given(coils)
def test_full_torque_up_to_the_corner_speed(coil):
    # up to it the supply drives the full current: |k·ω + (R + j·p·ω·L)·I|² = V², solved for ω
    k, i, r = coil.torque_per_amp_nm_a, coil.current_a, coil.resistance_ohm
    a, b = k * k + (coil.pole_pairs * coil.inductance_h * i) ** 2, 2 * k * r * i
    c = min(0.0, (r * i) ** 2 - coil.supply_v**2)
    corner = (-b + math.sqrt(b * b - 4 * a * c)) / (2 * a) / (2 * math.pi)
    full = coil.torque_per_amp_nm_a * coil.current_a
    if corner > 1e-9:  # below it the corner is lost in rounding
        assert pull_out_torque_nm(coil, corner * 0.999) == pytest.approx(full, rel=1e-6)
        assert pull_out_torque_nm(coil, corner * 1.05) < full


def test_force_is_torque_over_the_pulley_radius():
    coil = windings(MOTOR, 200, None)
    train = Train(coil, 1, 0.040, 1.0, 0.0)
    radius = 0.040 / (2 * math.pi)
    assert train.force_n(0.0) == pytest.approx(0.45 / math.sqrt(2) / radius)
    # half kept back, 2 N of friction, 0.5 kg
    expected = (train.force_n(0.1) / 2 - 2) / 0.5
    assert safe_acceleration_m_s2(train, 0.5, 0.1, 2.0, 0.5) == pytest.approx(expected)


def test_rotor_inertia_counts_as_mass():
    # 54 g·cm² on a 40 mm pulley turn: J·(2π/0.04)², by hand
    train = Train(windings(MOTOR, 200, None), 1, 0.04, 1.0, 54e-7)
    assert train.rotor_as_mass_kg() == pytest.approx(54e-7 * (2 * math.pi / 0.04) ** 2)


@given(st.floats(1e3, 1e6), st.floats(0.05, 5), st.floats(1.01, 4))
def test_resonance_falls_with_the_root_of_mass(k, m, more):
    assert resonance_hz(k, m * more) * math.sqrt(more) == pytest.approx(resonance_hz(k, m))


def test_a_belt_is_softest_in_the_middle():
    # runs a and L − a as springs c/a and c/(L − a); at a = L/2 their sum is 4·c/L
    c, length = 8000.0, 1.0
    runs = [c / a + c / (length - a) for a in np.linspace(0.05, 0.95, 91)]
    assert min(runs) == pytest.approx(belt_stiffness_n_m(c, length))


def test_a_belt_driven_from_one_end_is_softest_at_its_idler():
    # runs of d and L − d: k = c/d + c/(L − d), by hand at half and at the whole travel
    c, loop = 9000.0, 0.9
    middle = c / (loop / 4) + c / (3 * loop / 4)
    assert belt_stiffness_n_m(c, loop) == pytest.approx(2 * c / (loop / 2))
    assert middle / belt_stiffness_n_m(c, loop) == pytest.approx(4 / 3)


@given(st.floats(0.1, 2), st.floats(0.1, 3), st.floats(0, 1), st.floats(0, 10), st.floats(0, 10))
def test_the_diagonal_balances_the_forces_of_both_belts(mass_x, mass_y, speed, rub_x, rub_y):
    """Newton for each axis, then what each belt must give: no more than half the pull-out force."""
    belt = Train(windings(MOTOR, 200, None), 1, 0.040, 0.9, 60e-7)
    j = 60e-7 * (2 * math.pi / 0.040) ** 2
    along = diagonal_acceleration_m_s2(belt, mass_x, mass_y, speed, (rub_x, rub_y), 0.5)
    each = along / math.sqrt(2)
    in_x, in_y = (mass_x + 2 * j) * each + rub_x, (mass_y + 2 * j) * each + rub_y
    working = (in_x + in_y) / 2
    assert working == pytest.approx(0.5 * belt.force_n(math.sqrt(2) * speed), abs=1e-6)


def test_a_diagonal_of_equal_masses_by_hand():
    # no rotor, no friction, 1 kg each: √2·2·(½·F) ÷ 2, F = 0.9·0.45/√2 ÷ (0.04/2π)
    belt = Train(windings(MOTOR, 200, None), 1, 0.040, 0.9, 0.0)
    force = 0.9 * 0.45 / math.sqrt(2) / (0.040 / (2 * math.pi))
    got = diagonal_acceleration_m_s2(belt, 1.0, 1.0, 0.0, (0.0, 0.0), 0.5)
    assert got == pytest.approx(force / math.sqrt(2))
