"""A print with another acceleration, temperature or ceiling, and the interval of the answer."""

import pytest
from replay_support import RIG, make_fit, straight

from beadworth.capacity import ceiling_at
from beadworth.replay import Change, replay, replay_otherwise
from beadworth.replay.otherwise import Otherwise, Range

FIT = make_fit()  # 10 mm³/s at 200 °C, 14 at 220 °C
PRINT = straight(12.0, celsius=220, count=12).encode()


def moved(fit=FIT, source=PRINT, rig=RIG, **change):
    return replay_otherwise(source, rig, fit, Change(**change))


def test_nothing_changed_is_the_replay_at_the_three_sides_of_the_ceiling():
    at = ceiling_at(FIT, None, None, 220.0)
    text = straight(1.003 * at.flow_mm3_s, count=12).encode()
    found = moved(source=text)
    for end, side in (("low", "high"), ("estimate", "estimate"), ("high", "low")):
        plain = replay(text, RIG, FIT, side=side)
        assert getattr(found.over_s, end) == plain.over_ceiling_s
        assert getattr(found.beyond_mm3, end) == sum(s.missing_mm3 for s in plain.stretches)
    assert found.time_s == replay(text, RIG, FIT).time_at_rig_limits_s
    assert found.over_s.low <= found.over_s.estimate <= found.over_s.high
    assert found.over_s.low < found.over_s.high
    assert found.speed_share.low <= found.speed_share.estimate <= found.speed_share.high <= 1
    assert found.ceiling_mm3_s == Range(at.low, at.flow_mm3_s, at.high)


def test_a_colder_nozzle_and_a_lower_ceiling_put_it_over():
    assert moved().over_s == Range(0, 0, 0)
    cold = moved(temperature_c=200.0)
    assert cold.ceiling_mm3_s.estimate == ceiling_at(FIT, None, None, 200.0).flow_mm3_s
    assert cold.over_s.low > 1
    low = moved(ceiling_share=0.7)
    at = ceiling_at(FIT, None, None, 220.0)
    assert low.ceiling_mm3_s.estimate == pytest.approx(0.7 * at.flow_mm3_s)
    assert low.over_s.low > 1
    assert moved(temperature_c=200.0, ceiling_share=1.5).over_s == Range(0, 0, 0)
    assert cold.time_s == low.time_s == moved().time_s


def test_another_acceleration_is_the_rigs_own_whatever_the_file_sets():
    text = b"M204 S300\n" + PRINT
    rig = RIG.model_validate(RIG.model_dump() | {
        "motion": RIG.motion.model_dump() | {"file_limits": "obeyed"}})  # fmt: skip
    obeyed, own = moved(source=text, rig=rig), moved(source=text, rig=rig, acceleration_mm_s2=8000)
    assert obeyed.time_s == replay(text, rig, FIT).time_s
    motion = RIG.motion.model_dump() | {
        "print_acceleration_mm_s2": 8000.0, "travel_acceleration_mm_s2": 8000.0,
        "max_acceleration_mm_s2": {"x": 8000.0, "y": 8000.0, "z": 500.0}, "file_limits": "ignored",
    }  # fmt: skip
    same = RIG.model_validate(RIG.model_dump() | {"motion": motion})
    assert own.time_s == replay(text, same, FIT).time_s
    assert own.time_s < obeyed.time_s
    slow, fast = (moved(acceleration_mm_s2=a).time_s for a in (500, 20_000))
    assert slow > moved().time_s > fast


def test_without_a_capacity_only_the_time_is_told():
    found = moved(fit=None, acceleration_mm_s2=2000)
    assert (found.over_s, found.ceiling_mm3_s, found.speed_share) == (None, None, None)
    assert found.sentence.endswith("choose a capacity to know whether the hot end gives that.")


@pytest.mark.parametrize(
    ("over", "beyond", "unknown", "says"),
    [
        (
            (0, 0, 0), (0, 0, 0), False,
            "It takes 60 s, always under a ceiling of 14.0 (13.2 to 14.8) mm³/s, at either end of "
            "its interval.",
        ),
        (
            (0, 3, 12), (0, 1.5, 20), False,
            "It takes 60 s; against a ceiling of 14.0 (13.2 to 14.8) mm³/s it is over for 3.0 s "
            "(0.0 s to 12 s), 1.5 (0.0 to 20.0) mm³ beyond it. One speed for all that stays under "
            "it: 85 % (78 % to 91 %) of the present one.",
        ),
        ((0, 0, 0), (0, 0, 0), True,
         "It takes 60 s. Whether it stays under the ceiling is not known: too cold."),
    ],
)  # fmt: skip
def test_each_answer_in_words(over, beyond, unknown, says):
    found = Otherwise(Change(), 60.0, Range(13.2, 14.0, 14.8), Range(*over), Range(*beyond),
                      Range(0.78, 0.85, 0.91), unknown)  # fmt: skip
    assert found.sentence == says
