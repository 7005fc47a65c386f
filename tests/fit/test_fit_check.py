"""The fit check against arithmetic done here by hand, and what it says when it does not know."""

import math
import subprocess
import sys
from pathlib import Path

import pytest
from fit_support import EXAMPLES, LONG_ZONE, PLA, STILT, checks, with_
from hypothesis import given, settings
from hypothesis import strategies as st

from beadworth.core.errors import InputError, RecordError
from beadworth.fit import Check, fit_check
from beadworth.material.library import generic
from beadworth.rig import Known, Rig
from beadworth.rig.paths import known_paths

ROOT = Path(__file__).resolve().parents[2]


def test_every_check_is_whole():
    for check in fit_check(STILT, LONG_ZONE, PLA, 220.0, 12.0):
        assert check.verdict in ("fits", "look closer", "does not fit", "measure this")
        assert check.why
        assert (check.margin is None) == (check.value is None or check.limit is None)
        if check.margin is not None:
            assert abs(check.margin) == pytest.approx(abs(check.value - check.limit))


def test_formulas_stand_in_the_document():
    text = (ROOT / "docs" / "explanation" / "fit-check.md").read_text()
    headings = {line.lstrip("# ") for line in text.splitlines() if line.startswith("##")}
    for check in fit_check(STILT, LONG_ZONE, PLA, 220.0, 12.0):
        assert check.formula in headings, check.name


def test_cautions_stand_where_heat_and_mains_are_touched():
    made = checks(LONG_ZONE)
    for name in ("heater power", "heater current", "supply current", "sensor range",
                 "liner temperature", "push force"):  # fmt: skip
        assert "licensed" in made[name].caution
        assert "local codes" in made[name].caution
    assert "without warning" in made["safe acceleration of x"].caution


# what is unknown


def test_nothing_known_says_what_to_measure():
    made = fit_check(Rig(name="A"), {"hot_end": {"nozzle_mm": 0.6}})
    asked = {c.name for c in made if c.verdict == "measure this"}
    assert {"nozzle reach to the bed", "mounting screws", "heater power", "push force"} <= asked
    for check in made:
        if check.verdict == "measure this":
            assert check.value is None
            assert "Not known: " in check.why
    by_name = {c.name: c for c in made}
    assert "hot_end.heater_w (heater rating at that supply, W)" in by_name["heater power"].why


def test_all_missing_values_of_a_check_are_named_at_once():
    rig = with_("axes.x.motor", {"holding_torque_nm": 0.4})
    why = checks(parent=rig)["safe acceleration of x"].why
    for name in ("rated_current_a", "phase_inductance_mh", "phase_resistance_ohm", "supply_v"):
        assert f"axes.x.motor.{name}" in why


def test_material_and_flow_are_asked_for():
    made = checks(material=None, temperature=None, flow=None)
    assert "material to print" in made["heater power"].why
    assert "temperature wanted" in made["sensor range"].why
    # half of 0.16/√2 N·m is 0.057; 65 N on a 3.65 mm radius over 3:1 and 0.9 need 0.088
    assert (made["top feed"].value, made["top feed"].limit) == (0.0, None)
    assert made["top feed"].verdict == "look closer"
    assert "stalls before" in made["top feed"].why


def test_impossible_wishes_are_refused_together():
    with pytest.raises(InputError) as caught:
        fit_check(STILT, {}, PLA, -5.0, math.nan)
    assert {p.where for p in caught.value.problems} == {"temperature_c", "flow_mm3_s"}
    with pytest.raises(RecordError):
        fit_check(STILT, {"hot_end": {"bore_mm": 0.2}})


# room


def test_a_shorter_nozzle_must_still_reach():
    # z can go 3 mm below the bed
    near = checks({"toolhead": {"nozzle_z_mm": 44.0}})["nozzle reach to the bed"]
    assert (near.value, near.margin, near.verdict) == (-1.0, 1.0, "fits")
    far = checks({"toolhead": {"nozzle_z_mm": 42.0}})["nozzle reach to the bed"]
    assert (far.value, far.margin, far.verdict) == (1.0, -1.0, "does not fit")


