"""Small print files of our own making, and a capacity to hold them against."""

from __future__ import annotations

import math
import random

SECTION_MM2 = math.pi / 4 * 1.75**2
WIDTH, LAYER = 0.45, 0.2
BEAD_MM2 = (WIDTH - LAYER) * LAYER + math.pi / 4 * LAYER**2


def plate(layers=5, size=60.0, usual=9.0, fast=26.0, fast_layers=(2,), celsius=220):
    """A square plate: two walls, a ring as one arc, beads there and back; some layers too fast."""
    out = ["; a plate of our own", "G21", "G90", "M83", f"M104 S{celsius}", "G28",
           "G1 X10 Y10 Z0.2 F6000"]  # fmt: skip

    def bead(x, y, x0, y0, flow):
        e = math.hypot(x - x0, y - y0) * BEAD_MM2 / SECTION_MM2
        return f"G1 X{x:.3f} Y{y:.3f} E{e:.5f} F{flow / BEAD_MM2 * 60:.0f}"

    low, high = 40.0, 40.0 + size
    middle = (low + high) / 2
    for n in range(layers):
        out.append(f"G1 Z{LAYER * (n + 1):.2f} F600")
        for inset, flow in ((0.0, 5.0), (0.45, 7.0)):
            a, b = low + inset, high - inset
            out.append(f"G0 X{a:.3f} Y{a:.3f} F9000")
            before = (a, a)
            for corner in ((b, a), (b, b), (a, b), (a, a)):
                out.append(bead(*corner, *before, flow))
                before = corner
        e = 2 * math.pi * 8 * BEAD_MM2 / SECTION_MM2
        out.append(f"G0 X{middle + 8:.3f} Y{middle:.3f} F9000")
        out.append(f"G2 X{middle + 8:.3f} Y{middle:.3f} I-8 J0 E{e:.5f} F{8 / BEAD_MM2 * 60:.0f}")
        there, y = True, low + 1
        while y < high - 1:
            if abs(y - middle) > 9:
                a, b = (low + 1, high - 1) if there else (high - 1, low + 1)
                out.append(f"G0 X{a} Y{y:.3f} F9000")
                out.append(bead(b, y, a, y, fast if n in fast_layers else usual))
                there = not there
            y += 0.9
    return "\n".join(out) + "\n"


def readings_csv(rig, material, ceilings):
    """A table of readings of a hot end that gives up at a flow: invented, with a little scatter."""
    dice = random.Random(5)
    rows = ["rig,material,temperature_c,flow_mm3_s,filament_mm,mass_g,reference"]
    for celsius, ceiling in ceilings:
        for flow in (4, 4, 8, 8, 11, 11, 14, 14, 17, 17, 20, 20, 24, 24):
            full = 600 * SECTION_MM2 / 1000 * 1.24
            mass = full * min(1.0, ceiling / flow) * (1 + 0.002 * dice.gauss(0, 1))
            rows.append(f'"{rig}","{material}",{celsius},{flow},600,{mass:.4f},{int(flow == 4)}')
    return "\n".join(rows) + "\n"
