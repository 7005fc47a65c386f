"""Speed of the planner, against polars reading the same numbers from CSV in the same run.

python benchmarks/motion_plan.py           prints the tables of docs/explanation/motion.md
python benchmarks/motion_plan.py --draw    writes docs/img/motion-*.svg instead
"""

from __future__ import annotations

import os
import sys
import time
from pathlib import Path

os.environ.setdefault("POLARS_MAX_THREADS", "2")

import numpy as np
import polars
from machine import machine
from straight_moves import from_points

from beadworth.motion import Limits, MoveTable, Planner, flow_lag, plan

IMAGES = Path(__file__).parents[1] / "docs" / "img"
LIMITS = Limits.of(
    print_acceleration_mm_s2=2000.0, travel_acceleration_mm_s2=3000.0,
    acceleration_z_mm_s2=200.0, acceleration_e_mm_s2=3000.0, speed_x_mm_s=300.0,
    speed_y_mm_s=300.0, speed_z_mm_s=12.0, speed_e_mm_s=60.0, corner_step_e_mm_s=5.0,
    corner_deviation_mm=0.02,
)  # fmt: skip
CHUNK = 131_072


def invented_moves(n: int) -> MoveTable:
    """Walls of short segments, long infill lines, travels with retraction; seeded."""
    rng = np.random.default_rng(7)
    part = rng.choice(3, n, p=[0.72, 0.2, 0.08])
    turn = np.where(part == 0, rng.normal(0, 0.12, n), rng.choice([-1, 1], n) * np.pi / 2)
    heading = np.cumsum(turn)
    length = np.where(part == 0, rng.gamma(2.0, 0.25, n), rng.gamma(2.0, 4.0, n))
    length[rng.random(n) < 0.04] = 0.0  # filament on its own
    step = np.column_stack([length * np.cos(heading), length * np.sin(heading)])
    points = np.vstack([np.zeros(2), np.cumsum(step, axis=0)])
    filament = np.where(part == 2, 0.0, 0.033 * length)
    filament[length == 0] = np.resize([-0.8, 0.8], int((length == 0).sum()))
    feed = np.array([60.0, 100.0, 200.0])[part]
    return from_points(points, feed, filament)


def best(run, times: int) -> float:
    """Shortest of several times, s."""
    took = []
    for _ in range(times):
        begin = time.perf_counter()
        run()
        took.append(time.perf_counter() - begin)
    return min(took)


def in_chunks(table: MoveTable, repeats: int, limits: Limits) -> float:
    """Plan a table some times over as a stream of chunks; returns the total time of the print."""
    planner, total = Planner(), 0.0
    for _ in range(repeats):
        for start in range(0, len(table), CHUNK):
            for _, timing in planner.add(table.part(start, min(start + CHUNK, len(table))), limits):
                total += float(timing.time_s.sum())
    return total + sum(float(timing.time_s.sum()) for _, timing in planner.finish())


def polars_time(table: MoveTable) -> tuple[float, float]:
    """Seconds polars takes to read X Y Z E F of the moves as numbers, and MB."""
    columns = {"x": table.x, "y": table.y, "z": table.z, "e": table.filament_mm,
               "f": table.feed_mm_s * 60}  # fmt: skip
    file = Path("/tmp") / f"motion-plan-{os.getpid()}.csv"
    polars.DataFrame(columns).write_csv(file, float_precision=5)
    try:
        return best(lambda: polars.read_csv(file), 3), file.stat().st_size / 1e6
    finally:
        file.unlink()


def copy_rate() -> float:
    """Bytes read and written per second by a plain copy of 400 MB, one core."""
    source = np.random.default_rng(0).random(50_000_000)
    target = np.zeros_like(source)
    return 2 * source.nbytes / best(lambda: np.copyto(target, source), 3)


