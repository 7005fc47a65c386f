"""A second cause is named beside the first, none where there is none; what no rig names is not."""

import functools

import pytest
from cause_seconds import drawn, named, pair
from loops import some

from beadworth.cause import cause_answer
from beadworth.cause.answer import verdict
from beadworth.cause.ranking import rank
from beadworth.cause.second import second_cause


@functools.cache
def two_there():
    """Drive tooth and gear mesh, ringing beside."""
    assert set(pair(4)) == {"drive tooth", "gear mesh"}
    readings, sources = drawn(4, *pair(4))
    return readings, sources, cause_answer(readings, sources)


def test_both_of_two_causes_are_named():
    _, _, answer = two_there()
    names = {answer.causes[0].name, answer.second.name}
    assert names == {"drive tooth", "gear mesh"}
    assert f"Beside it {answer.second.name} (over 99 %)." in answer.verdict
    assert answer.second.period.low < answer.second.period.value < answer.second.period.high
    assert answer.ringing is not None
    assert sum(cause.probability for cause in answer.causes) == pytest.approx(1)


def test_one_alone_has_none_beside():
    for seed in range(3, some(4, long=24)):
        first, _, second = named(*drawn(seed, pair(seed)[0]))
        assert not second, (seed, pair(seed)[0], first, second)


def test_what_the_rig_does_not_name_is_none_of_these():
    for seed in range(some(1, long=20)):
        first, p, second = named(*drawn(seed, "unlisted"))
        assert first == "none of these" or p < 0.8, (seed, first, p)
        assert not second


def test_no_source_no_main_cause():
    readings, _, _ = two_there()
    assert second_cause(rank(readings[:1], []), []) is None


def test_a_verdict_is_sure_from_eighty_per_cent_on():
    assert verdict({"belt tooth, x": 0.8, "none of these": 0.2}) == (
        "Most likely: belt tooth, x (80 %)."
    )
    assert verdict({"belt tooth, x": 0.799, "none of these": 0.201}) == (
        "Cannot tell yet: belt tooth, x (80 %) or none of these (20 %)."
    )
    assert verdict({"none of these": 0.9, "ringing": 0.1}) == (
        "Something repeats that is none of the sources this rig's record names (90 %)."
    )
    assert verdict({"nothing periodic": 0.995, "ringing": 0.005}) == (
        "Nothing periodic stands out of this wall's noise (over 99 %)."
    )
    _, _, answer = two_there()
    told = verdict({"screw turn, z": 0.6, "ringing": 0.4}, answer.ringing, answer.second)
    assert told == (
        f"Cannot tell yet: screw turn, z (60 %) or ringing (40 %). Beside it {answer.second.name} "
        f"(over 99 %). Ringing at {answer.ringing.hertz.value:.1f} Hz beside it (over 99 %)."
    )
