"""Whose limits: a file's own against the rig's, in the replay, between two rigs, in worth."""

import pytest
from replay_support import RIG, make_fit, straight

from beadworth.replay import compare, on_rig, replay
from beadworth.worth.times import times_on

PLAIN = straight(6.0, 20.0, count=60)
FILE = ("M201 X1000 Y1000\nM204 P1000 T1000\n" + PLAIN).encode()
RULES = ("obeyed", "capped", "ignored")


def rig(name, acceleration, rule="capped"):
    axes = {"x": acceleration, "y": acceleration, "z": 100}
    motion = RIG.motion.model_dump() | {
        "max_acceleration_mm_s2": axes, "print_acceleration_mm_s2": acceleration,
        "file_limits": rule,
    }  # fmt: skip
    return RIG.model_validate(RIG.model_dump() | {"name": name, "motion": motion})


def both(rule):
    return [rig("slow", 500, rule), rig("fast", 8000, rule)]


@pytest.mark.parametrize("rule", RULES)
def test_three_answers_of_two_rigs(rule):
    found = compare(*(on_rig(FILE, one, make_fit(), fit_rig="R") for one in both(rule)))
    slow, fast = found.baseline, found.candidate
    gap = slow.as_commanded.time_s - fast.as_commanded.time_s
    own = slow.as_commanded.time_at_rig_limits_s - fast.as_commanded.time_at_rig_limits_s
    assert own > 5.0
    if rule == "obeyed":
        assert gap == found.saved_s == found.saved_fastest_s == 0.0
        assert found.sentence.startswith("At the limits that the file sets, this print takes ")
        assert "slow and fast obey the file; at each rig's own limits: " in found.sentence
        return
    assert gap > 1.0
    if rule == "ignored":
        assert gap == pytest.approx(own)
        assert found.sentence.startswith("At its own feeds, this print takes ")
        return
    assert gap < own
    assert found.saved_s == pytest.approx(own)
    assert found.saved_fastest_s > 5.0
    assert found.sentence.startswith("At each rig's own limits, this print takes ")
    assert "The file sets limits of its own; as written: " in found.sentence


@pytest.mark.parametrize("feeds", ["as written", "raised"])
def test_worth_counts_at_the_rigs_own_limits(feeds):
    for rule in RULES:
        slow, fast = (times_on(FILE, one, make_fit(), feeds, fit_rig="R") for one in both(rule))
        assert (slow.time_s - fast.time_s > 5.0) == (rule != "obeyed")
        assert fast.floor_s <= fast.high_s + 1e-9
    fast = times_on(FILE, rig("fast", 8000), make_fit(), feeds, fit_rig="R")
    assert fast.notes[0].startswith("the limits that the file sets do not count: ")
    slow, _ = (times_on(FILE, one, make_fit(), feeds, fit_rig="R") for one in both("obeyed"))
    assert slow.notes[0].startswith("slow obeys the limits that the file sets; ")
    for one in (rig("a", 500), rig("a", 500, "obeyed")):
        (note,) = times_on(PLAIN.encode(), one, make_fit(), feeds, fit_rig="R").notes
        assert note.startswith("neither the rig nor the file states")


def test_the_table_says_where_each_limit_comes_from():
    for rule, origin in (("obeyed", "line 2 of the file"), ("capped", "rig"), ("ignored", "rig")):
        found = replay(FILE, rig("slow", 500, rule))
        (acceleration,) = (x for x in found.limits if x.name == "print acceleration")
        assert acceleration.origin == origin
        assert acceleration.value == (1000 if rule == "obeyed" else 500)
        assert acceleration.unit == "mm/s²"
        assert found.sets_limits == (rule != "ignored")
    capped = replay(FILE, rig("fast", 8000))
    assert {(x.value, x.origin) for x in capped.limits if x.name == "x acceleration"} == {
        (1000.0, "line 1 of the file")
    }


def test_a_file_without_limits_is_planned_once_and_says_nothing_of_them():
    found = replay(PLAIN.encode(), RIG)
    assert found.time_at_rig_limits_s == found.time_s
    assert not found.sets_limits
    assert compare(*[on_rig(PLAIN.encode(), RIG, make_fit())] * 2).sentence.startswith(
        "At its own feeds"
    )


def test_the_time_at_the_rigs_limits_is_that_of_the_file_without_its_limits():
    """Set late, and again, across the seams of chunks and a dwell."""
    beads = PLAIN.splitlines()
    late = [*beads[:30], "M204 P300 T300", *beads[30:40], "G4 P1500", *beads[40:]]
    without = [line for line in late if not line.startswith("M204")]
    found = replay("\n".join(late).encode(), RIG)
    plain = replay("\n".join(without).encode(), RIG)
    assert found.time_at_rig_limits_s == pytest.approx(plain.time_s, rel=1e-12)
    assert found.time_s > plain.time_s + 1.0
    assert [x.origin for x in found.limits if x.name == "print acceleration"] == [
        "rig", "line 31 of the file",
    ]  # fmt: skip
    assert not any("neither" in note and "print acceleration" in note for note in found.notes)