@pytest.mark.parametrize(("shift", "lost"), [(0, 0), (3, 0), (4, 0), (6, 2), (-10, 6), (-500, 220)])
def test_lost_travel_is_what_the_bed_loses(shift, lost):
    # x runs from −4 to 224 over a bed of 220
    got = checks({"toolhead": {"nozzle_x_mm": float(shift)}})["lost travel in x"]
    assert got.value == pytest.approx(lost)
    assert got.verdict == ("fits" if not lost else "look closer" if lost < 220 else "does not fit")


@pytest.mark.parametrize(
    ("left", "verdict"), [(20.0, "fits"), (36.5, "look closer"), (39.0, "does not fit")]
)
def test_the_tightest_side_decides(left, verdict):
    got = checks({"toolhead": {"envelope": {"left_mm": left}}})["room beside the toolhead"]
    assert got.verdict == verdict


def test_a_side_not_measured_is_asked_for():
    rig = with_("room", {"left_mm": 60.0}, STILT.model_copy(update={"room": None}))
    got = checks(parent=rig)["room beside the toolhead"]
    assert got.verdict == "measure this"
    assert "room.front_mm" in got.why


@pytest.mark.parametrize(
    ("xs", "screws", "verdict"),
    [((-12, 12), 4, "fits"), ((-12, 13), 2, "look closer"), ((-5, 29), 1, "does not fit")],
)
def test_screws_that_go_in(xs, screws, verdict):
    ys = (0, 20) if screws != 1 else (3, 3.5)
    part = {"holes": [{"x_mm": x, "y_mm": y, "diameter_mm": 3.4} for x in xs for y in ys]}
    got = checks({"mounting": {"part": part}})["mounting screws"]
    assert got.value == screws
    assert got.verdict == verdict


# motion


def test_acceleration_is_half_the_force_over_the_mass():
    # up to the corner speed the motor gives 0.42/√2 N·m at 40 mm per turn
    got = checks()["safe acceleration of x"]
    force = 0.9 * 0.42 / math.sqrt(2) * 2 * math.pi / 0.04
    friction = 0.02 * (30 + 0.42 * 9.80665)
    mass = 0.42 + 54e-7 * (2 * math.pi / 0.04) ** 2
    assert got.curve[0] == (0.0, pytest.approx(1e3 * (force / 2 - friction) / mass))
    assert got.curve[-1][0] == 600.0
    assert got.value == pytest.approx(got.curve[-1][1])
    assert [a for _, a in got.curve] == sorted((a for _, a in got.curve), reverse=True)


def test_a_heavier_head_needs_more_force_and_rings_lower():
    light, heavy = checks(), checks({"mass_g": 300.0})
    name = "safe acceleration of x"
    assert heavy[name].value < light[name].value
    # √(420/720) of 58 Hz
    assert heavy["resonance of x"].value == pytest.approx(58 * math.sqrt(420 / 720))
    assert heavy["resonance of x"].verdict == "look closer"
    assert heavy["safe acceleration of y"].value == light["safe acceleration of y"].value, (
        "on a moving bed y carries the bed"
    )


def test_resonance_from_the_belt_where_none_was_measured():
    axis = STILT.axes.x.model_copy(update={"resonance_hz": None})
    rig = STILT.model_copy(update={"axes": STILT.axes.model_copy(update={"x": axis})})
    got = checks({"mass_g": 0.0}, parent=rig)["resonance of x"]
    assert got.value == pytest.approx(math.sqrt(4 * 9000 / 0.9 / 0.42) / (2 * math.pi))
    assert "assumed" in got.why


