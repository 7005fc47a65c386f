"""Rig records whole: fields described, refusals that teach, upgrades that show what changed."""

import contextlib

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from beadworth.core.errors import RecordError
from beadworth.core.records import from_mapping, from_toml, to_mapping, to_toml
from beadworth.rig import (
    Axes,
    Axis,
    Extruder,
    HotEnd,
    Known,
    Motor,
    Rig,
    Sensor,
    changed,
    upgrade,
)
from beadworth.rig.paths import descriptions, known_paths, look_up, replaced


def refusal(text, source="rig.toml"):
    with pytest.raises(RecordError) as caught:
        from_toml(Rig, text, source)
    return caught.value.problems


def test_every_field_says_what_it_is():
    empty = [path for path, words in descriptions(Rig).items() if not words]
    assert empty == []


def test_a_field_whose_name_carries_a_unit_says_the_unit():
    units = {"mm": "mm", "mm_s": "mm/s", "mm_s2": "mm/s²", "g": "g", "n": "N", "w": "W",
             "v": "V", "a": "A", "ohm": "Ω", "mh": "mH", "nm": "N·m", "hz": "Hz", "gpa": "GPa",
             "w_k": "W/K", "mm4": "mm⁴", "k": "K", "0c": "Ω", "25c": "Ω"}  # fmt: skip
    for path, words in descriptions(Rig).items():
        name = path.rpartition(".")[2]
        ends = [u for u in units if name.endswith(f"_{u}")]
        if ends and not name.startswith("steps_per"):
            assert units[max(ends, key=len)] in words, path


@pytest.mark.parametrize(
    ("text", "field", "seen", "says"),
    [
        ('[hot_end]\nheater_w = "40 W"', "hot_end.heater_w", "40 W", "heater rating"),
        ("[axes.x]\nmoving_mass_g = -350.0", "axes.x.moving_mass_g", -350, "moves, carriage"),
        ("mass_g = -30.0", "mass_g", -30, "the part it replaces (hot_end.mass_g"),
        ("[hot_end]\nmass_g = -5.0", "hot_end.mass_g", -5, "whole hot end, g"),
        ("[axes.x.motor]\nholding_torque_nm = 45.0", "axes.x.motor.holding_torque_nm", 45, "N·m"),
        ("[hot_end]\nbore_mm = 2.0\nnozzle_mm = 2.4", "hot_end.nozzle_mm", 2.4, "bore_mm"),
        ("[hot_end]\nbore_mm = 0.3", "hot_end.nozzle_mm", 0.4, "both diameters"),
    ],
)
def test_bad_values_name_field_value_and_remedy(text, field, seen, says):
    (problem,) = refusal(f'name = "A"\n{text}\n')
    assert problem.where == f"rig.toml, field {field}"
    assert problem.value == seen
    assert says in problem.remedy
    assert str(seen) in problem.what


def test_a_unit_misnamed_is_pointed_to_the_right_field():
    (problem,) = refusal('name = "A"\n[axes.x]\nmoving_mass_kg = 0.35\n')
    assert problem.where == "rig.toml, field axes.x.moving_mass_kg"
    assert problem.remedy.startswith("Perhaps moving_mass_g (everything this axis moves")


def test_a_missing_value_in_a_list_is_named():
    text = 'name = "A"\n[[mounting.part.holes]]\nx_mm = 1.0\ndiameter_mm = 3.2\n'
    (problem,) = refusal(text)
    assert problem.where == "rig.toml, field mounting.part.holes.0.y_mm"
    assert "missing" in problem.what


def test_known_must_name_a_field_there_is():
    text = 'name = "A"\n[known."hot_end.melt_zone"]\norigin = "measured"\n'
    (problem,) = refusal(text)
    assert "no field hot_end.melt_zone" in problem.what
    assert problem.remedy
    (near,) = refusal('name = "A"\n[known."melt_zone_mm"]\norigin = "measured"\n')
    assert "hot_end.melt_zone_mm" in near.remedy


