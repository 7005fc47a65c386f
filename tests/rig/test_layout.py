"""A rig from a typical layout: what is typical is marked, what was answered is not."""

from __future__ import annotations

import pytest

from beadworth.core import RecordError, from_mapping
from beadworth.rig import (
    LAYOUTS,
    RigStart,
    look_up,
    questions,
    rig_from_layout,
    upgrade,
    without_typical_marks,
)


def start(**more):
    given = {"name": "Own", "reach_mm": [220, 220, 250]} | more
    return rig_from_layout(from_mapping(RigStart, given, "rig"))


@pytest.mark.parametrize("layout", LAYOUTS)
def test_every_typical_value_is_there_marked_and_plausible(layout):
    rig = start(layout=layout, temperature_limit_c=280.0)
    assert set(rig.known) == set(LAYOUTS[layout].values)
    for path, value in LAYOUTS[layout].values.items():
        assert look_up(rig, path) == value, path
        assert rig.known[path].origin == "assumed", path
        assert rig.known[path].note == "typical of this layout, not measured"
    assert rig.hot_end.temperature_limit_c == 280.0
    assert "hot_end.temperature_limit_c" not in rig.known
    assert questions(rig) == ()


def test_a_typical_value_that_is_changed_is_typical_no_longer():
    before = start(layout="moving bed")
    faster = upgrade(before, {"name": "Own", "motion": {"print_acceleration_mm_s2": 1800.0}})
    as_typed = before.model_copy(update={"motion": faster.motion})
    after = without_typical_marks(before, as_typed)
    assert set(before.known) - set(after.known) == {"motion.print_acceleration_mm_s2"}
    assert without_typical_marks(before, before) is before


def test_without_a_layout_nothing_is_typical():
    rig = start()
    assert rig.known == {}
    assert rig.motion.max_speed_mm_s is None
    assert rig.build_volume.z_mm == 250.0


def test_layouts_move_as_their_words_say():
    carries = {
        name: [look_up(start(layout=name), f"axes.{a}.carries_tool") for a in "xyz"]
        for name in LAYOUTS
    }
    assert carries == {
        "moving bed": [True, False, True],
        "fixed gantry": [True, True, False],
        "coupled belts": [True, True, False],
        "lifting gantry": [True, True, True],
    }
    assert [start(layout=name).coupled_belts for name in LAYOUTS] == [False, False, True, True]


def test_at_most_eight_things_are_asked():
    assert len(RigStart.model_fields) == 8


def test_what_cannot_be_is_refused():
    with pytest.raises(RecordError) as refused:
        start(layout="round", reach_mm=[220, 220])
    assert [problem.path.dotted for problem in refused.value.problems] == ["layout", "reach_mm"]
