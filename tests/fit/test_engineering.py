"""Faults once found by hand calculation, each held by the calculation that found it."""

import math

import pytest
from fit_support import STILT, checks, with_

from beadworth.core.records import from_mapping, to_mapping
from beadworth.rig import Fan, Rig, look_up, upgrade, without_stale

G = 9.80665  # m/s², 3rd CGPM 1901
WORM = {
    "drive": "worm belt", "gear_ratio": 20.0, "pulley_teeth": 20, "belt_pitch_mm": 2.0,
    "worm_lead_angle_deg": 5.0, "friction": 0.12,
}  # fmt: skip


def without(rig, *paths):
    """The rig with values forgotten."""
    data = to_mapping(rig)
    for path in paths:
        *tables, last = path.split(".")
        inner = data
        for table in tables:
            inner = inner[table]
        inner.pop(last)
    data["known"] = {}
    return from_mapping(Rig, data, "rig")


# the nozzle's height


@pytest.mark.parametrize("drop", [6.5, 414.0])
def test_a_tip_that_hangs_lower_says_how_far_stop_bed_or_probe_must_move(drop):
    got = checks({"toolhead": {"nozzle_z_mm": 46.0 + drop}})["nozzle reach to the bed"]
    assert got.value == pytest.approx(-3.0 - drop)
    assert got.verdict == "look closer"
    by = f"{drop:.2f} mm"
    assert f"driven {by} into the bed" in got.why
    assert f"Raise the low stop of z by {by}, or lower the bed by {by}" in got.why
    assert f"lower the probe by {by}" in got.why


def test_a_tip_where_it_was_or_a_stop_measured_anew_fits():
    assert checks()["nozzle reach to the bed"].verdict == "fits"
    anew = checks({"toolhead": {"nozzle_z_mm": 52.5}, "axes": {"z": {"start_mm": -1.0}}})
    assert anew["nozzle reach to the bed"].verdict == "fits"


@pytest.mark.parametrize(
    ("tip", "clear", "verdict"),
    [(46.0, 2.0, "fits"), (47.4, 0.6, "look closer"), (47.6, 0.4, "look closer"),
     (52.5, -4.5, "does not fit")],
)  # fmt: skip
def test_a_probe_must_trigger_before_the_nozzle_meets_the_bed(tip, clear, verdict):
    probe = {"probe_x_mm": -30.0, "probe_y_mm": -22.0, "probe_z_mm": 48.0}
    parent = with_("toolhead", probe)
    got = checks({"toolhead": {"nozzle_z_mm": tip}}, parent=parent)["probe over the nozzle"]
    assert got.value == pytest.approx(clear)
    assert got.verdict == verdict
    assert f"x −30.00, y 0.00, z {'−' if clear > 0 else '+'}{abs(clear):.2f}" in got.why
    assert ("Enter these again" in got.why) == (tip != 46.0)
    assert "probe over the nozzle" not in checks()


# worms and screws


def test_a_worm_passes_on_what_its_angles_allow():
    # tan λ ÷ tan(λ + φ), λ 5°, φ = atan 0.12: 0.0875 ÷ 0.2095 = 0.4176, not 0.9
    up = {"axes": {"z": WORM}}
    got = checks(up)["safe acceleration of z"]
    turn = 0.040 / 20
    lift = 0.4176 * 0.42 / math.sqrt(2) * 2 * math.pi / turn
    mass = 1.5 + 84e-7 * (2 * math.pi / turn) ** 2  # 84 g·cm² of rotor assumed
    assert got.value == pytest.approx(1e3 * (lift / 2 - 1.5 * G - 4.0) / mass, rel=2e-3)
    assert "efficiency" not in got.why


@pytest.mark.parametrize(
    ("stated", "doubted"), [(0.95, True), (0.47, True), (0.45, False), (0.3, False)]
)
def test_an_efficiency_that_angles_contradict_is_doubted(stated, doubted):
    got = checks({"axes": {"z": WORM | {"efficiency": stated}}})["safe acceleration of z"]
    assert got.verdict == ("look closer" if doubted else "fits")
    says = f"An efficiency of {stated:g} is stated, but a lead angle of 5.0° and a friction angle"
    assert (says in got.why) == doubted
    assert ("give 0.42" in got.why) == doubted