def test_beam_and_guide():
    made = checks()
    inertia = (20 * 20**3 - 16.4 * 16.4**3) / 12
    sag = 0.42 * 9.80665 * 330**3 / (192 * 69e3 * inertia)
    assert made["sag of the x beam"].value == pytest.approx(sag)
    # speeding up and weight load the same contacts
    assert made["preload of the x guide"].value == pytest.approx(0.42 * (3 + 9.80665) * 24 / 34)


def test_a_screw_with_a_small_lead_holds_z():
    steep = checks()["z holds unpowered"]
    assert steep.verdict == "does not fit"
    assert steep.value == pytest.approx(math.degrees(math.atan(8 / (math.pi * 6.6))))
    assert checks({"axes": {"z": {"lead_mm": 2.0}}})["z holds unpowered"].verdict != "does not fit"


def test_a_worm_belt_holds_and_a_plain_belt_drops():
    # common practice, no source
    worm = checks({"axes": {"z": {"drive": "worm belt", "gear_ratio": 20.0}}})
    assert worm["z holds unpowered"].verdict == "fits"
    plain = checks({"axes": {"z": {"drive": "belt"}}})["z holds unpowered"]
    assert plain.verdict == "does not fit"
    assert "common practice" in plain.why


def test_a_belt_with_detent_and_gears_gets_a_number():
    axis = {"drive": "belt", "pulley_teeth": 20, "belt_pitch_mm": 2.0, "gear_ratio": 9.0,
            "motor": {"detent_torque_nm": 0.02}}  # fmt: skip
    got = checks({"axes": {"z": axis}})["z holds unpowered"]
    assert got.unit == "N"
    assert got.limit == pytest.approx(0.02 * 9 * 2 * math.pi / 0.04)
    assert got.value == pytest.approx(1.5 * 9.80665)


def test_steps_after_a_swap():
    made = checks({"extruder": {"gear_ratio": 5.0}, "axes": {"x": {"pulley_teeth": 16}}})
    assert made["extruder steps per mm"].value == pytest.approx(200 * 16 * 5 / (math.pi * 7.3))
    assert "Set the controller to" in made["extruder steps per mm"].why
    assert made["steps per mm of x"].value == 100
    wrong = checks({"axes": {"x": {"pulley_teeth": 16, "steps_per_mm": 80.0}}})
    assert wrong["steps per mm of x"].verdict == "does not fit"


# heat


def test_heater_power_adds_melt_and_standing_loss():
    made = checks()
    heat = 0.974 + 5.09e-3 * (25 + 220) / 2
    melt = 12 * 1.24e-3 * heat * 195
    got = made["heater power"]
    assert got.value == pytest.approx(melt + 0.06 * 195)
    assert got.limit == 40
    assert got.u == pytest.approx(0.006 * 195)
    assert got.verdict == "fits"


def test_without_the_loss_the_heater_is_not_waved_through():
    got = checks(LONG_ZONE)["heater power"]
    assert got.verdict == "measure this"
    assert 0 < got.value < got.limit
    weak = checks(LONG_ZONE | {"hot_end": {"heater_w": 3.0}}, flow=30.0)["heater power"]
    assert weak.verdict == "does not fit"


def test_a_heater_on_half_its_voltage_makes_a_quarter():
    made = checks({"electrics": {"supply_v": 12.0}})
    assert "10.0 W on 12 V" in made["heater voltage"].why
    assert made["heater voltage"].verdict == "look closer"
    assert made["heater power"].limit == pytest.approx(10)
    over = checks({"hot_end": {"heater_v": 12.0}})
    assert over["heater voltage"].verdict == "does not fit"
    assert over["heater current"].value == pytest.approx(24 / 3.6)
    assert over["heater current"].verdict == "does not fit"


def test_forty_watts_at_24_volts_draw_one_point_67_ampere():
    # common practice, no source
    assert checks()["heater current"].value == pytest.approx(1.67, abs=0.005)