def test_known_reads_with_uncertainty_origin_and_list_paths():
    text = """
    name = "A"
    [[fans]]
    current_a = 0.1
    [known."fans.0.current_a"]
    u = 0.01
    origin = "datasheet"
    [known."hot_end.nozzle_mm"]
    u = 0.01
    origin = "measured"
    note = "pin gauges"
    """
    rig = from_toml(Rig, text, "a.toml")
    assert rig.known["fans.0.current_a"] == Known(u=0.01, origin="datasheet")
    assert from_toml(Rig, to_toml(rig), "a.toml") == rig


PARENT = Rig(
    name="Parent",
    hot_end=HotEnd(
        heater_w=40.0,
        heater_v=24.0,
        melt_zone_mm=12.5,
        bore_mm=2.0,
        standing_loss_w_k=0.06,
        sensor=Sensor(kind="thermistor", ohm_at_25c=1e5, beta_k=3950.0, max_c=285.0),
    ),
    extruder=Extruder(steps_per_mm=400.0, gear_ratio=3.0, grip_force_n=60.0),
    axes=Axes(x=Axis(drive="belt", steps_per_mm=80.0, motor=Motor(holding_torque_nm=0.4))),
    price=3.0,
    known={"hot_end.melt_zone_mm": Known(u=0.2, origin="measured")},
)


def test_an_upgrade_names_only_what_changes():
    child = upgrade(PARENT, {"name": "Child", "hot_end": {"melt_zone_mm": 20.0}})
    assert child.parent == "Parent"
    assert child.hot_end.bore_mm == 2.0
    assert child.price is None
    assert changed(PARENT, child) == [
        ("hot_end.melt_zone_mm", 12.5, 20.0),
        ("hot_end.standing_loss_w_k", 0.06, None),
    ]
    assert child.known == {}, "how well the old length was known says nothing of the new one"


def test_values_of_the_old_parts_do_not_stay_behind():
    child = upgrade(
        PARENT,
        {"hot_end": {"sensor": {"kind": "platinum", "ohm_at_0c": 1000.0}},
         "extruder": {"gear_ratio": 5.0}, "axes": {"x": {"motor": {"rated_current_a": 2.0}}}},
    )  # fmt: skip
    assert child.hot_end.sensor.max_c is None
    assert child.extruder.steps_per_mm is None
    assert child.axes.x.motor.holding_torque_nm is None
    assert child.axes.x.steps_per_mm == 80.0


def test_a_full_child_rig_is_taken_as_it_is():
    assert upgrade(PARENT, Rig(name="B")).parent == "Parent"
    assert upgrade(PARENT, Rig(name="B", parent="C")).parent == "C"


def test_an_upgrade_refuses_all_problems_at_once():
    with pytest.raises(RecordError) as caught:
        upgrade(PARENT, {"hot_end": {"bore_mm": -1.0, "heater_w": "60"}}, "up.toml")
    assert len(caught.value.problems) == 2


@given(st.sampled_from(sorted(p for p in known_paths(Rig) if "*" not in p and "known" not in p)))
def test_paths_lead_to_values_and_back(path):
    value = look_up(PARENT, path)
    if value is not None:
        other = replaced(PARENT, path, "changed")
        assert look_up(other, path) == "changed"
        assert replaced(other, path, value) == PARENT


@settings(max_examples=200)
@given(
    st.recursive(
        st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=8),
        lambda inner: st.lists(inner, max_size=3)
        | st.dictionaries(
            st.sampled_from(
                ["name", "hot_end", "extruder", "axes", "x", "motor", "known", "fans", "bore_mm",
                 "mounting", "part", "holes", "hot_end.bore_mm", "motors", "nozzle_mm"]
            ),
            inner,
            max_size=5,
        ),
    )
)  # fmt: skip
def test_any_data_is_a_rig_or_a_refusal(data):
    for call in (
        lambda: from_mapping(Rig, data, "fuzz"),
        lambda: upgrade(PARENT, data if isinstance(data, dict) else {}, "fuzz"),
    ):
        with contextlib.suppress(RecordError):
            assert to_mapping(call())["name"]
