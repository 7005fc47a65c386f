"""Slips of unit that once passed as 'fits': each is questioned, all in one message."""

import pytest
from fit_support import STILT, checks, with_

from beadworth import demo
from beadworth.core.records import to_mapping
from beadworth.rig import look_up, questions, replaced
from beadworth.rig.paths import known_paths
from beadworth.rig.plausible import RANGES
from beadworth.rig.record import Rig


@pytest.mark.parametrize(
    ("path", "value", "slip", "rests"),
    [
        ("axes.y.moving_mass_g", 0.9, "kg for g?", "safe acceleration of y"),
        ("hot_end.mass_g", 0.062, "kg for g?", None),
        ("axes.x.belt_length_mm", 0.9, "m for mm?", None),
        ("toolhead.centre_mm", 0.024, "m for mm?", "preload of the x guide"),
        ("toolhead.nozzle_z_mm", 0.046, "m for mm?", "nozzle reach to the bed"),
        ("axes.x.motor.phase_inductance_mh", 0.0028, "H for mH?", "safe acceleration of x"),
        ("motion.max_acceleration_mm_s2.x", 3.0, "m/s² for mm/s²?", "safe acceleration of x"),
        ("motion.max_acceleration_mm_s2.z", 0.2, "m/s² for mm/s²?", "safe acceleration of z"),
        ("motion.max_speed_mm_s.x", 0.6, "m/s for mm/s?", "safe acceleration of x"),
        ("electrics.fan_output_a", 900.0, "mA for A?", "part fan current"),
        ("hot_end.sensor.pull_up_ohm", 4.7, "kΩ for Ω?", "sensor step"),
    ],
)
def test_a_slip_of_unit_is_questioned(path, value, slip, rests):
    *tables, last = path.split(".")
    whole = [t for t in tables if t in ("motor", "sensor")]
    if whole:  # one bought part is replaced whole, so restate the rest of it
        table = ".".join(tables)
        part = to_mapping(look_up(STILT, table)) | {last: value}
        rig = with_(table, part)
        if "motor" in tables:  # another motor, so its steps too
            rig = with_("axes.x", {"motor": part, "full_steps": 200})
    elif tables[0] == "motion":
        limits = {axis: getattr(look_up(STILT, ".".join(tables)), axis) for axis in "xyz"}
        rig = with_(".".join(tables), limits | {last: value})
    else:
        rig = with_(path, value)
    made = checks(parent=rig)
    odd = made["values in question"]
    assert odd.verdict == "look closer"
    assert f"{path} {value:g} (as a rule " in odd.why
    assert slip in odd.why
    if rests:
        assert made[rests].verdict != "fits"
        assert f"Rests on values in question: {path}." in made[rests].why
    assert not any(c.verdict == "fits" and path in c.why for c in made.values())


def test_a_liner_beyond_the_break_and_a_cold_side_above_the_nozzle():
    made = checks({"hot_end": {"liner_end_mm": 12.0, "cold_side_c": 240.0}}, temperature=220.0)
    odd = made["values in question"]
    assert (odd.value, odd.limit) == (2.0, 0.0)
    assert "hot_end.liner_end_mm 12, beyond the heat break of 8 mm" in odd.why
    assert "hot_end.cold_side_c 240, not below the nozzle's 220 °C" in odd.why
    assert made["liner temperature"].verdict != "fits"
    # at the break's end, and a degree below the nozzle, nothing is odd
    assert "values in question" not in checks({"hot_end": {"liner_end_mm": 8.0}})
    warm = checks({"hot_end": {"cold_side_c": 100.0}}, temperature=101.0)
    assert "values in question" not in warm
    assert "values in question" in checks({"hot_end": {"cold_side_c": 100.0}}, temperature=100.0)


def test_several_slips_make_one_message():
    rig = with_("axes.y.moving_mass_g", 0.9, with_("axes.x.belt_length_mm", 0.9))
    odd = checks(parent=rig)["values in question"]
    assert odd.value == 2
    assert odd.why == (
        "Check the unit of: axes.y.moving_mass_g 0.9 (as a rule 30 to 30000, kg for g?); "
        "axes.x.belt_length_mm 0.9 (as a rule 50 to 20000, m for mm?). What rests on them is not "
        "simply said to fit."
    )


def test_printers_of_the_examples_and_the_demo_are_plausible():
    for rig in (STILT, demo.STOCK, demo.LONG_ZONE):
        assert questions(rig) == ()
    assert "values in question" not in checks()


def test_every_range_is_of_a_field_there_is():
    fields = known_paths(Rig)
    for pattern, (low, high) in RANGES.items():
        assert 0 < low < high
        parts = pattern.split(".")
        ends = [p for p in fields if p.rpartition(".")[2] == parts[-1] or "*" in parts[-1]]
        assert ends, pattern
    for path in ("axes.x.moving_mass_g", "fans.0.current_a", "room.left_mm",
                 "motion.print_acceleration_mm_s2", "extruder.motor.supply_v"):  # fmt: skip
        value = look_up(STILT, path)
        assert value is not None
        assert questions(_shrunk(path, value))[0].path == path


def _shrunk(path, value):
    return replaced(STILT, path, value * 1e-4)