def test_supply_adds_up():
    motors = (2 * 1.5**2 * 1.6 + 1.5**2 * 1.6 + 1.0**2 * 2.4) / 24
    got = checks()["supply current"]
    assert got.value == pytest.approx(40 / 24 + (220 + 12) / 24 + 0.2 + motors)


def test_temperature_against_sensor_and_liner():
    hot = checks(temperature=283.0)
    assert hot["sensor range"].verdict == "look closer"
    assert hot["hot end temperature"].verdict == "does not fit"
    liner = checks({"hot_end": {"ptfe_in_melt_zone": True}}, temperature=245.0)
    assert liner["liner temperature"].verdict == "does not fit"
    assert checks()["liner temperature"].value == pytest.approx(220 - 175 * 5 / 8)


def test_fans():
    made = checks({"fans": [{"volts_v": 12.0, "current_a": 0.5, "mass_g": 20.0, "count": 2}]})
    assert made["part fan voltage"].verdict == "does not fit"
    assert made["part fan current"].value == 1.0
    assert made["part fan current"].verdict == "does not fit"
    assert made["added mass"].value == pytest.approx(40 - 29)


# push


def test_push_and_feed():
    made = checks()
    assert made["push force"].limit == 65
    assert made["push force"].u == pytest.approx(8.0)
    assert made["top feed"].limit == pytest.approx(12 / (math.pi / 4 * 1.75**2))
    slow = checks({"extruder": {"gear_ratio": 40.0}})
    assert slow["top feed"].value < made["top feed"].value
    fast = checks(flow=25.0)
    assert fast["push force"].value > made["push force"].value


def test_a_margin_within_its_uncertainty_is_not_called():
    rig = with_("known", {"extruder.grip_force_n": {"u": 30.0, "origin": "assumed"}})
    force = checks(parent=rig, flow=25.0)["push force"]
    tight = with_("extruder.grip_force_n", force.value * 0.99, rig)
    tight = with_("known", {"extruder.grip_force_n": {"u": 30.0, "origin": "assumed"}}, tight)
    got = checks(parent=tight, flow=25.0)["push force"]
    assert got.verdict == "look closer"
    assert "assumed values: extruder.grip_force_n" in got.why


def test_a_force_that_a_cold_core_makes_is_not_waved_through():
    warm, cold = (checks(LONG_ZONE, flow=q)["push force"] for q in (5.0, 18.0))
    assert warm.verdict == "fits"
    assert "A core that leaves" not in warm.why
    assert cold.verdict == "look closer"
    assert "A core that leaves" in cold.why


def test_a_grip_nobody_measured_is_assumed_by_its_class_and_said():
    rig = with_("extruder.grip_force_n", None)
    said = {q: checks(parent=rig, flow=q)["push force"] for q in (2.0, 12.0, 60.0)}
    assert {q: found.limit for q, found in said.items()} == dict.fromkeys(said, 65.0)
    assert {q: f.verdict for q, f in said.items()} == {
        2.0: "fits", 12.0: "measure this", 60.0: "does not fit"
    }  # fmt: skip
    assert "65 N assumed (33 to 129 N, usual for its class, no source)" in said[2.0].why
    assert "extruder.grip_force_n" in said[12.0].why


# price and mass


def test_price_and_mass_against_the_parent():
    made = checks(LONG_ZONE)
    assert (made["price"].value, made["price"].unit) == (54.0, "EUR")
    assert made["added mass"].value == pytest.approx(84 - 62)
    assert "moves 442 g, before 420 g" in made["added mass"].why


