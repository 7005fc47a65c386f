"""End-to-end replay against reading the same numbers with polars, in the same run.

Writes a print of N moves and the same X, Y, Z, E, F, digit for digit, as CSV to a temporary
folder, then times: polars.read_csv; the scanner alone; the whole replay against a capacity, with
flow and stretches. Each is given as elapsed time and as processor time over all threads, which
other work on the machine changes less. Prints Markdown tables with the ratio to polars, the
growth from 0.1 M moves up, and the peak memory of a process that only replays. F stands on every
tenth move (28 bytes a move, 85 MB for 3 million); a second table has it on every move.

Usage: python benchmarks/replay_end_to_end.py [LARGEST_MOVES]
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import polars
from machine import machine

from beadworth import capacity
from beadworth.capacity import Fit, ceiling_at
from beadworth.demo import STOCK
from beadworth.gcode import read
from beadworth.replay import replay
from beadworth.trial import Reading

BLOCK = 100_000
ROUNDS = 15


def capacity_of_stock() -> Fit:
    """A fit with a ceiling of about 12 mm³/s, from readings invented for this."""
    rng = np.random.default_rng(5)
    rows = [
        Reading(STOCK.name, "PLA", 220.0, q, 600.0,
                1.79 * min(1.0, 12.0 / q) * (1 + 0.002 * rng.normal()))
        for q in np.arange(4.0, 22.0, 1.5)
        for _ in range(3)
    ]  # fmt: skip
    return capacity.fit(rows)


def write(folder: Path, moves: int, feed_every: int) -> tuple[Path, Path]:
    """A spiral of short beads with layers, as G-code and as CSV; F where it changes."""
    gcode, table = folder / f"{moves}.gcode", folder / f"{moves}.csv"
    rng = np.random.default_rng(1)
    with gcode.open("w") as g, table.open("w") as c:
        g.write("G21\nG90\nM83\nM104 S220\n")
        c.write("X,Y,Z,E,F\n")
        for start in range(0, moves, BLOCK):
            k = np.arange(start, min(start + BLOCK, moves))
            x = 110 + 60 * np.cos(k * 0.02) + rng.normal(0, 0.1, k.size)
            y = 110 + 60 * np.sin(k * 0.02) + rng.normal(0, 0.1, k.size)
            z = 0.2 + k // 15000 % 1000 * 0.2
            e = rng.uniform(0.01, 0.08, k.size)
            f = np.repeat(rng.integers(1200, 6000, -(-k.size // feed_every)), feed_every)[: k.size]
            rows = zip(k, x, y, z, e, f, strict=True)
            lines, cells = [], []
            for n, a, b, h, d, s in rows:
                up = f" Z{h:.2f}" if n % 15000 == 0 else ""
                feed = f" F{s}" if n % feed_every == 0 else ""
                lines.append(f"G1 X{a:.3f} Y{b:.3f}{up} E{d:.4f}{feed}\n")
                cells.append(f"{a:.3f},{b:.3f},{h:.2f},{d:.4f},{s}\n")
            g.write("".join(lines))
            c.write("".join(cells))
    return gcode, table


def best(*calls: Callable[[], object]) -> list[tuple[float, float]]:
    """Shortest elapsed and least processor time of each in a few rounds, s.

    They take turns, so that other work on the machine meets all of them alike.
    """
    times: list[list[float]] = [[] for _ in calls]
    processor: list[list[float]] = [[] for _ in calls]
    for _ in range(ROUNDS):
        for call, elapsed, spent in zip(calls, times, processor, strict=True):
            start, used = time.perf_counter(), time.process_time()
            call()
            elapsed.append(time.perf_counter() - start)
            spent.append(time.process_time() - used)
    return [(min(a), min(b)) for a, b in zip(times, processor, strict=True)]


def peak_mib(gcode: Path) -> float:
    """Peak memory of a process that does nothing but replay one file, MiB (VmHWM of Linux)."""
    code = (
        "import sys; from beadworth.demo import STOCK; from beadworth.replay import replay\n"
        "replay(sys.argv[1], STOCK)\n"
        "print(next(x for x in open('/proc/self/status') if x.startswith('VmHWM')).split()[1])"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, str(gcode)], capture_output=True, text=True, check=True
    )
    return int(done.stdout) / 1024


def stage_table(moves: int, fit: Fit) -> None:
    """Where the processor time goes: the thread that reads, and the one that does the rest."""
    rounds = []
    with tempfile.TemporaryDirectory() as name:
        gcode, numbers = write(Path(name), moves, 10)
        for _ in range(ROUNDS):
            whole, own = time.process_time(), time.thread_time()
            replay(gcode, STOCK, fit)
            own, whole = time.thread_time() - own, time.process_time() - whole
            rounds.append((whole, whole - own, own))
        reading = best(lambda: polars.read_csv(numbers))[0][1]
    whole, scanning, rest = min(rounds)
    rows = {
        "read": scanning,
        "plan, pressure lag, lost time, account and answer": rest,
        "replay, whole": whole,
        "polars.read_csv, both threads": reading,
    }
    print("| thread | processor s | ns a move |\n| --- | --: | --: |")
    for what, seconds in rows.items():
        print(f"| {what} | {seconds:.3f} | {seconds / moves * 1e9:.0f} |")


def table(sizes: list[int], feed_every: int, fit: Fit) -> None:
    """Write, measure and print one kind of print at each size."""
    print(
        "| moves | MB | CSV MB | polars.read_csv s | processor s | scanner s | scanner MB/s "
        "| replay s | processor s | replay ÷ polars | processor ÷ polars | peak MiB |"
    )
    print("| --: " * 12 + "|")
    with tempfile.TemporaryDirectory() as name:
        for moves in sizes:
            gcode, numbers = write(Path(name), moves, feed_every)
            size = gcode.stat().st_size / 1e6
            reading, scanning, replaying = best(
                lambda numbers=numbers: polars.read_csv(numbers),
                lambda gcode=gcode: sum(map(len, read(gcode))),
                lambda gcode=gcode: replay(gcode, STOCK, fit),
            )
            print(
                f"| {moves} | {size:.0f} | {numbers.stat().st_size / 1e6:.0f} | {reading[0]:.3f} "
                f"| {reading[1]:.3f} | {scanning[0]:.3f} | {size / scanning[0]:.0f} "
                f"| {replaying[0]:.3f} | {replaying[1]:.3f} | {replaying[0] / reading[0]:.2f} "
                f"| {replaying[1] / reading[1]:.2f} | {peak_mib(gcode):.0f} |",
                flush=True,
            )
            gcode.unlink()
            numbers.unlink()


def main() -> None:
    """Both kinds of print."""
    largest = int(sys.argv[1]) if len(sys.argv) > 1 else 3_000_000
    sizes = [n for n in (100_000, 300_000, 1_000_000, 3_000_000, 10_000_000, 30_000_000)
             if n <= largest]  # fmt: skip
    fit = capacity_of_stock()
    with tempfile.TemporaryDirectory() as name:
        small, _ = write(Path(name), 100_000, 10)
        found = replay(small, STOCK, fit)  # compiled by now
    print(
        f"{machine('numba', 'polars')}; best of {ROUNDS}. Ceiling "
        f"{ceiling_at(fit, None, None, 220.0).flow_mm3_s:.1f} mm³/s; of 100000 moves "
        f"{found.over_ceiling_s:.1f} s of {found.time_s:.0f} s are over it, in "
        f"{found.bursts + found.sustained} stretches.\n"
    )
    table(sizes, 10, fit)
    print("\nF on every move:\n")
    main_size = 3_000_000 if 3_000_000 in sizes else sizes[-1]
    table([main_size], 1, fit)
    print(f"\nProcessor time by thread, {main_size} moves, F on every tenth:\n")
    stage_table(main_size, fit)


if __name__ == "__main__":
    main()
