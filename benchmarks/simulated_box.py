"""A box of one bead printed at two speeds: its program, and photos of walls with a known cause."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from simulated_walls import LAYER_MM, Machine, Side, Truth, offsets_mm, photo

from beadworth.cause import PrintedSide


def box_program(layers: int = 40) -> str:
    """A box of one bead, 110 by 20 mm; the lower half at 50 mm/s, the upper at 83."""
    corners = [(50, 50), (160, 50), (160, 70), (50, 70)]
    per_mm = ((0.5 - LAYER_MM) * LAYER_MM + math.pi * LAYER_MM**2 / 4) / (math.pi / 4 * 1.75**2)
    lines = ["G21", "G90", "M83", "G28", "G0 X50 Y50 Z0.3 F6000"]
    for n in range(2 * layers):
        lines.append(f"G0 Z{LAYER_MM * (n + 1):.2f} F600")
        for (ax, ay), (bx, by) in zip(corners, corners[1:] + corners[:1], strict=True):
            e = per_mm * math.dist((ax, ay), (bx, by))
            lines.append(f"G1 X{bx} Y{by} E{e:.5f} F{(50 if n < layers else 83) * 60}")
    return "\n".join(lines) + "\n"


def photographs(
    sides: Sequence[PrintedSide], machine: Machine, truth: Truth, seed: int,
    photo_px: tuple[int, int] = (2400, 480),
) -> list[tuple[bytes, np.ndarray]]:  # fmt: skip
    """Of each wall: a JPEG, and where its corners lie in it, in pixels."""
    rng = np.random.default_rng(seed)
    phases = rng.uniform(0, 2 * math.pi, 3)
    photos = []
    for printed in sides:
        w = printed.wall
        loop_mm = w.loop_filament_mm / w.filament_per_mm
        side = Side(w.length_mm, printed.layers, w.speed_mm_s, w.acceleration_mm_s2, w.corner_mm_s,
                    loop_mm, w.filament_per_mm, w.layer_s)  # fmt: skip
        offsets = offsets_mm(side, machine, truth, phases, rng)
        photos.append(photo(side, offsets, rng, photo_px))
    return photos
