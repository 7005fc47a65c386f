"""Replayed times between the replays: interpolation against replays at other ceilings."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.special import ndtri

from beadworth import capacity
from beadworth.capacity import Ceiling
from beadworth.core.errors import FitError
from beadworth.rig import AxisLimits, Extruder, Motion, Rig
from beadworth.trial import Reading
from beadworth.worth.times import times_on

SECTION = np.pi / 4 * 1.75**2
RIG = Rig(
    name="R",
    extruder=Extruder(max_feed_mm_s=80.0, max_acceleration_mm_s2=5000.0),
    motion=Motion(
        max_speed_mm_s=AxisLimits(x=400.0, y=400.0, z=20.0),
        max_acceleration_mm_s2=AxisLimits(x=5000.0, y=5000.0, z=500.0),
        print_acceleration_mm_s2=5000.0,
        corner_deviation_mm=0.05,
    ),
)


@pytest.fixture(scope="module")
def fit():
    rng = np.random.default_rng(5)
    return capacity.fit(
        [
            Reading("R", "PLA", t, q, 600.0, 1.79 * min(1.0, c / q) * (1 + 0.002 * rng.normal()))
            for t, c in ((200.0, 10.0), (220.0, 14.0))
            for q in np.arange(4.0, 22.0, 1.5)
            for _ in range(3)
        ]
    )


def beads(flows, length_mm, celsius=220):
    section = (0.45 - 0.2) * 0.2 + np.pi / 4 * 0.2**2
    lines = ["G21", "G90", "M83", f"M104 S{celsius}", "G1 X20 Y20 Z0.2 F6000"]
    for n, flow in enumerate(flows):
        x = 20.0 + length_mm * ((n + 1) % 2)
        e = length_mm * section / SECTION
        lines.append(f"G1 X{x:.3f} E{e:.5f} F{flow / section * 60:.1f}")
    return ("\n".join(lines) + "\n").encode()


def with_ceiling(fit, ceiling: Ceiling):
    others = [c for c in fit.ceilings if c.temperature_c != ceiling.temperature_c]
    return replace(fit, ceilings=(*others, ceiling))


def widened(fit, share):
    """The ceiling at 220 °C with an interval of ± ``share``."""
    (c,) = [c for c in fit.ceilings if c.temperature_c == 220.0]
    flow = c.flow_mm3_s
    return with_ceiling(fit, replace(c, low=flow * (1 - share), high=flow * (1 + share)))


@pytest.mark.parametrize("feeds", ["as written", "raised"])
@pytest.mark.parametrize(("share", "of_swing"), [(0.03, 0.01), (0.1, 0.02), (0.25, 0.05)])
def test_times_between_the_replays_follow_replays_at_those_ceilings(fit, feeds, share, of_swing):
    # mixed flows and lengths: some beads under the ceiling, some over, some held by acceleration
    rng = np.random.default_rng(2)
    text = b"".join(beads(rng.uniform(6, 24, 40), length) for length in (3.0, 40.0, 160.0))
    wide = widened(fit, share)
    found = times_on(text, RIG, wide, feeds)
    (middle,) = [c for c in wide.ceilings if c.temperature_c == 220.0]
    reach = ndtri(0.975)
    for z in (-1.8, -1.0, -0.4, 0.4, 1.0, 1.8):
        end = middle.low if z < 0 else middle.high
        flow = middle.flow_mm3_s * (end / middle.flow_mm3_s) ** (abs(z) / reach)
        there = times_on(text, RIG, with_ceiling(wide, replace(middle, flow_mm3_s=flow)), feeds)
        swing = found.low_s - found.high_s
        assert found.at(np.array([z]))[0] == pytest.approx(there.time_s, abs=of_swing * swing)
    assert found.low_s > found.time_s > found.high_s
    assert found.at(np.array([0.0]))[0] == pytest.approx(found.time_s)
    assert found.at(np.array([-reach, reach])) == pytest.approx([found.low_s, found.high_s])


def test_time_never_drops_below_the_feeds_of_the_file(fit):
    found = times_on(beads([15.0] * 20, 100.0), RIG, widened(fit, 0.2), "as written")
    fast = found.at(np.array([8.0]))[0]
    assert fast == pytest.approx(found.floor_s)
    assert found.floor_s > 0


def test_a_print_that_motion_holds_back_does_not_hang_on_the_ceiling(fit):
    found = times_on(beads([5.0] * 50, 1.0), RIG, widened(fit, 0.2), "as written")
    assert found.at(np.array([-2.0, 0.0, 2.0])) == pytest.approx([found.time_s] * 3)


def test_an_at_least_runs_from_the_known_side_to_no_ceiling_at_all(fit):
    (c,) = [c for c in fit.ceilings if c.temperature_c == 220.0]
    open_end = replace(c, flow_mm3_s=None, low=12.0, high=None, bound="at-least")
    text = beads([18.0] * 20, 100.0)
    found = times_on(text, RIG, with_ceiling(fit, open_end), "as written")
    free = times_on(text, RIG, None, "as written")
    assert found.bound == "at-least"
    assert found.high_s == pytest.approx(free.time_s)
    assert found.at(np.array([-8.0]))[0] == pytest.approx(found.time_s)
    assert "at least 12.0" in " ".join(found.notes)


def test_an_at_most_is_refused_with_what_to_weigh(fit):
    (c,) = [c for c in fit.ceilings if c.temperature_c == 220.0]
    open_end = replace(c, flow_mm3_s=None, low=None, high=9.0, bound="at-most")
    with pytest.raises(FitError, match=r"at most 9\.0 mm³/s") as caught:
        times_on(beads([8.0], 100.0), RIG, with_ceiling(fit, open_end), "as written")
    assert "Weigh coupons at 220 °C" in caught.value.problems[0].remedy


def test_without_a_capacity_only_motion_counts():
    found = times_on(beads([18.0] * 5, 100.0), RIG, None, "as written")
    assert found.bound == "none"
    assert found.at(np.array([-2.0, 2.0])) == pytest.approx([found.time_s] * 2)
    assert any("only its motion limits count" in note for note in found.notes)


def test_the_volume_printed_is_the_filament_fed_times_its_section(fit):
    """By hand: 20 beads of 30 mm, 0.45 × 0.2 mm with round sides."""
    made = times_on(beads([8.0] * 20, 30.0), RIG, fit, "as written")
    section = (0.45 - 0.2) * 0.2 + np.pi / 4 * 0.2**2
    assert made.volume_cm3 == pytest.approx(20 * 30.0 * section * 1e-3, rel=1e-4)