@pytest.mark.parametrize(("stated", "verdict"), [(0.51, "look closer"), (0.49, "fits")])
def test_a_worm_that_holds_passes_on_half_at_most(stated, verdict):
    bare = {k: v for k, v in WORM.items() if k not in ("worm_lead_angle_deg", "friction")}
    made = checks({"axes": {"z": bare | {"efficiency": stated}}})
    assert made["z holds unpowered"].verdict == verdict
    assert made["safe acceleration of z"].verdict == verdict


def test_a_worm_without_angles_is_asked_for_them():
    bare = {k: v for k, v in WORM.items() if k not in ("worm_lead_angle_deg", "friction")}
    got = checks({"axes": {"z": bare}})["safe acceleration of z"]
    assert got.verdict == "measure this"
    assert "worm_lead_angle_deg" in got.why
    assert "axes.z.friction" in got.why


# what a swap leaves behind


def test_values_of_old_parts_are_unknown_after_a_swap():
    child = upgrade(STILT, {"hot_end": {"mass_g": 80.0}, "axes": {"z": {"drive": "worm belt"}}})
    assert child.toolhead.centre_mm is None
    assert set(to_mapping(child.toolhead.envelope).values()) <= {None}
    assert child.axes.z.friction is None
    assert "axes.z.friction" not in child.known
    made = checks({"hot_end": {"mass_g": 80.0}})
    assert made["room beside the toolhead"].verdict == "measure this"
    assert made["preload of the x guide"].verdict == "measure this"


@pytest.mark.parametrize(
    ("path", "cause", "stays"),
    [
        ("axes.z.efficiency", {"axes": {"z": {"lead_mm": 2.0}}}, {"axes": {"z": {"motors": 2}}}),
        ("axes.z.friction", {"axes": {"z": {"screw_diameter_mm": 9.0}}},
         {"axes": {"z": {"gear_ratio": 2.0}}}),
        ("axes.z.gear_ratio", {"axes": {"z": {"drive": "belt"}}},
         {"axes": {"z": {"lead_mm": 4.0}}}),
        ("axes.x.full_steps", {"axes": {"x": {"motor": {"holding_torque_nm": 0.6}}}},
         {"axes": {"x": {"microsteps": 32}}}),
        ("axes.x.belt_tension_n", {"axes": {"x": {"belt_length_mm": 950.0}}},
         {"axes": {"x": {"microsteps": 32}}}),
        ("axes.x.resonance_hz", {"axes": {"x": {"guide": {"kind": "rail"}}}},
         {"axes": {"x": {"microsteps": 32}}}),
        ("toolhead.centre_mm", {"fans": [{"mass_g": 40.0}]}, {"hot_end": {"nozzle_mm": 0.6}}),
        ("toolhead.envelope.front_mm", {"toolhead": {"nozzle_y_mm": -30.0}},
         {"hot_end": {"heater_w": 60.0}}),
        ("hot_end.cold_side_c", {"hot_end": {"heat_break_mm": 12.0}},
         {"hot_end": {"heater_w": 60.0}}),
    ],
)  # fmt: skip
def test_each_dependent_value_follows_its_part(path, cause, stays):
    whole = {"axes.z.efficiency": 0.4, "axes.z.gear_ratio": 1.0, "axes.x.belt_tension_n": 15.0}
    rig = with_(path, whole[path]) if path in whole else STILT
    assert look_up(rig, path) is not None
    assert look_up(upgrade(rig, cause), path) is None
    assert look_up(upgrade(rig, stays), path) is not None