def growth_table() -> str:
    rows = [
        "| moves | whole: s | million moves/s | in chunks: s | million moves/s "
        "| polars.read_csv: s | MB/s | planner ÷ polars, time |",
        "| --: | --: | --: | --: | --: | --: | --: | --: |",
    ]
    for n in (100_000, 300_000, 1_000_000, 3_000_000):
        table = invented_moves(n)
        whole = best(lambda table=table: plan(table, LIMITS), 5)
        chunks = best(lambda table=table: in_chunks(table, 1, LIMITS), 5)
        reading, size = polars_time(table)
        rows.append(
            f"| {n:,} | {whole:.4f} | {n / whole / 1e6:.1f} | {chunks:.4f} "
            f"| {n / chunks / 1e6:.1f} | {reading:.4f} | {size / reading:.0f} "
            f"| {whole / reading:.2f} |"
        )
    for repeats in (3, 10):
        n = repeats * 3_000_000
        chunks = best(lambda repeats=repeats: in_chunks(table, repeats, LIMITS), 2)
        rows.append(f"| {n:,} | | | {chunks:.3f} | {n / chunks / 1e6:.1f} | | | |")
    return "\n".join(rows)


def rule_table() -> str:
    """What the kind of limits costs, 1 million moves."""
    table = invented_moves(1_000_000)
    n = len(table)
    steps = LIMITS.table.copy()
    steps[0, 11:14], steps[0, 15] = 8.0, np.inf
    kinds = {
        "deviation, unlimited look-ahead": LIMITS,
        "axis step, unlimited look-ahead": Limits(steps),
        "deviation, 16 moves": Limits(LIMITS.table, 16),
        "deviation, 256 moves": Limits(LIMITS.table, 256),
        "deviation, 10,000 moves": Limits(LIMITS.table, 10_000),
        "deviation, jerk 1,000,000 mm/s³": Limits(LIMITS.table, max_jerk_mm_s3=1e6),
        "deviation, jerk 100,000 mm/s³": Limits(LIMITS.table, max_jerk_mm_s3=1e5),
        "deviation, jerk 100,000 mm/s³, 16 moves": Limits(LIMITS.table, 16, max_jerk_mm_s3=1e5),
    }
    rows = ["| what | million moves/s | time of the print, s |", "| --- | --: | --: |"]
    for name, limits in kinds.items():
        took = best(lambda limits=limits: plan(table, limits), 5)
        total = plan(table, limits).time_s.sum()
        rows.append(f"| {name} | {n / took / 1e6:.1f} | {total:.1f} |")
    timing = plan(table, LIMITS)
    for level in (np.inf, 8.0):
        took = best(
            lambda level=level: flow_lag(
                table, timing, section_mm2=2.405, lag_s=0.05, threshold_mm3_s=level
            ),
            5,
        )
        name = f"flow lag, time above {level:g} mm³/s" if np.isfinite(level) else "flow lag"
        rows.append(f"| {name} | {n / took / 1e6:.1f} | |")
    rate = copy_rate()
    read, written = 9 * 8 + 4, 5 * 8 + 2  # columns in; speed, top, peak, acceleration, time, causes
    floor = rate / (read + written)
    rows.append("")
    rows.append(
        f"A move is {read} bytes in and {written} bytes out; at the {rate / 1e9:.1f} GB/s a plain "
        f"copy reaches here, memory alone would allow {floor / 1e6:.0f} million moves/s."
    )
    return "\n".join(rows)


def main() -> None:
    if "--draw" in sys.argv:
        from motion_pictures import draw

        draw(IMAGES)
        return
    plan(invented_moves(1000), LIMITS)
    few = invented_moves(1000)
    flow_lag(few, plan(few, Limits(LIMITS.table, 16)), section_mm2=2.405, lag_s=0.05)
    print(f"{machine('numba', 'numpy', 'polars')} (two threads)\n")
    print(growth_table())
    print()
    print(rule_table())


if __name__ == "__main__":
    main()
