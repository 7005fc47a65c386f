"""A print taken apart: time at each flow, features by comments, layers and fan, tools."""

import gzip
import math

import numpy as np
import pytest
from replay_support import RIG, SECTION_MM2, make_fit

from beadworth.core import to_json
from beadworth.replay import replay
from beadworth.replay.breakdown import FlowHistogram, flow_histogram
from beadworth.replay.features import read_features
from beadworth.rig import Rig


def on(pattern):
    return RIG.model_validate(RIG.model_dump() | {"feature_comment": pattern})


def beads(flow, count, y=0.0, z=0.2):
    """Beads of 50 mm there and back at a flow; 0.085 mm² of section."""
    e, feed = 50 * 0.085 / SECTION_MM2, flow / 0.085 * 60
    return [f"G1 X{70 - 50 * (k % 2)} Y{y} Z{z} E{e:.5f} F{feed:.0f}" for k in range(count)]


HEAD = ["G21", "G90", "M83", "M104 S220", "G0 X20 Y0 Z0.2 F9000"]


def told(*lines, rig=RIG, fit=None):
    return replay("\n".join([*HEAD, *lines, ""]).encode(), rig, fit)


def test_the_time_at_each_flow_adds_up_and_lies_where_the_beads_are():
    found = told(*beads(6, 12), *beads(10, 24))
    histogram = found.flow_histogram
    total = 36 * 50 * 0.085 / found.flow.mean_mm3_s
    assert sum(histogram.time_s) == pytest.approx(total, rel=1e-5)
    assert 1 <= len(histogram.time_s) <= 60
    # a bead from corner to corner is a little under its commanded flow in the mean
    assert 5 < histogram.quantile(0.2) <= 6
    assert 8 < histogram.quantile(0.9) <= 10
    assert histogram.share_over(6.0) == pytest.approx(0.5, abs=0.1)
    assert histogram.share_over(10.1) == 0.0
    assert set(to_json(found)["flow_histogram"]) == {"width_mm3_s", "time_s"}


@pytest.mark.parametrize(
    ("top", "width"), [(0.6, 0.01), (0.61, 0.02), (12.0, 0.2), (12.01, 0.5), (300, 5), (299.9, 5)]
)
def test_bins_are_round_and_at_most_sixty(top, width):
    fine = np.zeros(30_000)
    fine[0], fine[round(top / 0.01) - 1] = 3.0, 1.0
    found = flow_histogram(fine)
    assert found.width_mm3_s == width
    assert len(found.time_s) == math.ceil(round(top / width, 6)) <= 60
    assert (found.time_s[0], found.time_s[-1]) == (3.0, 1.0)
    assert found.share_over(top / 2) == 0.25
    few = found.merged(12)
    assert len(few.time_s) <= 12
    assert sum(few.time_s) == 4.0


def test_an_empty_histogram_answers():
    assert flow_histogram(np.zeros(30_000)) == FlowHistogram(0.01, ())
    assert (FlowHistogram(1.0, ()).share_over(1), FlowHistogram(1.0, ()).quantile(0.5)) == (0, 0)
    assert FlowHistogram(1.0, ()).merged(5).time_s == ()
    # wholly over: the bin that holds the flow is not
    two = FlowHistogram(1.0, (1.0, 1.0, 2.0))
    assert (two.share_over(1.0), two.share_over(1.01), two.share_over(2.0)) == (0.75, 0.5, 0.5)


MARKED = [
    *beads(5, 2), "; feature: outline", *beads(6, 4), ";feature:fill ", *beads(16, 6),
    "; other words", "( feature: outline )", *beads(6, 2), "M106 S127 ; feature: roof",
    *beads(8, 2),
]  # fmt: skip


def test_flow_is_told_by_feature_as_the_rig_says_they_are_marked():
    found = told(*MARKED, rig=on(r"feature: ?(.+)"), fit=make_fit())
    per = 50 * 0.085 / SECTION_MM2
    got = {one.name: one for one in found.features}
    assert next(iter(got)) == "fill"  # longest over its ceiling of 14 mm³/s
    amounts = {name: one.filament_mm / per for name, one in got.items()}
    assert amounts == {"fill": pytest.approx(6, rel=1e-4), "outline": pytest.approx(6, rel=1e-4),
                       "before the first mark": pytest.approx(2, rel=1e-4),
                       "roof": pytest.approx(2, rel=1e-4)}  # fmt: skip
    assert got["fill"].max_mm3_s == pytest.approx(16, rel=1e-3)
    assert got["outline"].max_mm3_s == pytest.approx(6, rel=1e-3)
    assert got["fill"].over_s == pytest.approx(found.over_ceiling_s)
    assert sum(one.over_s for one in got.values()) == pytest.approx(found.over_ceiling_s)
    assert sum(one.time_s for one in got.values()) == pytest.approx(
        sum(found.flow_histogram.time_s)
    )
    for one in got.values():
        assert one.flow_mm3_s == pytest.approx(one.filament_mm * SECTION_MM2 / one.time_s)


