"""Limits: from a rig with stated defaults, changed on the way, refused where out of range."""

import numpy as np
import pytest

from beadworth.core.errors import LimitError
from beadworth.motion import Limits
from beadworth.motion.columns import LIMIT_NAMES
from beadworth.motion.limits import DEFAULT_DEVIATION_MM
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


def test_a_rig_that_states_all_is_taken_as_stated():
    limits, assumed = Limits.from_rig(FULL)
    assert limits.table.tolist() == [FULL_ROW]
    assert limits.look_ahead_moves == 16
    assert assumed == ()


def test_a_rig_that_states_nothing_gets_defaults_each_with_a_note():
    limits, assumed = Limits.from_rig(Rig(name="bare"))
    row = dict(zip(LIMIT_NAMES, limits.table[0], strict=True))
    assert row["junction_deviation_mm"] == DEFAULT_DEVIATION_MM
    assert np.isinf(row["corner_step_x_mm_s"])
    assert limits.look_ahead_moves is None
    assert len(assumed) == 9
    assert "top speed per axis, mm/s: the rig does not state it; x 150, y 150, z 8 taken" in assumed


def test_path_accelerations_follow_from_what_is_stated():
    rig = Rig.model_validate(
        {"name": "part", "motion": {"max_acceleration_mm_s2": {"x": 5000, "y": 3000, "z": 150}}}
    )
    limits, assumed = Limits.from_rig(rig)
    assert limits.table[0, :2].tolist() == [3000, 3000]
    assert "print acceleration: the rig does not state it; 3000 mm/s² taken" in assumed


def test_a_print_changes_limits_but_not_the_corner_rule():
    limits, _ = Limits.from_rig(FULL)
    changes = np.full((2, len(LIMIT_NAMES)), np.nan)
    changes[1] = np.arange(1.0, len(LIMIT_NAMES) + 1)
    changed = limits.with_changes(changes)
    assert changed.table[0].tolist() == FULL_ROW
    assert changed.table[1, :15].tolist() == list(range(1, 16))
    assert np.isinf(changed.table[1, 15])  # the rig goes by axis steps
    assert changed.look_ahead_moves == 16


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
