"""A short flow ramp and what a plain balance reads under it: a knee, noise, nothing else."""

import numpy as np

from beadworth.ramp import RampSpec, Trace, sections_of

MG_MM3 = 1.24


def short_ramp(rig="rig", material="PLA", **changes):
    """One temperature, one cycle of four minutes."""
    return RampSpec(
        rig=rig, material=material, temperatures_c=(215.0,), lowest_mm3_s=(8.0,),
        highest_mm3_s=(14.0,), leg_s=120.0, cycles=1,
    ).model_copy(update=changes)  # fmt: skip


def typed_ramp(rig, material):
    """The same ramp as it is typed on the page."""
    return {
        "rig": rig, "material": material, "temperatures_c": "215", "lowest_mm3_s": "8",
        "highest_mm3_s": "14", "cycles": "1", "cup_height_mm": "80", "cup_capacity_ml": "600",
        "leg_s": "120",
    }  # fmt: skip


def short_trace(spec, ceiling=11.0, seed=1, rate_hz=2.0, noise_g=2e-3):
    """What is read: delivery stops at a ceiling, mass lands at once, white noise on top."""
    edges, fed, at, total = [0.0], [0.0], 0.0, 0.0
    for section in sections_of(spec):
        at += 120.0
        edges.append(at)
        fed.append(total)
        for step in section.steps:
            total += min(step.flow_mm3_s, 0.98 * ceiling) * step.seconds
            edges.append(at + step.end_s)
            fed.append(total)
        at += section.seconds
    time = np.arange(0.0, at + 60.0, 1 / rate_hz)
    mass = 50.0 + 1e-3 * MG_MM3 * np.interp(time, edges, fed)
    return Trace(time, mass + noise_g * np.random.default_rng(seed).standard_normal(time.size))