def test_a_lighter_part_takes_mass_away():
    """Stilt's hot end weighs 62 g; its extruder on the toolhead 190 g."""
    lighter = checks({"hot_end": {"mass_g": 40.0, "melt_zone_mm": 11.0}})
    assert lighter["added mass"].value == pytest.approx(-22)
    assert lighter["resonance of x"].value == pytest.approx(58 * math.sqrt(420 / 398))
    whole = checks({"mass_g": 45.0, "hot_end": {"melt_zone_mm": 11.0}})
    assert whole["added mass"].value == pytest.approx(45 - 62), "bracket and screws weighed too"
    to_frame = checks({"extruder": {"drive": "bowden", "guide_tube_mm": 400.0}})
    assert to_frame["added mass"].value == pytest.approx(-190)


def test_parts_never_weighed_count_as_added_in_full():
    bare = STILT.model_copy(update={"hot_end": STILT.hot_end.model_copy(update={"mass_g": None})})
    got = checks({"mass_g": 45.0, "hot_end": {"melt_zone_mm": 11.0}}, parent=bare)["added mass"]
    assert got.value == 45
    assert "not weighed" in got.why


def test_a_new_hot_end_of_unknown_mass_is_asked_for():
    bare = STILT.model_copy(update={"hot_end": STILT.hot_end.model_copy(update={"mass_g": None})})
    got = checks({"hot_end": {"melt_zone_mm": 20.0, "mass_g": 80.0}}, parent=bare)
    assert "hot_end.mass_g" in got["added mass"].why
    assert got["safe acceleration of x"].verdict == "measure this"
    nozzle_only = checks({"hot_end": {"nozzle_mm": 0.6}}, parent=bare)
    assert nozzle_only["added mass"].value == 0


# anything


PATHS = sorted(
    p
    for p in known_paths(Rig)
    if "*" not in p and not p.startswith(("known", "name", "parent", "currency", "motion.l"))
)


@settings(max_examples=80, deadline=None)
@given(
    st.sets(st.sampled_from(PATHS), max_size=25),
    st.floats(20, 400),
    st.floats(0.1, 80),
    st.sampled_from(["PLA", "PETG", "ABS"]),
)
def test_any_gaps_in_the_record_leave_answers(forgotten, temperature, flow, name):
    rig = STILT
    for path in forgotten:
        *tables, last = path.split(".")
        rig = _forget(rig, tables, last)
    for check in fit_check(rig, {"name": "n"}, generic(name), temperature, flow):
        assert isinstance(check, Check)
        assert check.value is None or math.isfinite(check.value)


def _forget(record, tables, last):
    if not tables:
        default = type(record).model_fields[last].get_default()
        if type(record).model_fields[last].is_required():
            return record
        return record.model_copy(update={last: default})
    inner = getattr(record, tables[0])
    if inner is None:
        return record
    return record.model_copy(update={tables[0]: _forget(inner, tables[1:], last)})


def test_a_rig_checked_against_itself_keeps_the_uncertainty_of_its_values():
    doubtful = {"electrics.supply_a": Known(u=0.5, origin="datasheet")}
    rig = STILT.model_copy(update={"known": doubtful})
    (found,) = [c for c in fit_check(rig, rig) if c.name == "supply current"]
    assert found.u == pytest.approx(0.5)


def test_a_fit_check_needs_no_compiler():
    """What takes a second to load must not be loaded for a check that takes milliseconds."""
    code = (
        "import sys, tomllib; from beadworth.fit import fit_check; "
        "from beadworth.core.records import *;"
        "from beadworth.rig import Rig; from beadworth.material.library import generic;"
        f"rig = from_toml(Rig, open({str(EXAMPLES / 'rig-stilt-stock.toml')!r}).read(), 'r');"
        f"up = parse_toml(open({str(EXAMPLES / 'upgrade-long-zone.toml')!r}).read(), 'u');"
        "made = {c.name: c.value for c in fit_check(rig, up, generic('PLA'), 220.0, 15.0)};"
        "print(made['push force'], [m for m in ('numba', 'scipy') if m in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    force, loaded = done.stdout.split(maxsplit=1)
    assert float(force) > 1
    assert loaded.strip() == "[]"
