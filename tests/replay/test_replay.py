"""A replay's flows, times, stretches and words against hand computation and real files."""

import gzip
import json
import math
from pathlib import Path

import numpy as np
import own_prints
import pytest
from loops import each
from replay_support import RIG, SECTION_MM2, straight

from beadworth.capacity import ceiling_at
from beadworth.core import to_json
from beadworth.core.errors import GcodeError, NotFoundError
from beadworth.gcode import summary
from beadworth.material.library import GENERIC
from beadworth.replay import replay

PRINTS = Path(__file__).resolve().parents[3] / "shared" / "prints"


def test_one_straight_bead_by_hand(fit):
    flow, length = 8.0, 100.0
    *before, bead_line = straight(flow, length).splitlines()
    found = replay("\n".join([*before, "G4 P1", bead_line]).encode(), RIG, fit)
    section = 0.25 * 0.2 + math.pi / 4 * 0.04
    speed, a = flow / section, 5000.0
    # rest to rest: distance/speed + speed/a (Biagiotti & Melchiorri, trapezoid)
    bead = length / speed + speed / a
    assert found.flow.max_mm3_s == pytest.approx(flow, rel=1e-4)
    volume = found.flow.mean_mm3_s * bead
    assert volume == pytest.approx(length * section, rel=2e-3)
    assert found.over_ceiling_s == 0
    assert not found.stretches
    assert "always under the ceiling" in found.verdict
    assert found.commanded_s + sum(found.held_back_s.values()) + 1e-3 == pytest.approx(found.time_s)


def test_a_bead_over_the_ceiling_is_found_where_it_is(fit):
    ceiling = ceiling_at(fit, None, None, 220.0).flow_mm3_s
    found = replay(straight(1.3 * ceiling, 150.0, count=4).encode(), RIG, fit)
    assert found.sustained == 1
    (stretch,) = found.stretches
    assert stretch.line == 6
    assert (stretch.layer, [layer.layer for layer in found.layers]) == (1, [1])
    assert "line 6, layer 1," in found.verdict
    assert stretch.at_mm == pytest.approx((170.0, 20.0, 0.2))
    assert stretch.temperature_c == 220
    assert stretch.asked_mm3_s == pytest.approx(1.3 * ceiling, rel=1e-3)
    assert stretch.loss_low <= stretch.loss <= stretch.loss_high
    # a hard limit loses 1 − 1/1.3 there
    assert stretch.loss == pytest.approx(1 - 1 / 1.3, abs=0.05)
    assert found.uniform_speed_share == pytest.approx(1 / 1.3, rel=0.01)
    assert "will show" in found.verdict
    assert found.layers[0].headroom == pytest.approx(1 / 1.3 - 1, abs=0.01)


def test_a_burst_is_smoothed_by_the_pressure(fit):
    ceiling = ceiling_at(fit, None, None, 220.0).flow_mm3_s
    lines = straight(0.6 * ceiling, 60.0).splitlines()
    section = 0.25 * 0.2 + math.pi / 4 * 0.04
    speed = ceiling / section
    short = 1.2 * speed * 0.045  # about 45 ms, ramps included, where the lag is 50 ms
    for x, mm, share in ((80 + short, short, 1.2), (150, 70 - short, 0.6)):
        e = mm * section / SECTION_MM2
        lines.append(f"G1 X{x:.4f} E{e:.6f} F{share * speed * 60:.1f}")
    found = replay("\n".join(lines).encode(), RIG, fit)
    assert (found.bursts, found.sustained) == (1, 0)
    assert "smooths over" in found.verdict


def test_drawing_back_and_pushing_forward_again_is_no_flow(fit):
    text = straight(5.0, 60.0) + "G1 E-2 F2400\nG0 X20 F9000\nG1 E2 F2400\nG1 X60 E1.5 F1500\n"
    found = replay(text.encode(), RIG, fit)
    assert found.flow.max_mm3_s < 6
    assert not found.stretches


@pytest.mark.parametrize("known", [True, False])
def test_temperatures_are_those_commanded_while_something_is_extruded(fit, known):
    text = straight(8.0) + "M104 S150\nG0 X5 F9000\nM104 S205\nG1 X9 E1 F600\nM104 S0\nG0 X0\n"
    found = replay(text.encode(), RIG, fit if known else None, material=GENERIC["PLA"])
    assert found.temperatures_c == (205.0, 220.0)
    assert found.heater_w > 0


def test_temperature_in_force_decides(fit):
    text = straight(12.0, 100.0, celsius=220) + "M104 S200\nG1 X20 E4 F3000\n"
    hot = replay(straight(12.0, 100.0, celsius=220).encode(), RIG, fit)
    cold = replay(straight(12.0, 100.0, celsius=200).encode(), RIG, fit)
    assert hot.over_ceiling_s == 0
    assert cold.sustained == 1
    assert 207 < cold.lowest_temperature_c < 216  # 12 mm³/s lies half-way from 10 to 14
    assert replay(text.encode(), RIG, fit).series_ceiling_mm3_s.min() < 11


