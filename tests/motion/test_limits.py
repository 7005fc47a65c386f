"""Limits: from a rig with stated defaults, changed on the way, refused where out of range."""

import numpy as np
import pytest

from beadworth.core.errors import LimitError
from beadworth.motion import Limits
from beadworth.motion.columns import LIMIT_NAMES
from beadworth.motion.in_force import MOST_VALUES, LimitsInForce, assumptions
from beadworth.motion.whose import DEFAULT_DEVIATION_MM
from beadworth.rig import Rig

FULL = Rig.model_validate(
    {
        "name": "all stated",
        "extruder": {"max_feed_mm_s": 60, "max_acceleration_mm_s2": 4000},
        "motion": {
            "max_speed_mm_s": {"x": 300, "y": 250, "z": 12},
            "max_acceleration_mm_s2": {"x": 5000, "y": 3000, "z": 150},
            "print_acceleration_mm_s2": 2000,
            "travel_acceleration_mm_s2": 2500,
            "retract_acceleration_mm_s2": 3500,
            "corner_step_mm_s": {"x": 9, "y": 7, "z": 0.4},
            "extruder_corner_step_mm_s": 5,
            "look_ahead_moves": 16,
        },
    }
)
FULL_ROW = [2000, 2500, 3500, 5000, 3000, 150, 4000, 300, 250, 12, 60, 9, 7, 0.4, 5, np.inf]


NAN = [np.nan] * len(LIMIT_NAMES)


def changed(**values):
    """What a file has set, by the names of limits."""
    return [values.get(name, np.nan) for name in LIMIT_NAMES]


def named(limits, row=0):
    return dict(zip(LIMIT_NAMES, limits.table[row].tolist(), strict=True))


def test_a_rig_that_states_all_is_taken_as_stated():
    limits = Limits.from_rig(FULL)
    assert limits.table.tolist() == [FULL_ROW]
    assert limits.look_ahead_moves == 16
    assert not limits.assumed.any()


def test_a_rig_that_states_nothing_gets_defaults_each_named():
    limits = Limits.from_rig(Rig(name="bare"))
    row = named(limits)
    assert row["corner_deviation_mm"] == DEFAULT_DEVIATION_MM
    assert np.isinf(row["corner_step_x_mm_s"])
    assert limits.look_ahead_moves is None
    seen = LimitsInForce()
    seen.note(limits)
    assert {(x.origin, x.value) for x in seen.found() if x.name == "z top speed"} == {
        ("assumed", 8.0)
    }
    assert len(seen.found()) == 13  # all but the three steps, which no rule uses
    (note,) = assumptions(seen.found())
    assert note.startswith(
        "neither the rig nor the file states these limits; taken: print acceleration 1000 mm/s², "
    )


def test_path_and_axis_accelerations_follow_from_each_other():
    stated = {"max_acceleration_mm_s2": {"x": 5000, "y": 3000, "z": 150}}
    limits = Limits.from_rig(Rig.model_validate({"name": "part", "motion": stated}))
    assert limits.table[0, :2].tolist() == [3000, 3000]
    assert limits.assumed[0, :6].tolist() == [True, True, True, False, False, False]
    fast = Rig.model_validate({"name": "fast", "motion": {"print_acceleration_mm_s2": 8000}})
    row = named(Limits.from_rig(fast))
    assert (row["acceleration_x_mm_s2"], row["acceleration_z_mm_s2"]) == (8000, 100)


@pytest.mark.parametrize(
    ("rule", "low", "high"),
    [("obeyed", 500, 9000), ("capped", 500, 2000), ("ignored", 2000, 2000), ("own", 2000, 2000)],
)
def test_whose_acceleration_rules(rule, low, high):
    """The rig states 2000; the file sets 500, then 9000."""
    rows = [changed(print_acceleration_mm_s2=v) for v in (500, 9000)]
    found = Limits.from_rig(FULL, rule).with_changes(rows, np.full((2, len(LIMIT_NAMES)), 7))
    assert found.table[:, 0].tolist() == [low, high]
    assert (found.lines[:, 0] == 7).tolist() == [low == 500, high == 9000]
    assert found.table[:, 1:].tolist() == [FULL_ROW[1:]] * 2