def test_a_form_that_changes_a_part_forgets_what_hung_on_it():
    whole = to_mapping(STILT)
    assert without_stale(STILT, whole) == whole, "nothing changed, nothing forgotten"
    fans = [dict(whole["fans"][0], mass_g=40.0), whole["fans"][1]]
    guide = dict(whole["axes"]["x"]["guide"], preload_n=50.0)
    axes = dict(whole["axes"], x=dict(whole["axes"]["x"], guide=guide))
    kept = without_stale(STILT, whole | {"fans": fans, "axes": axes})
    assert "centre_mm" not in kept["toolhead"]
    assert kept["toolhead"]["envelope"] == {}
    assert "resonance_hz" not in kept["axes"]["x"]
    assert kept["axes"]["x"]["full_steps"] == 200


# resonance


def test_a_measurement_of_the_new_rig_is_taken_as_it_is():
    got = checks({"mass_g": 300.0, "axes": {"x": {"resonance_hz": 51.0}}})["resonance of x"]
    assert (got.value, got.limit) == (51.0, 58.0)
    assert got.why.startswith("51 Hz measured on this rig: −12.1 %.")
    assert got.verdict == "look closer"


def test_before_and_after_each_with_its_own_belt():
    rig = without(STILT, "axes.x.resonance_hz")
    got = checks({"axes": {"x": {"belt_stiffness_n": 16000.0}}}, parent=rig)["resonance of x"]
    # √(4·c/L ÷ m)/2π: 9000 N before, 16 000 N after, 0.9 m of loop, 420 g
    assert got.limit == pytest.approx(math.sqrt(4 * 9000 / 0.9 / 0.42) / (2 * math.pi))
    assert got.value == pytest.approx(math.sqrt(4 * 16000 / 0.9 / 0.42) / (2 * math.pi))
    assert "at the idler's end" in got.why


def test_a_stiffer_guide_drops_the_old_measurement():
    guide = {"kind": "rail", "preload_n": 60.0, "spacing_mm": 40.0, "friction": 0.01}
    got = checks({"axes": {"x": {"guide": guide}}})["resonance of x"]
    assert got.value == pytest.approx(math.sqrt(4 * 9000 / 0.9 / 0.42) / (2 * math.pi))
    assert "the 58 Hz measured before belong to other parts" in got.why


# what is not recorded, and searches that end


def test_what_resists_is_assumed_and_told_not_taken_for_nothing():
    got = checks()["safe acceleration of y"]
    assert got.why.endswith(
        "Not recorded: the driver's current, 1.5 A peak assumed, as rated; guide friction, 0.1 "
        "assumed; guide preload, 40 N assumed."
    )
    z = checks()["safe acceleration of z"]
    assert "rotor inertia, 84 g·cm² assumed" in z.why  # 200 g·cm² per N·m of 0.42
    none = checks(parent=with_("axes.z.motor", to_mapping(STILT.axes.z.motor)
                               | {"rotor_inertia_g_cm2": 1.0}))  # fmt: skip
    assert z.value < none["safe acceleration of z"].value / 3


def test_top_feed_tells_where_the_search_ended_from_what_the_motor_can():
    ended = checks(flow=1.0)["top feed"]
    # 50 turns a second through 3:1 and a wheel of 7.3 mm
    assert ended.value == pytest.approx(50 / 3 * math.pi * 7.3)
    assert "At least: the search ends at 50 turns" in ended.why
    slow = with_("extruder.motor", to_mapping(STILT.extruder.motor) | {"supply_v": 6.0})
    weak = checks(parent=slow, flow=9.0)["top feed"]
    assert 0 < weak.value < ended.value
    assert "search ends" not in weak.why


# currents


@pytest.mark.parametrize(
    ("set_to", "rating", "value", "limit", "verdict"),
    [
        ({"set_current_a": 1.5, "set_current_is": "peak"}, "rms", 1.5 / math.sqrt(2), 1.5, "fits"),
        ({"set_current_a": 1.5}, None, 1.5 / math.sqrt(2), 1.5, "fits"),
        ({"set_current_a": 1.6}, None, 1.6 / math.sqrt(2), 1.5, "look closer"),
        ({"set_current_a": 1.6}, "rms", 1.6 / math.sqrt(2), 1.5, "fits"),
        ({"set_current_a": 1.6, "set_current_is": "rms"}, "rms", 1.6, 1.5, "does not fit"),
        ({"set_current_a": 1.6}, "peak", 1.6 / math.sqrt(2), 1.5 / math.sqrt(2), "does not fit"),
    ],
)
def test_set_current_against_the_rating(set_to, rating, value, limit, verdict):
    motor = to_mapping(STILT.axes.x.motor) | ({"rated_current_is": rating} if rating else {})
    rig = with_("axes.x", set_to | {"motor": motor})
    got = checks(parent=rig)["current of the x motor"]
    assert (got.value, got.limit, got.verdict) == (
        pytest.approx(value), pytest.approx(limit), verdict
    )  # fmt: skip


