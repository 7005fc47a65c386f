"""A rig, a capacity and small print files for the replay tests."""

from functools import cache

import numpy as np

from beadworth import capacity
from beadworth.rig import AxisLimits, BuildVolume, Extruder, HotEnd, Motion, Rig
from beadworth.trial import Reading

SECTION_MM2 = np.pi / 4 * 1.75**2
RIG = Rig(
    name="R",
    hot_end=HotEnd(temperature_limit_c=280.0),
    extruder=Extruder(max_feed_mm_s=80.0, max_acceleration_mm_s2=5000.0, pressure_lag_s=0.05),
    build_volume=BuildVolume(x_mm=250.0, y_mm=250.0, z_mm=250.0),
    motion=Motion(
        max_speed_mm_s=AxisLimits(x=400.0, y=400.0, z=20.0),
        max_acceleration_mm_s2=AxisLimits(x=5000.0, y=5000.0, z=500.0),
        print_acceleration_mm_s2=5000.0,
        corner_deviation_mm=0.05,
    ),
)


@cache
def make_fit(ceilings=((200.0, 10.0), (220.0, 14.0))):
    """A fitted hard limit at each temperature, from readings made for these tests."""
    rng = np.random.default_rng(5)
    rows = [
        Reading("R", "PLA", t, q, 600.0, 1.79 * min(1.0, c / q) * (1 + 0.002 * rng.normal()))
        for t, c in ceilings
        for q in np.arange(4.0, 22.0, 1.5)
        for _ in range(3)
    ]
    return capacity.fit(rows)


def straight(flow_mm3_s, length_mm=100.0, width=0.45, layer=0.2, celsius=220, count=1):
    """A print of straight beads there and back at one flow; text."""
    section = (width - layer) * layer + np.pi / 4 * layer**2
    feed = flow_mm3_s / section * 60
    lines = ["G21", "G90", "M83", f"M104 S{celsius}", "G1 X20 Y20 Z0.2 F6000"]
    x = 20.0
    for _ in range(count):
        x = 20.0 + length_mm if x == 20.0 else 20.0
        e = length_mm * section / SECTION_MM2
        lines.append(f"G1 X{x:.3f} E{e:.5f} F{feed:.1f}")
    return "\n".join(lines) + "\n"
