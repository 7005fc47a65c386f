"""Bring-up in figures: do the stated intervals hold the truth as often as they say?

python benchmarks/bring_up.py           prints the tables of docs/explanation/bring-up.md

Plants, readings and noise are invented and drawn from a seed; nothing here was measured.
"""

from __future__ import annotations

import math
import statistics
import time

import numpy as np
from machine import machine

from beadworth.bringup import (
    HeaterLog,
    feed_agreement,
    feed_by_marks,
    feed_by_mass,
    identify,
    move_correction,
    squareness,
)
from beadworth.bringup.heater_model import simulate
from beadworth.core.quantity import filament_mass_g

PLANTS, REPEATS = 400, 2000
LENGTHS = (30.0, 75.0, 120.0, 160.0, 200.0)


def heaters() -> str:
    """Identified plants: share of 95 % intervals that hold the truth, and time taken."""
    rng = np.random.default_rng(21)
    clock = np.arange(0.0, 900.0)
    names = ("gain_k", "time_constant_s", "dead_time_s", "rate_k_s")
    inside, widths, spent = dict.fromkeys(names, 0), {n: [] for n in names}, []
    for _ in range(PLANTS):
        gain, tau, theta = rng.uniform(300, 700), rng.uniform(80, 400), rng.uniform(0.5, 10)
        duty = np.where(clock < 30, 0.0, np.where(clock < 30 + rng.uniform(60, 150), 1.0,
                        np.where(clock < 600, 0.4, 0.0)))  # fmt: skip
        clean = simulate(
            clock, duty, gain_k=gain, time_constant_s=tau, dead_time_s=theta, room_c=22.0
        )
        log = HeaterLog(clock, clean + rng.normal(0, rng.uniform(0.1, 1.0), clock.size), duty)
        start = time.perf_counter()
        found = identify(log)
        spent.append(time.perf_counter() - start)
        truth = (gain, tau, theta, gain / tau)
        for name, value in zip(names, truth, strict=True):
            u = getattr(found, f"u_{name}")
            inside[name] += abs(getattr(found, name) - value) <= 1.96 * u
            widths[name].append(u / value)
    matrix, svd = rng.random((300, 300)), []
    for _ in range(9):
        start = time.perf_counter()
        np.linalg.svd(matrix)
        svd.append(time.perf_counter() - start)
    rows = [
        f"| {name} | {inside[name] / PLANTS:.1%} | {statistics.median(widths[name]):.2%} |"
        for name in names
    ]
    doubt = 1.96 * math.sqrt(0.95 * 0.05 / PLANTS)
    return "\n".join(
        [
            f"{PLANTS} plants, log of 15 min at 1 Hz with noise of 0.1 to 1 K; 95 % ± {doubt:.1%} "
            "is what such a count scatters by.",
            "",
            "| value | intervals that hold it | median standard uncertainty |",
            "| --- | --- | --- |",
            *rows,
            "",
            f"One identification: {statistics.median(spent) * 1e3:.0f} ms, "
            f"{statistics.median(spent) / statistics.median(svd):.1f} times one numpy SVD of "
            f"300 × 300 ({machine('numpy')}).",
        ]
    )


def alarms() -> str:
    """How often something is advised although nothing is wrong, or missed although it is."""
    rng = np.random.default_rng(22)
    rows = []
    for error in (0.0, 0.002, 0.005, 0.01):
        moves = zeros = feeds = squares = 0
        for _ in range(REPEATS):
            # five readings of the ruler, from each the same reading of its zero taken off
            read = (1 + error) * np.array(LENGTHS) + rng.normal(0, 0.15, 5) - rng.normal(0, 0.15)
            found = move_correction(
                "x", LENGTHS, read.tolist(), steps_per_mm=80.0, reading_u_mm=0.15
            )
            moves += found.scale_significant
            zeros += found.zero_significant
            fed = 100.0 * (1 + error) + rng.normal(0, 0.3, 3)
            marks = feed_by_marks([100.0] * 3, fed.tolist(), reading_u_mm=0.3)
            diameter, density = 1.75 + rng.normal(0, 0.02), 1.24 + rng.normal(0, 0.01)
            grams = filament_mass_g(100.0 * (1 + error), diameter, density) + rng.normal(0, 0.005)
            mass = feed_by_mass(
                [100.0], [grams], diameter_mm=1.75, density_g_cm3=1.24,
                mass_u_g=0.005, diameter_u_mm=0.02, density_u_g_cm3=0.01,
            )  # fmt: skip
            feeds += feed_agreement(marks, mass, steps_per_mm=400.0).significant
            lean = 176.0 * error
            up, down = math.hypot(176 + lean, 176), math.hypot(176 - lean, 176)
            up, down = up + rng.normal(0, 0.3), down + rng.normal(0, 0.3)
            squares += squareness(176.0, 176.0, up, down, 0.3).significant
        rows.append(f"| {error:.1%} | {moves / REPEATS:.1%} | {zeros / REPEATS:.1%} "
                    f"| {feeds / REPEATS:.1%} | {squares / REPEATS:.1%} |")  # fmt: skip
    return "\n".join(
        [
            f"Share of {REPEATS} bring-ups in which a change is advised:",
            "",
            "| true error of scale | moves (5 lengths, u 0.15 mm) | zero of the same "
            "| feed (3 marks, u 0.3 mm, and a mass) | square (176 mm, u 0.3 mm) |",
            "| --- | --- | --- | --- | --- |",
            *rows,
        ]
    )


if __name__ == "__main__":
    print(heaters(), alarms(), sep="\n\n")