def test_a_print_that_commands_no_temperature_is_told_so(fit):
    text = straight(5.0).replace("M104 S220\n", "")
    assert any("lowest tested one" in note for note in replay(text.encode(), RIG, fit).notes)


def test_without_a_capacity_nothing_is_claimed():
    found = replay(straight(50.0).encode(), RIG)
    assert found.over_ceiling_s == 0
    assert found.uniform_speed_share is None
    assert "it is not known" in found.verdict


def test_a_text_that_moves_nothing_is_called_no_print(fit):
    found = replay(b"[project]\nname = 'x'\n", RIG, fit)
    assert found.verdict == "No line of it moves anything (2 read): this is no print."


def test_a_program_that_lays_nothing_is_not_praised_for_its_flow(fit):
    found = replay(b"G1 X10 F600\nG1 X90\n", RIG, fit)
    assert found.verdict == "It takes 9.0 s and lays nothing: no move pushes filament."


def test_mass_and_heater_power_come_with_a_material(fit):
    found = replay(straight(8.0, count=20).encode(), RIG, fit, material=GENERIC["PLA"])
    assert found.mass_g == pytest.approx(
        found.summary.filament_net_mm * SECTION_MM2 * 1.24e-3, rel=1e-9
    )
    # by hand: 8 mm³/s of 1.24 g/cm³ from 25 to 220 °C
    pla = GENERIC["PLA"]
    rise = 220 - 25
    heat = pla.specific_heat_j_gk + (pla.specific_heat_slope or 0) * (25 + rise / 2)
    per_mm3 = 1.24e-3 * (heat * rise + (pla.latent_j_g or 0))
    assert found.heater_max_w == pytest.approx(8.0 * per_mm3, rel=1e-3)
    assert found.heater_w == pytest.approx(found.flow.mean_mm3_s * per_mm3, rel=1e-6)


def test_dwells_take_their_time(fit):
    text = straight(5.0) + "G4 P1500\nG1 X20 E1 F1500\n"
    without = replay(text.replace("G4 P1500\n", "").encode(), RIG, fit)
    found = replay(text.encode(), RIG, fit)
    assert found.dwell_s == 1.5
    assert found.time_s > without.time_s + 1.5 - 1e-9


def test_a_dwell_behind_the_last_move_counts_too(fit):
    text = straight(5.0) + "G4 P400\n" * 5
    assert replay(text.encode(), RIG, fit).dwell_s == pytest.approx(2.0)


def test_json_holds_the_fixed_fields(fit):
    data = json.loads(json.dumps(to_json(replay(straight(20.0).encode(), RIG, fit))))
    fixed = {
        "moves", "extruding_moves", "extruding_path_mm", "travel_path_mm", "filament_net_mm",
        "filament_forward_mm", "box_mm", "layers", "time_s", "flow", "over_ceiling_s",
        "stretches", "unknown_words", "problems",
    }  # fmt: skip
    assert fixed <= set(data)
    assert set(data["flow"]) == {"max_mm3_s", "mean_mm3_s", "p99_mm3_s"}


def test_chunks_do_not_change_the_answer(fit, monkeypatch):
    text = straight(16.0, 30.0, count=400).encode()
    whole = replay(text, RIG, fit)
    from beadworth.replay import run

    read = run.read
    monkeypatch.setattr(run, "read", lambda *a, **k: read(*a, **k, chunk_bytes=700))
    cut = replay(text, RIG, fit)
    assert cut.time_s == pytest.approx(whole.time_s, rel=1e-9)
    assert cut.over_ceiling_s == pytest.approx(whole.over_ceiling_s, rel=1e-9)
    assert len(cut.stretches) == len(whole.stretches)
    assert np.allclose(cut.series_mm3_s, whole.series_mm3_s)


def test_gz_is_read_as_plain(fit):
    text = straight(16.0).encode()
    packed, plain = (replay(data, RIG, fit) for data in (gzip.compress(text), text))
    assert packed.time_s == plain.time_s


def test_a_wrong_group_is_refused_before_reading(fit):
    with pytest.raises(NotFoundError):
        replay(straight(5.0).encode(), RIG, fit, fit_rig="another")


def test_strict_stops_at_a_problem(fit):
    with pytest.raises(GcodeError):
        replay(b"G1 X1..2 E1 F600\n", RIG, fit, stop_on_problem=True)
    assert replay(b"G1 X1..2 E1 F600\n", RIG, fit).summary.problem_counts