def test_an_rms_setting_drives_as_its_peak_does():
    rms = with_("axes.x", {"set_current_a": 1.0, "set_current_is": "rms"})
    peak = with_("axes.x", {"set_current_a": math.sqrt(2.0)})
    for name in ("safe acceleration of x", "supply current"):
        assert checks(parent=rms)[name].value == pytest.approx(checks(parent=peak)[name].value)


# guides, and a print on the bed


def test_the_y_guide_carries_the_beds_own_arm_and_the_print():
    guide = {"preload_n": 50.0, "spacing_mm": 90.0, "friction": 0.02}
    rig = with_("axes.y.guide", guide)
    assert "axes.y.centre_mm" in checks(parent=rig)["preload of the y guide"].why
    rig = with_("axes.y.centre_mm", 20.0, rig)
    bed = checks(parent=rig)["preload of the y guide"]
    assert bed.value == pytest.approx(0.9 * 2.5 * 20 / 90)
    # a print of 500 g as tall as the build volume: its middle 120 mm over the bed
    loaded = checks(parent=with_("axes.y.print_mass_g", 500.0, rig))
    assert loaded["preload of the y guide"].value == pytest.approx(
        (0.9 * 2.5 * 20 + 0.5 * 2.5 * (20 + 120)) / 90
    )
    acceleration = loaded["safe acceleration of y"]
    assert acceleration.value < checks(parent=rig)["safe acceleration of y"].value
    assert "500 g of print among it" in acceleration.why


def test_an_unknown_print_is_told_how_heavy_it_may_be():
    why = checks()["safe acceleration of y"].why
    grams = float(why.partition("up to ")[2].partition(" g")[0])
    for carried, enough in ((grams - 20, True), (grams + 20, False)):
        got = checks(parent=with_("axes.y.print_mass_g", carried))["safe acceleration of y"]
        assert (got.margin >= 0) == enough


# coupled belts


def coupled(**recorded):
    both = {"motors": 2}
    return upgrade(STILT, {"frame": "gantry", "axes": {"x": both, "y": both}, **recorded})


def test_currents_of_shared_motors_count_once():
    once = checks(parent=coupled(coupled_belts=True))["supply current"].value
    apart = checks(parent=coupled())["supply current"].value
    assert apart - once == pytest.approx(2 * 1.5**2 * 1.6 / 24)


def test_the_diagonal_is_what_one_motor_can():
    assert "safe acceleration on the diagonal" not in checks(parent=coupled())
    made = checks(parent=coupled(coupled_belts=True))
    got = made["safe acceleration on the diagonal"]
    single = min(made[f"safe acceleration of {axis}"].value for axis in "xy")
    assert got.value < math.sqrt(2) * single / 1.5, "the axes one by one promise far more"
    # the controller: √2·min(3000, 2500), or what its moves are set to: 2500
    assert got.limit == 2500
    named = upgrade(STILT, {"frame": "gantry, coupled belts"})
    assert "safe acceleration on the diagonal" in checks(parent=named)


def test_coupled_belts_move_x_and_y_by_one_travel():
    odd = coupled(coupled_belts=True, axes={"x": {"motors": 2, "pulley_teeth": 16}})
    got = checks(parent=odd)["safe acceleration on the diagonal"]
    assert got.verdict == "measure this"
    assert "one travel per motor turn" in got.why


# fans, bed, belts