def test_features_change_nothing_else():
    plain, marked = (told(*MARKED, rig=rig, fit=make_fit()) for rig in (RIG, on("feature: ?(.+)")))
    assert plain.features == ()
    for name in ("time_s", "over_ceiling_s", "verdict", "bursts", "sustained"):
        assert getattr(plain, name) == pytest.approx(getattr(marked, name)), name
    assert len(plain.stretches) == len(marked.stretches)


def test_without_a_group_the_whole_comment_is_the_name_and_nothing_matches_in_part():
    text = "\n".join([*HEAD, "; wall", *beads(6, 2), "; walls", *beads(6, 2), ""]).encode()
    assert read_features(text, "wall").names == ("before the first mark", "wall")
    assert read_features(text, "no such").names == ("before the first mark",)
    assert replay(text, on("no such")).features == ()


def test_marks_are_found_in_every_kind_of_file(tmp_path):
    lines = ["G1 X1 F600"] * 30_000
    lines[17] = "G1 X2 ; in"
    lines[29_000] = ";out"
    for end in ("\n", "\r\n", "\r"):
        text = ("\ufeff" + end.join(lines)).encode()
        packed = tmp_path / "p.gcode.gz"
        packed.write_bytes(gzip.compress(text))
        for source in (text, packed):
            found = read_features(source, "in|out")
            assert found.names == ("before the first mark", "in", "out")
            starts = [text[at : at + 5] for at in found.offset]
            assert starts == [b"G1 X2", b";out" + end[0].encode()]
    many = "\n".join(f"; n{k}" for k in range(200)).encode()
    assert len(read_features(many, ".+").names) == 62
    assert read_features(many, ".+").names[-1] == "others"


@pytest.mark.parametrize(
    ("pattern", "why"), [("(", "is no regular expression"), ("(a)(b)", "has 2 groups")]
)
def test_a_pattern_that_is_none_is_refused(pattern, why):
    with pytest.raises(ValueError, match=why):
        Rig.model_validate({"name": "R", "feature_comment": pattern})


def test_layers_have_their_time_and_the_duty_of_the_fan():
    lines = [*beads(6, 4), "M106 S255", *beads(6, 8, z=0.4), *beads(6, 2, z=0.6), "M107",
             *beads(6, 2, z=0.6), *beads(6, 6, z=0.8)]  # fmt: skip
    found = told(*lines)
    assert [layer.fan for layer in found.layers] == [
        0.0, pytest.approx(1.0, abs=0.05), pytest.approx(0.5, abs=0.05), 0.0
    ]  # fmt: skip
    assert found.shortest_layer.layer in (1, 3)
    assert found.shortest_layer.time_s == min(layer.time_s for layer in found.layers)
    assert found.shortest_layer_sentence.startswith(
        f"The shortest layer is {found.shortest_layer.layer}, at z "
    )
    assert to_json(found)["shortest_layer"]["layer"] == found.shortest_layer.layer
    assert {layer.fan for layer in told(*beads(6, 4)).layers} == {None}


def test_filament_is_told_by_tool():
    e = 50 * 0.085 / SECTION_MM2
    found = told(*beads(6, 4), "T2", *beads(6, 3), "T1", *beads(6, 2), "T2", *beads(6, 1))
    assert [one.tool for one in found.tools] == [0, 1, 2]
    assert [one.filament_mm for one in found.tools] == pytest.approx(
        [4 * e, 2 * e, 4 * e], abs=1e-3
    )
    assert sum(one.filament_mm for one in found.tools) == pytest.approx(
        found.summary.filament_net_mm, abs=1e-9
    )
    assert [one.tool for one in told(*beads(6, 4)).tools] == [0]
    assert [one.tool for one in told("T3", *beads(6, 4)).tools] == [3]
