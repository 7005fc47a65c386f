"""Rigs and questions drawn at random, for the benchmark of witness prints and their tests."""

from __future__ import annotations

import math

import numpy as np

from beadworth.material import Material
from beadworth.rig import AxisLimits, BuildVolume, Extruder, HotEnd, Motion, Rig
from beadworth.witness import KINDS, WitnessSpec

MATERIAL = Material(
    name="m", density_g_cm3=1.24, min_temperature_c=190, max_temperature_c=260, bed_c=60
)


RIG = Rig(
    name="r",
    build_volume=BuildVolume(x_mm=220, y_mm=220, z_mm=200),
    hot_end=HotEnd(temperature_limit_c=260, ptfe_in_melt_zone=False, bore_mm=2, melt_zone_mm=15),
    motion=Motion(
        max_speed_mm_s=AxisLimits(x=300, y=300, z=10),
        max_acceleration_mm_s2=AxisLimits(x=3000, y=3000, z=100),
        corner_deviation_mm=0.02,
    ),
    extruder=Extruder(max_feed_mm_s=50, effective_diameter_mm=8.0),
)


def random_rig(seed: int) -> Rig:
    """A rig as they stand about: small and slow to large and fast, some of it not recorded."""
    rng = np.random.default_rng(seed)

    def maybe(value, share=0.8):
        return value if rng.random() < share else None

    a = float(np.exp(rng.uniform(math.log(400), math.log(20_000))))
    v = float(rng.uniform(80, 500))
    bed = rng.uniform(110, 400, 2)
    nozzle = float(rng.choice([0.25, 0.4, 0.4, 0.4, 0.6, 0.8]))
    step = rng.random() < 0.5
    return Rig(
        name=f"drawn {seed}",
        filament_diameter_mm=float(rng.choice([1.75, 1.75, 1.75, 2.85])),
        build_volume=BuildVolume(x_mm=bed[0], y_mm=bed[1], z_mm=float(rng.uniform(100, 400))),
        hot_end=HotEnd(
            nozzle_mm=nozzle, temperature_limit_c=280, ptfe_in_melt_zone=False,
            bore_mm=maybe(2.0), melt_zone_mm=maybe(float(rng.uniform(8, 40))),
        ),
        motion=Motion(
            max_speed_mm_s=maybe(AxisLimits(x=v, y=v * float(rng.uniform(0.8, 1)), z=12)),
            max_acceleration_mm_s2=maybe(AxisLimits(x=a, y=a * float(rng.uniform(0.6, 1)), z=200)),
            print_acceleration_mm_s2=maybe(a * float(rng.uniform(0.5, 1)), 0.6),
            corner_step_mm_s=AxisLimits(x=8, y=8, z=0.4) if step else None,
            corner_deviation_mm=None if step else 0.02,
            absolute_arc_centres=True if rng.random() < 0.1 else None,
        ),
        extruder=Extruder(
            max_feed_mm_s=maybe(float(rng.uniform(10, 80))),
            max_acceleration_mm_s2=maybe(float(rng.uniform(500, 10_000))),
            retract_mm=float(rng.uniform(0.3, 5)), retract_mm_s=30.0,
            effective_diameter_mm=maybe(float(rng.uniform(7, 13))),
        ),
    )  # fmt: skip


def random_spec(kind: str, rig: Rig, seed: int) -> WitnessSpec:
    """A question to a drawn rig."""
    rng = np.random.default_rng(seed + 10_000)
    wide = rig.hot_end.nozzle_mm / 0.4
    return WitnessSpec(
        kind=kind, temperature_c=220, seed=seed,
        ceiling_mm3_s=float(np.exp(rng.uniform(math.log(5), math.log(22)))) * wide,
        longest_mm=None if seed % 2 else float(rng.uniform(5, 30)), passes=(1, 3, 5, 8),
    )  # fmt: skip


def cases(rigs: int, first: int = 0):
    """Every kind of witness for each of some drawn rigs."""
    for seed in range(first, first + rigs):
        rig = random_rig(seed)
        for kind in KINDS:
            yield seed, rig, random_spec(kind, rig, seed)
