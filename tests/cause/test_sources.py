"""Sources a rig's record names, where they lie, what a wall cannot show, what to ask."""

import math

import pytest

from beadworth.cause import WallSide, sources_of
from beadworth.cause.advise import information_bits, photo_notes
from beadworth.rig import Axes, Axis, Extruder, Guide, HotEnd, Known, Rig


def wall(direction_deg=0.0):
    return WallSide(110, 0.3, 60, 3000, 10, 0.05, 25, 8, direction_deg)


def belts(**changed):
    axis = Axis(drive="belt", pulley_teeth=20, belt_pitch_mm=2.0, full_steps=200, **changed)
    return Axes(x=axis, y=axis, z=Axis(drive="screw", lead_mm=8.0))


def named(rig, *walls):
    return {s.name: s for s in sources_of(rig, walls or (wall(),))}


def test_a_record_without_fields_leaves_periods_open():
    found = named(Rig(name="Bare"))
    assert set(found) == {"drive tooth", "gear mesh", "heater cycle", "ringing"}
    assert all(s.period is None for s in found.values())


def test_what_the_record_says():
    guide = Guide(kind="wheels", wheel_circumference_mm=38.0)
    rig = Rig(
        name="Full", axes=belts(idler_teeth=16, guide=guide, resonance_hz=50.0),
        extruder=Extruder(effective_diameter_mm=8.0, drive_wheel_teeth=40, mesh_teeth=50,
                          gear_ratio=3.0),
        hot_end=HotEnd(heater_cycle_s=6.0),
        known={"axes.x.guide.wheel_circumference_mm": Known(u=0.19, origin="measured")},
    )  # fmt: skip
    found = named(rig)
    periods = {
        "belt tooth, x": 2.0, "pulley turn, x": 40.0, "idler turn, x": 32.0,
        "four motor steps, x": 0.8, "guide wheel turn, x": 38.0, "screw turn, z": 8.0,
        "drive tooth": math.pi * 8 / 40, "gear mesh": math.pi * 8 / 50,
        "drive wheel turn": math.pi * 8, "extruder motor turn": math.pi * 8 / 3,
        "heater cycle": 6.0, "ringing": 50.0,
    }  # fmt: skip
    for name, period in periods.items():
        assert found[name].period == pytest.approx(period), name
    assert found["guide wheel turn, x"].u == pytest.approx(0.005)
    assert found["guide wheel turn, x"].fewest_mm(wall(), 2.5) == pytest.approx(
        2.5 * 38 * (1 + 2.5 * 0.005)
    )
    assert math.isinf(found["pulley turn, y"].fewest_mm(wall(), 2.5))


def test_drive_wheel_from_steps_per_mm():
    rig = Rig(name="Steps", extruder=Extruder(
        steps_per_mm=400.0, full_steps=200, microsteps=16, gear_ratio=3.0, drive_wheel_teeth=40,
    ))  # fmt: skip
    assert named(rig)["drive tooth"].period == pytest.approx(200 * 16 * 3 / 400 / 40)


def test_on_a_diagonal_x_and_y_are_one():
    found = named(Rig(name="R", axes=belts()), wall(45.0))
    assert "pulley turn, x and y" in found
    assert "pulley turn, x" not in found
    assert "pulley turn, x" in named(Rig(name="R", axes=belts()), wall(45.0), wall(0.0))


def test_coupled_belts_run_both_along_x_and_one_along_the_diagonal():
    rig = Rig(name="Coupled", coupled_belts=True, axes=belts())
    along_x = named(rig, wall(0.0))
    assert along_x["belt tooth, x and y"].travel_per_mm(wall(0.0)) == pytest.approx(1.0)
    diagonal = named(rig, wall(45.0))
    assert diagonal["belt tooth, x"].travel_per_mm(wall(45.0)) == pytest.approx(math.sqrt(2))
    assert diagonal["belt tooth, y"].travel_per_mm(wall(45.0)) == pytest.approx(0.0, abs=1e-9)


def test_ringing_across_x_is_that_of_y():
    axes = Axes(x=Axis(resonance_hz=40.0), y=Axis(resonance_hz=60.0))
    rig = Rig(name="Two", axes=axes)
    for degrees, hertz in ((0.0, 60.0), (180.0, 60.0), (90.0, 40.0), (45.0, None)):
        assert named(rig, wall(degrees))["ringing"].period == hertz, degrees


def test_information_of_an_answer():
    even = {"a": 0.5, "b": 0.5}
    told = 1 + 0.9 * math.log2(0.9) + 0.1 * math.log2(0.1)
    assert information_bits(even, {"a": True, "b": False}) == pytest.approx(told)
    assert information_bits(even, {"a": True, "b": True}) == pytest.approx(0.0)
    assert information_bits({"a": 1.0, "b": 0.0}, {"a": True, "b": False}) == pytest.approx(0.0)
    assert information_bits({"a": 0.5, "none": 0.5}, {"a": True}) < told


def test_notes_on_distance_and_light():
    assert photo_notes(6.0, 0.01) == []
    assert photo_notes(5.9, 0.01) == [
        "5.9 pixels a layer are few; 6 are wanted: go nearer, or take a part of the wall."
    ]
    assert photo_notes(8.0, 0.003) == [
        "Hardly any light and shade along the wall. Move the lamp to one side and low: from the "
        "diagonal both directions show."
    ]
