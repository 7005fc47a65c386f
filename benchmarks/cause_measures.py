"""Periods and ringing: how far off, and how often their intervals hold the truth.

    python benchmarks/cause_measures.py --series 1000 --walls 200

Series: one wave of 8 to 40 cycles in 600 values at 20 dB (mean square of the wave over that of the
noise), white, or red with a correlation length of 2 to 30 values. Walls: matrices as a perfect
photo would give them (slopes of ``simulated_walls.py``, no camera), with ringing of 8 to 35 µm, the
corner known to 0.13 mm.
"""

from __future__ import annotations

import argparse

import numpy as np
from cause_walls import rig_told, share, wall_told
from machine import machine
from scipy.signal import lfilter
from simulated_walls import (
    STEP_MM,
    Truth,
    perfect_light,
    random_amplitude_mm,
    random_machine,
    random_sides,
)

from beadworth.cause import (
    Matrix,
    level,
    rank,
    read_wall,
    ringing_intervals,
    series_period,
    sources_of,
)
from beadworth.core import FitError


def series(seed: int, red: bool) -> tuple[float, bool]:
    """Relative error of a period, and whether its interval holds it."""
    rng = np.random.default_rng([77, seed, red])
    n, step = 600, 0.2
    x = np.arange(n) * step
    period = n * step / rng.uniform(8, 40)
    noise = rng.standard_normal(n)
    if red:
        a = np.exp(-1 / rng.uniform(2, 30))
        noise[1:] *= np.sqrt(1 - a * a)
        noise = lfilter([1.0], [1.0, -a], noise)
    wave = np.sqrt(2) * np.cos(2 * np.pi * x / period + rng.uniform(0, 2 * np.pi))
    found = series_period(wave + 0.1 * noise, step)
    return found.value / period - 1, found.low <= period <= found.high


def shows_nothing(seed: int) -> bool:
    """Whether a series of white noise alone is refused."""
    noise = np.random.default_rng([79, seed]).standard_normal(600)
    try:
        series_period(noise, 0.2)
    except FitError:
        return True
    return False


def ringing(seed: int) -> tuple[float, float, bool, bool]:
    """Relative errors of frequency and damping, and whether their intervals hold them."""
    rng = np.random.default_rng([78, seed])
    machine_, sides = random_machine(rng), random_sides(rng)
    truth = Truth("ringing", random_amplitude_mm(rng, "ringing"), 0.0)
    phases, gains = rng.uniform(0, 2 * np.pi, 3), rng.uniform(0.5, 2, 2)
    readings = []
    for side in sides:
        light = perfect_light(side, machine_, truth, phases, gains, rng)
        start = 1.0 + 0.13 * rng.standard_normal()
        readings.append(read_wall(Matrix(level(light)[:, 10:-10], STEP_MM, start), wall_told(side)))
    sources = sources_of(rig_told(machine_, rng), [r.wall for r in readings])
    hertz, damping = ringing_intervals(rank(readings, sources).ringing_estimate)
    return (
        hertz.value / machine_.resonance_hz - 1, damping.value / machine_.damping - 1,
        hertz.low <= machine_.resonance_hz <= hertz.high,
        damping.low <= machine_.damping <= damping.high,
    )  # fmt: skip


def main() -> None:
    """Print the tables."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--series", type=int, default=1000)
    parser.add_argument("--walls", type=int, default=200)
    given = parser.parse_args()
    print(machine("numpy", "scipy"))
    print("\n| period, 20 dB | error, rms | within 0.1 % | interval holds it |")
    print("| --- | --: | --: | --: |")
    for name, red in (("white noise", False), ("red noise", True)):
        out = [series(seed, red) for seed in range(given.series)]
        errors = np.array([e for e, _ in out])
        near, held = share(list(np.abs(errors) < 1e-3)), share([h for _, h in out])
        print(f"| {name} | {100 * np.sqrt(np.mean(errors**2)):.3f} % | {near} | {held} |")
    print(f"\nno wave, refused: {share([shows_nothing(seed) for seed in range(given.series)])}")
    rows = [ringing(seed) for seed in range(given.walls)]
    print("\n| ringing | error, median | interval holds it |\n| --- | --: | --: |")
    for name, i in (("frequency", 0), ("damping ratio", 1)):
        print(f"| {name} | {100 * np.median([abs(r[i]) for r in rows]):.2f} % "
              f"| {share([bool(r[i + 2]) for r in rows])} |")  # fmt: skip


if __name__ == "__main__":
    main()