def test_a_hot_end_needs_its_fan():
    part = [{"volts_v": 24.0, "current_a": 0.12, "mass_g": 18.0}]
    gone = checks({"fans": part})["hot end fan"]
    assert gone.verdict == "does not fit"
    assert "filament jams" in gone.why
    half = [{"purpose": "hot end", "volts_v": 12.0}]
    assert checks({"fans": half})["hot end fan"].verdict == "does not fit"
    assert checks()["hot end fan"].verdict == "fits"
    assert checks(parent=without(STILT, "fans"))["hot end fan"].verdict == "measure this"
    never = STILT.model_copy(update={"fans": (Fan(volts_v=24.0),)})
    assert checks(parent=never)["hot end fan"].verdict == "look closer"


@pytest.mark.parametrize(("rating", "verdict"), [(12.0, "fits"), (11.0, "look closer"),
                                                 (9.0, "does not fit")])  # fmt: skip
def test_bed_current_against_output_and_connector(rating, verdict):
    got = checks(parent=with_("electrics.bed_output_a", rating))["bed current"]
    assert got.value == pytest.approx(220 / 24)
    assert got.verdict == verdict


@pytest.mark.parametrize(("flow", "verdict"), [(9.1, "fits"), (8.9, "look closer")])
def test_less_air_asks_for_a_look(flow, verdict):
    fans = [{"volts_v": 24.0, "current_a": 0.12, "airflow_m3_h": 10.0}]
    got = checks({"fans": [fans[0] | {"airflow_m3_h": flow}]}, parent=with_("fans", fans))
    assert got["part fan airflow"].verdict == verdict


@pytest.mark.parametrize(("tension", "verdict"), [(1.25, "fits"), (1.0, "look closer"),
                                                  (0.9, "does not fit")])  # fmt: skip
def test_a_belt_must_stay_taut(tension, verdict):
    # half of 0.42 kg · 3 m/s² and the guide's 0.02·(30 N + weight)
    got = checks(parent=with_("axes.x.belt_tension_n", tension))["belt tension of x"]
    assert got.value == pytest.approx((0.42 * 3 + 0.02 * (30 + 0.42 * G)) / 2)
    assert got.verdict == verdict


@pytest.mark.parametrize(("offset", "verdict"), [(400.0, "fits"), (430.0, "look closer"),
                                                 (851.0, "does not fit")])  # fmt: skip
def test_a_drive_beside_the_load_jams_like_a_drawer(offset, verdict):
    # jams where the guide is shorter than 2·μ·e (any handbook of statics): 34 mm, μ 0.02
    got = checks(parent=with_("axes.x.drive_offset_mm", offset))["racking of x"]
    assert got.value == pytest.approx(2 * 0.02 * offset)
    assert got.verdict == verdict


def test_warming_and_growth():
    made = checks()
    # 32 g of aluminium at 0.9 J/(g·K), 40 W, 0.06 W/K over 195 K
    by_hand = 32 * 0.9 / 0.06 * math.log(40 / (40 - 0.06 * 195))
    assert made["warm-up"].value == pytest.approx(by_hand)
    open_end = checks(parent=without(STILT, "hot_end.standing_loss_w_k"))["warm-up"]
    assert open_end.value == pytest.approx(32 * 0.9 * 195 / 40)
    assert open_end.why.startswith("At least: ")
    for watts, verdict in ((11.0, "does not fit"), (12.0, "fits")):  # 11.7 W are lost at 220 °C
        weak = STILT.model_copy(
            update={"hot_end": STILT.hot_end.model_copy(update={"heater_w": watts})}
        )
        assert checks(parent=weak)["warm-up"].verdict == verdict
    assert made["growth of the hot end"].value == pytest.approx(
        8 * 12e-6 * ((220 + 45) / 2 - 25) + 12.5 * 23e-6 * 195
    )


def test_what_is_left_unchecked_is_named():
    got = checks()["left unchecked"]
    assert got.verdict == "measure this"
    for path in ("axes.x.set_current_a", "axes.x.belt_tension_n", "electrics.bed_output_a"):
        assert path in got.why
    assert "airflow" not in got.why
    assert "fans.0.airflow_m3_h" in checks({"fans": [{"volts_v": 24.0}]})["left unchecked"].why
