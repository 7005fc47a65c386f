"""Facts every tuner knows: common practice, no source. The model and its library must agree."""

import pytest

from beadworth.core.quantity import filament_mass_g
from beadworth.fit import fit_check
from beadworth.material.library import generic
from beadworth.melt import predict
from beadworth.rig import Axes, Axis, Extruder, HotEnd, Motor, Rig
from beadworth.rig.drivetrain import steps_per_mm
from beadworth.rig.heater import heater_current_a, heater_ohm


def test_a_40_w_heater_at_24_v():
    assert heater_ohm(40, 24) == pytest.approx(14.4)
    assert heater_current_a(40, 24, 24) == pytest.approx(1.67, abs=0.005)


def test_twenty_teeth_of_two_millimetres_at_a_sixteenth():
    assert steps_per_mm(200, 16, 1.0, 20 * 2.0) == pytest.approx(80)


@pytest.mark.parametrize(("celsius", "ceiling"), [(210, 13.0), (220, 14.5), (230, 16.0)])
def test_ceilings_of_pla_on_twenty_millimetres(celsius, ceiling):
    rig = Rig(name="r", hot_end=HotEnd(melt_zone_mm=20.0, bore_mm=2.0), extruder=Extruder())
    assert predict(rig, generic("PLA"), celsius).at_loss_mm3_s == pytest.approx(ceiling, rel=0.06)


def test_a_kilogram_of_pla_is_about_330_to_335_metres():
    for density in (generic("PLA").density_g_cm3, 1.25, 1.26):
        metres = 1000 / filament_mass_g(1000, 1.75, density)
        assert 329.5 <= metres <= 335.5


@pytest.mark.parametrize(("drive", "verdict"), [("worm belt", "fits"), ("belt", "does not fit")])
def test_a_worm_driven_belt_stays_and_a_plain_one_drops(drive, verdict):
    z = Axis(drive=drive, pulley_teeth=20, belt_pitch_mm=2.0, moving_mass_g=1500.0, motor=Motor())
    rig = Rig(name="r", axes=Axes(z=z))
    (holds,) = [c for c in fit_check(rig, rig) if c.name == "z holds unpowered"]
    assert holds.verdict == verdict
    assert "common practice" in holds.why