@each(path=[*sorted(own_prints.FOLDER.glob("*.gcode")), *sorted(PRINTS.glob("*.gcode*"))])
def test_prints_agree_with_their_summary(path, fit):
    found = replay(path, RIG, fit)
    plain = summary(path, found.read_as)
    assert found.summary.moves == plain.moves
    assert found.summary.filament_net_mm == plain.filament_net_mm
    assert found.commanded_s + sum(found.held_back_s.values()) + found.dwell_s == pytest.approx(
        found.time_s, rel=1e-6
    )
    assert found.flow.mean_mm3_s <= found.flow.max_mm3_s + 1e-12
    assert sum(layer.time_s for layer in found.layers) <= found.time_s + 1e-6


def test_faster_flow_saves_less_time_than_its_ratio(fit):
    """doi:10.1007/s40192-024-00350-w (2024), Table 7, direction only: nearly double
    the flow took 12 % less time, since acceleration limited a small part. Short beads here."""
    times = []
    for flow in (5.0, 10.0):
        lines = straight(flow, 3.0, count=400)
        times.append(replay(lines.encode(), RIG, None).time_s)
    assert 0.6 < times[1] / times[0] < 0.98


@pytest.mark.parametrize(("slow_s", "stretches"), [(0.147, 1), (0.153, 2)])
def test_three_lags_under_the_ceiling_end_a_stretch(fit, slow_s, stretches):
    """Over, slow, over along one line, the lag 50 ms; the slow bead has its feed throughout."""
    ceiling = ceiling_at(fit, None, None, 220.0).flow_mm3_s
    section = 0.25 * 0.2 + math.pi / 4 * 0.04
    slow = 0.3 * ceiling / section
    lines, x = straight(0.3 * ceiling, 20.0).splitlines(), 40.0
    for mm, share in ((60.0, 1.3), (slow * slow_s, 0.3), (60.0, 1.3)):
        x += mm
        e = mm * section / SECTION_MM2
        lines.append(f"G1 X{x:.5f} E{e:.6f} F{share * ceiling / section * 60:.2f}")
    found = replay("\n".join(lines).encode(), RIG, fit)
    assert len(found.stretches) == found.sustained == stretches


def test_a_limit_of_jerk_lengthens_each_ramp():
    """20 mm at 100 mm/s from rest to rest: at 1000 mm/s² 0.3 s; at 50,000 mm/s³ too a/j more."""
    motion = {"print_acceleration_mm_s2": 1000.0, "max_acceleration_mm_s2": None}
    found = {
        jerk: replay(
            b"G90\nM83\nG1 X20 F6000\n",
            RIG.model_copy(
                update={"motion": RIG.motion.model_copy(update=motion | {"max_jerk_mm_s3": jerk})}
            ),
        )
        for jerk in (None, 50_000.0)
    }
    plain, smooth = found.values()
    # L. Biagiotti, C. Melchiorri 2008, sections 3.2 and 3.4: two ramps of 0.1 s, or of 0.12 s
    assert (plain.time_s, smooth.time_s) == pytest.approx((0.3, 0.32), rel=1e-12)
    assert smooth.time_at_rig_limits_s == smooth.time_s
    assert (plain.held_back_s["stop"], smooth.held_back_s["stop"]) == pytest.approx((0.1, 0.12))
    stated = [
        (one.value, one.unit, one.origin)
        for of in (plain, smooth)
        for one in of.limits
        if one.name == "jerk"
    ]
    assert stated == [(50_000.0, "mm/s³", "rig")]
    rows = to_json(smooth)["limits"]
    assert {"name": "jerk", "value": 50_000.0, "unit": "mm/s³", "from": "rig"} in rows


def test_time_over_a_ceiling_under_a_limit_of_jerk(fit):
    """The straight ramp that takes an S-curve's time passes the ceiling at the same flow."""
    text = straight(20.0, 60.0).replace("F6000\n", "F6000\nG4 P1\n").encode()  # from rest
    motion = RIG.motion.model_copy(update={"max_jerk_mm_s3": 40_000.0})
    rig = RIG.model_copy(update={"motion": motion, "extruder": RIG.extruder.model_copy(
        update={"pressure_lag_s": 0.0})})  # fmt: skip
    found = replay(text, rig, fit)
    speed = 20.0 / (0.25 * 0.2 + np.pi / 4 * 0.04)
    # the acceleration never gets to 5000 mm/s²: both ramps last 2·√(v/j)
    ramp = 2 * math.sqrt(speed / 40_000.0)
    level = 60.0 / speed - ramp
    assert level > 0
    ceiling = ceiling_at(fit, None, None, 220.0).flow_mm3_s
    expected = level + 2 * ramp * (1 - ceiling / 20.0)
    assert found.over_ceiling_s == pytest.approx(expected, rel=1e-4)
