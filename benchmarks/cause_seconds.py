"""Two causes beside one another, one alone, and one that no rig names: what is said of each.

    python benchmarks/cause_seconds.py --walls 42 --first 1000

Walls are those of ``simulated_walls.py`` as a perfect photo would give them, at two speeds, half of
them with ringing beside. A second cause counts as named where it has 0.5 or more.
"""

from __future__ import annotations

import argparse

import numpy as np
from cause_walls import rig_told, share, short, wall_told
from machine import machine
from simulated_walls import (
    CAUSES,
    STEP_MM,
    Truth,
    perfect_light,
    random_amplitude_mm,
    random_machine,
    random_sides,
)

from beadworth.cause import Matrix, cause_answer, level, read_wall, sources_of

STEADY = tuple(cause for cause in CAUSES if cause != "ringing")
SURE = 0.8


def drawn(seed: int, first: str, second: str = ""):
    """Readings of a wall with one or two causes, and the rig's sources."""
    rng = np.random.default_rng([77, seed])
    made, sides = random_machine(rng), random_sides(rng)
    sizes = [max(random_amplitude_mm(rng, one), 0.012) for one in (first, second or first)]
    ringing = 0.02 if seed % 2 == 0 else 0.0
    truth = Truth(first, sizes[0], ringing, second, sizes[1] if second else 0.0)
    phases, gains = rng.uniform(0, 2 * np.pi, 3), rng.uniform([0.5, 0.34], [1.1, 0.8])
    readings = []
    for side in sides:
        light = perfect_light(side, made, truth, phases, gains, rng)
        readings.append(read_wall(Matrix(level(light)[:, 10:-10], STEP_MM, 1.0), wall_told(side)))
    return readings, sources_of(rig_told(made, rng), [r.wall for r in readings])


def pair(seed: int) -> tuple[str, str]:
    """Two causes that differ."""
    first = STEADY[seed % len(STEADY)]
    step = 1 + seed // len(STEADY) % (len(STEADY) - 1)
    return first, STEADY[(seed + step) % len(STEADY)]


def named(readings, sources) -> tuple[str, float, str]:
    """First cause, its probability, and the second that is named; empty: none."""
    answer = cause_answer(readings, sources)
    first = answer.causes[0]
    return short(first.name), first.probability, short(answer.second.name) if answer.second else ""


def main() -> None:
    """Print what is said."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--walls", type=int, default=42)
    parser.add_argument("--first", type=int, default=1000)
    given = parser.parse_args()
    print(machine("numpy", "scipy"))
    both, one_of, wrong, quiet, none, sure = [], [], [], [], [], []
    for seed in range(given.first, given.first + given.walls):
        truth = set(pair(seed))
        first, _, second = named(*drawn(seed, *pair(seed)))
        both.append({first, second} == truth)
        one_of.append(first in truth)
        wrong.append(bool(second) and second not in truth)
        first, _, second = named(*drawn(seed, pair(seed)[0]))
        quiet.append(not second)
        first, p, _ = named(*drawn(seed, "unlisted"))
        none.append(first == "none of these")
        sure.append(first != "none of these" and p >= SURE)
    print(f"two there: both named {share(both)}, one of them first {share(one_of)}, "
          f"a wrong second named {share(wrong)}")  # fmt: skip
    print(f"one there: no second named {share(quiet)}")
    print(f"a cause that the rig does not name: 'none of these' first {share(none)}, "
          f"another called most likely {share(sure)}")  # fmt: skip


if __name__ == "__main__":
    main()
