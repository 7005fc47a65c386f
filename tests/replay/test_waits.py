"""What a file waits for, counted as the rig states it; and the maker's own estimate beside ours."""

import numpy as np
import pytest
from replay_support import make_fit

from beadworth.core import to_json
from beadworth.replay import replay
from beadworth.replay.remaining import hold_against
from beadworth.rig import Rig

STATED = {"heat_hot_end_s": 90, "heat_bed_s": 200, "home_s": 24, "level_s": 60,
          "change_tool_s": 7}  # fmt: skip
BEADS = ["G1 X50 Y0 Z0.2 F3000", "G1 X90 E2", "G1 X50 E2", "G1 X90 E2"]


def gcode(lines):
    return "\n".join(["M83", *lines, ""]).encode()


def on(**durations):
    return Rig.model_validate({"name": "R", "durations": durations})


def told(lines, rig):
    found = replay(gcode(lines), rig)
    return found, {wait.what: (wait.times, wait.total_s) for wait in found.waits}


def test_waits_count_as_the_rig_states_them_and_not_at_all_where_it_does_not():
    lines = ["M190 S60", "M109 S200", "G28", "G29", *BEADS, "T1", "G1 X50 E2", "T1", "T0"]
    bare, unknown = told(lines, on())
    assert unknown == {"heating the hot end": (1, None), "heating the bed": (1, None),
                       "homing": (1, None), "levelling": (1, None),
                       "tool change": (2, None)}  # fmt: skip
    found, waits = told(lines, on(**STATED))
    assert waits == {"heating the hot end": (1, 90), "heating the bed": (1, 200),
                     "homing": (1, 24), "levelling": (1, 60), "tool change": (2, 14)}  # fmt: skip
    for name in ("time_s", "time_at_rig_limits_s"):
        assert getattr(found, name) - getattr(bare, name) == pytest.approx(388, abs=1e-9)
    assert found.dwell_s == bare.dwell_s == 0
    assert found.waits_sentence == (
        "Waits as the rig states them, in its time: heating the hot end 2 min, heating the bed "
        "3 min, homing 24 s, levelling 60 s, tool change (2 times) 14 s."
    )
    assert bare.waits_sentence == (
        "Not counted, since the rig does not say how long it takes: heating the hot end, heating "
        "the bed, homing, levelling, tool change (2 times)."
    )
    assert to_json(bare)["waits"][2] == {"what": "homing", "times": 1, "total_s": None}


@pytest.mark.parametrize(("lines", "hot_end", "bed"), [
    # together: while the bed takes its 200 s the hot end is there; and the other way round
    (["M104 S200", "M140 S60", "M190 S60", "M109 S200"], 0, 200),
    (["M104 S200", "M140 S60", "M109 S200", "M190 S60"], 90, 110),
    # homing counts as meanwhile
    (["M104 S200", "G28", "M109 S200"], 66, None),
    # one after the other
    (["M190 S60", "M109 S200"], 90, 200),
    # from 20 °C: half way first, then the rest; what is lower or the same takes nothing
    (["M109 S110", "M109 S200", "M109 S200", "M109 S170"], 180, None),
    # back down, and up again by a third
    (["M109 S200", "M109 S140", "M109 S200"], 120, None),
    # switched off between two prints: from the room's temperature again
    (["M109 S200", "M104 S0", "M109 S200"], 180, None),
])  # fmt: skip
def test_what_heats_meanwhile_counts_once(lines, hot_end, bed):
    _, waits = told([*lines, *BEADS], on(**STATED))
    assert waits["heating the hot end"][1] == pytest.approx(hot_end, abs=1e-9)
    assert waits.get("heating the bed", (0, None))[1] == (
        bed if bed is None else pytest.approx(bed, abs=1e-9)
    )


def test_homing_of_one_axis_takes_a_third():
    _, waits = told(["G28 X0", "G28 X0 Y0", "G28", *BEADS], on(home_s=24))
    assert waits["homing"] == (3, pytest.approx(8 + 16 + 24))


