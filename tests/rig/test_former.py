"""Field names of earlier releases are read, and today's are written."""

import pytest

from beadworth.core import RecordError, from_toml, to_mapping
from beadworth.rig import Rig, upgrade
from beadworth.rig.former import former_names

(NAME,) = former_names("corner_deviation_mm")
OLD = f"""
name = "Old file"
[motion]
print_acceleration_mm_s2 = 1500
{NAME} = 0.02
[known."motion.{NAME}"]
origin = "measured"
u = 0.002
"""


def test_a_file_of_an_earlier_release_loads_and_is_written_with_todays_names():
    rig = from_toml(Rig, OLD, "old.toml")
    assert rig.motion.corner_deviation_mm == 0.02
    assert rig.known["motion.corner_deviation_mm"].u == 0.002
    written = to_mapping(rig)
    assert written["motion"]["corner_deviation_mm"] == 0.02
    assert NAME not in str(written)
    assert from_toml(Rig, OLD.replace(NAME, "corner_deviation_mm"), "new.toml") == rig


def test_changes_of_an_earlier_release_replace_the_parents_value():
    parent = Rig.model_validate({"name": "Parent", "motion": {"corner_deviation_mm": 0.05}})
    child = upgrade(parent, {"motion": {NAME: 0.02}})
    assert child.motion.corner_deviation_mm == 0.02


def test_both_names_at_once_are_refused():
    both = OLD.replace("[known", "corner_deviation_mm = 0.03\n[known", 1)
    with pytest.raises(RecordError, match=NAME):
        from_toml(Rig, both, "both.toml")
