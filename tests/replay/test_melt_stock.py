"""A stretch against what the melt zone holds: one tank, worked by hand."""

import math

import pytest
from replay_support import RIG, SECTION_MM2, make_fit

from beadworth.capacity import ceiling_at
from beadworth.replay import replay
from beadworth.replay.melt_stock import melt_zone_mm3, shows

SECTION = 0.25 * 0.2 + math.pi / 4 * 0.04


def ceiling():
    return ceiling_at(make_fit(), None, None, 220.0).flow_mm3_s


def rig(bore=2.0, length=12.4):
    hot_end = RIG.hot_end.model_copy(update={"bore_mm": bore, "melt_zone_mm": length})
    return RIG.model_copy(update={"hot_end": hot_end})


def told(*parts, on=None):
    """Beads along one line at a share of the ceiling for some seconds; a number is a dwell."""
    lines, x = ["G21", "G90", "M83", "M104 S220", "G1 X0 Y20 Z0.2 F6000"], 0.0
    for part in parts:
        if isinstance(part, float):
            lines.append(f"G4 S{part}")
            continue
        share, seconds = part
        speed = share * ceiling() / SECTION
        x += speed * seconds
        e = speed * seconds * SECTION / SECTION_MM2
        lines.append(f"G1 X{x:.5f} E{e:.6f} F{speed * 60:.3f}")
    return replay("\n".join(lines).encode(), on or rig(), make_fit())


def test_what_the_zone_holds():
    assert melt_zone_mm3(rig()) == pytest.approx(math.pi * 12.4)  # 38.96 mm³
    assert melt_zone_mm3(RIG) is None


@pytest.mark.parametrize(
    ("drawn", "answer"), [(3.9, "cannot"), (4.1, "may"), (38.9, "may"), (39.1, "will")]
)
def test_a_tenth_and_the_whole_are_the_bounds(drawn, answer):
    assert shows(True, drawn, 39.0) == answer
    assert shows(False, drawn, 39.0) == "cannot"
    assert shows(True, drawn, None) is None


def test_what_is_drawn_and_what_comes_back():
    """Beyond it 0.3 ceilings for 4 s; then 0.5 under it for 1 s; then 0.3 for 2 s more."""
    found = told((0.2, 1), (1.3, 4), (0.5, 1), (1.3, 2))
    first, second = found.stretches
    assert first.missing_mm3 == pytest.approx(1.2 * ceiling(), rel=0.06)  # ramps ask for less
    assert second.missing_mm3 == pytest.approx(0.6 * ceiling(), rel=0.06)
    assert first.drawn_mm3 == first.missing_mm3
    back = first.drawn_mm3 + second.missing_mm3 - second.drawn_mm3
    assert back == pytest.approx(0.5 * ceiling(), rel=0.01)
    full = told((0.2, 1), (1.3, 4), 5.0, (1.3, 2)).stretches[1]
    assert full.drawn_mm3 == pytest.approx(full.missing_mm3)


@pytest.mark.parametrize(
    ("seconds", "says"),
    [(0.5, ", which cannot show; the melt zone holds 39 mm³, and at most 1.7 mm³"),
     (4, "that may show; worst at line 7"), (11, "that will show; worst at line 7")],
)  # fmt: skip
def test_the_verdict_says_whether_it_shows(seconds, says):
    found = told((0.2, 1), (1.3, seconds), (0.2, 1))
    assert says in found.verdict
    unknown = told((0.2, 1), (1.3, seconds), (0.2, 1), on=RIG)
    assert (unknown.stretches[0].shows, unknown.melt_zone_mm3) == (None, None)


@pytest.mark.parametrize(("pause", "stretches"), [(0.14, 1), (0.16, 2)])
def test_a_dwell_of_three_lags_ends_a_stretch(pause, stretches):
    assert len(told((1.3, 2), pause, (1.3, 2), on=RIG).stretches) == stretches
