"""Two files on one rig, beside each other."""

import pytest
from replay_support import RIG, make_fit, straight

from beadworth.replay import hold_files, replay

FIT = make_fit()  # 14 mm³/s at 220 °C


def held(first, second, fit=FIT):
    made = [replay(text.encode(), RIG, fit) for text in (first, second)]
    return hold_files(*made, ("a", "b"), known=fit is not None), made


def test_every_figure_of_both_stands_side_by_side():
    found, (a, b) = held(straight(20.0, count=8), straight(10.0, count=8))
    figures = {pair.what: (pair.first, pair.second) for pair in found.pairs}
    assert figures["time as written"] == (a.time_s, b.time_s)
    assert figures["filament"] == (a.summary.filament_net_mm, b.summary.filament_net_mm)
    assert figures["highest flow"] == (a.flow.max_mm3_s, b.flow.max_mm3_s)
    assert figures["time over the ceiling"] == (a.over_ceiling_s, 0.0)
    assert figures["asked for beyond it"][0] > 0
    assert figures["layers"] == (1, 1)
    assert (found.rig, found.names) == ("R", ("a", "b"))


@pytest.mark.parametrize(
    ("flows", "known", "says"),
    [
        (
            (20, 10),
            True,
            ["b takes ", " longer: ", " and lays the same (0.03 m), against a; it asks for up to "
             "10.0 mm³/s where that asks for 20.0. It is never over the ceiling, the other over "
             "the ceiling for "],
        ),
        ((10, 20), True, ["b takes ", " less: ", "It is over the ceiling for "]),
        ((10, 10), True, ["b takes the same (", "Both are never over the ceiling."]),
        ((10, 10), False, ["b takes the same (", "where that asks for 10.0."]),
    ],
)  # fmt: skip
def test_the_difference_in_words(flows, known, says):
    first, second = (straight(float(flow), count=8) for flow in flows)
    found, _ = held(first, second, FIT if known else None)
    at = 0
    for words in says:
        at = found.sentence.index(words, at)
    assert ("ceiling" in found.sentence) is known
    assert any("ceiling" in pair.what for pair in found.pairs) is known


@pytest.mark.parametrize(
    ("second", "says"),
    [
        (1004.9, "takes the same (1004.9)"),
        (1005.1, "takes 5.1 (1 %) longer: 1005.1"),
        (995.1, "takes the same (995.1)"),
        (994.9, "takes 5.1 (1 %) less: 994.9"),
    ],
)
def test_half_a_per_cent_is_the_same_and_a_little_more_is_not(second, says):
    from beadworth.replay.two_files import _than

    assert _than("takes", 1000.0, second, lambda v: f"{v:.1f}", "longer", "less") == says