def test_a_file_fills_what_the_rig_does_not_state_unless_it_is_ignored():
    rig = Rig.model_validate({"name": "r", "motion": {"print_acceleration_mm_s2": 800}})
    row = changed(print_acceleration_mm_s2=5000, travel_acceleration_mm_s2=6000, speed_x_mm_s=321)
    by_rule = {rule: named(Limits.from_rig(rig, rule).with_changes([row]))
               for rule in ("obeyed", "capped", "ignored", "own")}  # fmt: skip
    assert [found["print_acceleration_mm_s2"] for found in by_rule.values()] == [
        5000,
        800,
        800,
        800,
    ]
    assert [found["travel_acceleration_mm_s2"] for found in by_rule.values()] == [
        6000, 6000, 800, 800,
    ]  # fmt: skip
    assert [found["speed_x_mm_s"] for found in by_rule.values()] == [321, 321, 150, 321]
    assert Rig(name="r").motion.file_limits == "capped"
    assert Limits.from_rig(Rig(name="r")).rule == "capped"


def test_a_file_sets_limits_but_not_another_corner_rule():
    limits = Limits.from_rig(FULL, "obeyed")
    changes = np.array([NAN, np.arange(1.0, len(LIMIT_NAMES) + 1)])
    found = limits.with_changes(changes)
    assert found.table[0].tolist() == FULL_ROW
    assert found.table[1, :15].tolist() == list(range(1, 16))
    assert np.isinf(found.table[1, 15])  # the rig goes by axis steps
    assert found.look_ahead_moves == 16


def test_a_stated_step_rule_is_used_where_the_rig_names_none():
    steps = changed(corner_step_x_mm_s=8, corner_step_y_mm_s=6)
    row = named(Limits.from_rig(Rig(name="bare")).with_changes([steps]))
    assert [row[f"corner_step_{axis}_mm_s"] for axis in "xyz"] == [8, 6, 6]
    assert np.isinf(row["corner_deviation_mm"])
    radius = Rig.model_validate({"name": "r", "motion": {"corner_deviation_mm": 0.05}})
    row = named(Limits.from_rig(radius).with_changes([steps]))
    assert np.isinf(row["corner_step_x_mm_s"])
    assert row["corner_deviation_mm"] == 0.05


def test_the_limits_in_force_name_who_says_so_and_stay_few():
    rows = [changed(print_acceleration_mm_s2=v) for v in (500, 9000, 500, *range(1, 100))]
    lines = np.tile(np.arange(1.0, len(rows) + 1)[:, None], len(LIMIT_NAMES))
    seen = LimitsInForce()
    seen.note(Limits.from_rig(FULL).with_changes(rows, lines))
    found = [(x.value, x.origin) for x in seen.found() if x.name == "print acceleration"]
    assert found[:3] == [(500, "line 1 of the file"), (2000, "rig"), (1, "line 4 of the file")]
    assert len(found) == MOST_VALUES
    assert assumptions(seen.found()) == ()


def test_every_value_out_of_range_is_named():
    with pytest.raises(LimitError) as caught:
        Limits.of(print_acceleration_mm_s2=-1.0, speed_x_mm_s=0.0, corner_step_x_mm_s=0.0)
    said = str(caught.value)
    assert "limits, row 0: print_acceleration_mm_s2 must be above 0 and finite." in said
    assert "speed_x_mm_s must be above 0." in said
    assert "corner_step_x_mm_s" not in said  # a full stop at every corner is allowed
    with pytest.raises(LimitError, match="at least 2 moves"):
        Limits.of(look_ahead_moves=1, print_acceleration_mm_s2=1.0)
    with pytest.raises(LimitError, match="print_acceleration_mm_s2 must be above 0 and finite"):
        Limits.of(speed_x_mm_s=1.0)
    with pytest.raises(LimitError, match="16 values"):
        Limits(np.ones((1, 3)))
    with pytest.raises(TypeError, match="no such limit: speed"):
        Limits.of(speed=3.0)
