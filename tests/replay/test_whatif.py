"""Two rigs on one print: who is the wall, the hot end or the motion."""

import pytest
from replay_support import RIG, make_fit, straight

from beadworth.replay import compare, on_rig, replay

BETTER = RIG.model_copy(update={"name": "B"})
LARGE = ((200.0, 15.0), (220.0, 20.0))


def both(text):
    first = on_rig(text.encode(), RIG, make_fit())
    return compare(first, on_rig(text.encode(), BETTER, make_fit(LARGE)))


def test_a_better_hot_end_helps_where_flow_is_the_wall():
    found = both(straight(18.0, 180.0, count=40))
    assert found.saved_s > 0
    assert found.baseline.share_s["flow"] > 0
    assert found.candidate.share_s["flow"] == pytest.approx(0, abs=1e-6)
    assert "less" in found.sentence


def test_it_does_not_where_motion_is():
    found = both(straight(5.0, 1.0, count=400))
    assert found.saved_s == pytest.approx(0, abs=1e-6)
    assert abs(found.saved_fastest_s) < 0.02 * found.baseline.fastest.time_s
    assert "gains nothing more" in found.sentence


def test_shares_add_up():
    found = both(straight(12.0, 40.0, count=30))
    for side in (found.baseline, found.candidate):
        assert sum(side.share_s.values()) == pytest.approx(side.under_ceiling.time_s)
        assert sum(side.share_fastest_s.values()) == pytest.approx(side.fastest.time_s)
        assert side.fastest.time_s <= side.under_ceiling.time_s + 1e-9


def test_the_ends_of_a_ceilings_interval_bracket_the_time():
    text = straight(18.0, 180.0, count=40).encode()
    low, middle, high = (
        replay(text, RIG, make_fit(), cap=True, side=side) for side in ("low", "estimate", "high")
    )
    assert low.time_s > middle.time_s > high.time_s
    (ceiling,) = middle.ceilings
    assert ceiling.temperature_c == 220.0
    # where flow is the wall all the way, time at the commanded speed goes with 1 ÷ ceiling
    assert low.commanded_s / high.commanded_s == pytest.approx(ceiling.high / ceiling.low, rel=0.01)


def test_a_temperature_on_the_way_up_is_not_reckoned_with():
    text = straight(8.0, count=3).replace("M104 S220", "M104 S150\nM104 S220").encode()
    assert [c.temperature_c for c in replay(text, RIG, make_fit()).ceilings] == [220.0]
