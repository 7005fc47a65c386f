"""Melt or motion: simulated graders, whose habits are not those of the model."""

from functools import cache

import numpy as np
import pytest
import witness_graders
from loops import fewest, some
from witness_rigs import MATERIAL, RIG

from beadworth.core import InputError
from beadworth.witness import WitnessSpec, make_witness
from beadworth.witness.separate import CAUSES, BandGrade, describe_cause, separate


@cache
def bands():
    witness = make_witness(
        WitnessSpec(kind="melt or motion", temperature_c=215, ceiling_mm3_s=12), RIG, MATERIAL
    )
    return (
        np.array([band.settings["flow_mm3_s"] for band in witness.bands]),
        np.array([band.settings["speed_mm_s"] for band in witness.bands]),
    )


def one_grader(rng, cause):
    return witness_graders.one_grader(rng, cause, *bands())


def test_one_print_and_one_grader_tell_melt_from_motion():
    """Bar: right with probability > 0.9 in 95 % of 200 graders (long)."""
    count = some(24, long=200)
    rng = np.random.default_rng(8)
    named = [
        (cause, separate({"a": one_grader(rng, cause)}).cause)
        for cause in ("melt", "motion")
        for _ in range(count // 2)
    ]
    right = sum(truth == said for truth, said in named)
    assert right >= fewest(count, 0.95)
    assert sum(said not in (truth, None) for truth, said in named) <= 0.02 * count
    if count >= 200:
        assert right >= 0.95 * count


def test_what_changes_with_neither_is_not_blamed_on_either():
    rng = np.random.default_rng(9)
    found = [separate({"a": one_grader(rng, "neither")}) for _ in range(8)]
    assert all(one.cause in ("neither", None) for one in found)
    both = separate({"a": one_grader(rng, "both")})
    assert both.cause == "both"
    assert set(both.probability) == set(CAUSES)
    assert sum(both.probability.values()) == pytest.approx(1)


def test_a_print_bad_all_over_is_neither():
    flow, speed = bands()
    same = [
        BandGrade(q, v, side, 3)
        for side in ("front", "folded")
        for q, v in zip(flow, speed, strict=True)
    ]
    assert separate({"a": same}).cause == "neither"


@pytest.mark.parametrize(
    ("probability", "words"), [(0.9099, "0.9"), (0.9899, "0.98"), (0.9901, "above 0.99")]
)
def test_a_cause_is_named_beside_what_it_was_compared_with(probability, words):
    rest = (1 - probability) / 3
    found = dict.fromkeys(CAUSES, rest) | {"melt": probability}
    assert describe_cause("melt", found) == (
        "The hot end: walls worsen with flow at one speed, not with speed at one flow. "
        f"Probability {words}, compared with motion, both or neither."
    )


def test_grades_of_one_side_are_refused():
    flow, speed = bands()
    half = [BandGrade(q, v, "front", 0) for q, v in zip(flow, speed, strict=True)]
    with pytest.raises(InputError, match="told apart by both sides"):
        separate({"a": half})