def test_a_wait_lets_the_pressure_fall_and_ends_a_stretch():
    # two beads over the ceiling that nothing parts but a tool change of some seconds
    lines = ["M104 S220", "T1", "M104 S220", "T0", "G1 X0 Y0 Z0.2 F1200", "G1 X40 E16"]
    lines += ["T1", "G1 X0 E16"]
    fit = make_fit()
    assert replay(gcode(lines), on(), fit).sustained == 1
    assert replay(gcode(lines), on(change_tool_s=5), fit).sustained == 2


def test_marks_are_held_against_the_moves_between_them():
    # 100 mm at 20 mm/s and 1000 mm/s² from rest: 5.02 s each; two marks a minute and a half apart
    legs = [f"G1 X{100 * (k % 2)} F1200" for k in range(1, 19)]
    lines = ["M73 P0 R3", "G28", "M109 S200", *legs, "G4 S10", "M73 P50 R1", *legs[:9], "M73 R0"]
    found = replay(gcode(lines), on(**STATED)).remaining_marks
    moving = replay(gcode([*legs, "G4 S0", *legs[:9]]), on()).time_s
    assert (found.marks, found.theirs_s, found.left_s, found.whole) == (3, 180, 0, True)
    assert found.ours_s == pytest.approx(moving + 10)  # dwells count, the rig's waits do not
    half = replay(gcode(legs), on()).time_s + 10
    gaps = {len(legs) + 6: half - 120, len(lines) + 1: moving + 10 - 180}
    line = max(gaps, key=lambda at: abs(gaps[at]))
    assert (found.widest_line, found.widest_s) == (line, pytest.approx(gaps[line]))
    assert found.share == pytest.approx((moving + 10) / 180 - 1)


def test_marks_do_not_depend_on_how_a_file_is_cut_into_chunks():
    rng = np.random.default_rng(3)
    legs = [f"G1 X{x:.2f} Y{y:.2f} F4800" for x, y in rng.uniform(0, 200, (9000, 2))]
    lines = [line for k, leg in enumerate(legs) for line in (
        [f"M73 R{90 - k // 100}"] if k % 100 == 0 else [], [leg]) for line in line]  # fmt: skip
    found = replay(gcode(lines), on()).remaining_marks
    assert found.marks == 90
    clock = [replay(gcode(lines[: k * 101]), on()).time_s for k in (30, 89)]
    # up to a mark the machine need not stop there: less by one ramp at most
    assert found.ours_s == pytest.approx(clock[1], abs=0.2)


def test_one_mark_is_held_against_all_that_follows_and_a_cut_file_says_so():
    single = hold_against([(26, 91.0, 4.0)], 1744.0)
    assert (single.theirs_s, single.ours_s, single.whole) == (5460.0, 1740.0, True)
    assert single.sentence == (
        "One mark of the time left (M73), line 26: 1 h 31 min; from there it takes 29 min here "
        "(−68.1 %)."
    )
    cut = hold_against([(1, 196.0, 0.0), (20, 195.0, 80.0), (90, 193.0, 185.0)], 190.0)
    assert (cut.theirs_s, cut.ours_s, cut.left_s, cut.whole) == (180.0, 185.0, 11580.0, False)
    assert (cut.widest_line, cut.widest_s) == (20, 20.0)
    assert cut.sentence == (
        "3 marks of the time left (M73), whole minutes: 3 min from the first, line 1, to the "
        "last, and 3 min here (+2.8 %); at most 20 s apart on the way, line 20. The last of them "
        "leaves 3 h 13 min: not whole."
    )
    assert hold_against([], 5.0) is None
    assert hold_against([(1, 0.0, 0.0)], 9.0).share is None
    # whole: the last mark leaves a minute at most
    assert hold_against([(1, 5.0, 0.0), (2, 1.0, 9.0)], 9.0).whole
    assert not hold_against([(1, 5.0, 0.0), (2, 1.1, 9.0)], 9.0).whole
