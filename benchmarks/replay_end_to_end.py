"""End-to-end replay against reading the same numbers with polars, in the same run.

Writes a print of N moves (about 28 bytes each) and the same X, Y, Z, E, F as CSV to a temporary
folder, then times: polars.read_csv; the scanner alone; the whole replay with flow and stretches.
Prints a Markdown table with the ratio to polars, the growth from 0.1 M moves up, and the peak
memory of a process that only replays.

Usage: python benchmarks/replay_end_to_end.py [LARGEST_MOVES]
"""

from __future__ import annotations

import os
import platform
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import polars

from beadworth.demo import STOCK
from beadworth.gcode import read
from beadworth.replay import replay

BLOCK = 100_000


def write(folder: Path, moves: int) -> tuple[Path, Path]:
    """A spiral of short beads with layers, as G-code and as CSV."""
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
            f = rng.integers(1200, 6000, k.size)
            rows = zip(k, x, y, z, e, f, strict=True)
            lines, cells = [], []
            for n, a, b, h, d, s in rows:
                up = f" Z{h:.2f}" if n % 15000 == 0 else ""
                lines.append(f"G1 X{a:.3f} Y{b:.3f}{up} E{d:.4f} F{s}\n")
                cells.append(f"{a:.3f},{b:.3f},{h:.2f},{d:.4f},{s}\n")
            g.write("".join(lines))
            c.write("".join(cells))
    return gcode, table


def best(call: Callable[[], object], rounds: int) -> float:
    """Shortest of a few rounds, s."""
    times = []
    for _ in range(rounds):
        start = time.perf_counter()
        call()
        times.append(time.perf_counter() - start)
    return min(times)


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


def main() -> None:
    """Write, measure, print."""
    largest = int(sys.argv[1]) if len(sys.argv) > 1 else 3_000_000
    sizes = [n for n in (100_000, 300_000, 1_000_000, 3_000_000, 10_000_000, 30_000_000)
             if n <= largest]  # fmt: skip
    print(
        f"Python {platform.python_version()}, polars {polars.__version__}, {os.cpu_count()} cores, "
        f"load {os.getloadavg()[0]:.1f} at the start; best of 3.\n"
    )
    print(
        "| moves | MB | polars.read_csv s | scanner s | scanner MB/s | replay s | replay ÷ polars "
        "| peak MiB |"
    )
    print("| --: | --: | --: | --: | --: | --: | --: | --: |")
    with tempfile.TemporaryDirectory() as name:
        small, _ = write(Path(name), 1000)
        replay(small, STOCK)  # compiled by now
        for moves in sizes:
            gcode, table = write(Path(name), moves)
            megabytes = gcode.stat().st_size / 1e6
            reading = best(lambda table=table: polars.read_csv(table), 3)
            scanning = best(lambda gcode=gcode: sum(map(len, read(gcode))), 3)
            replaying = best(lambda gcode=gcode: replay(gcode, STOCK), 3)
            print(
                f"| {moves} | {megabytes:.0f} | {reading:.3f} | {scanning:.3f} "
                f"| {megabytes / scanning:.0f} | {replaying:.3f} | {replaying / reading:.2f} "
                f"| {peak_mib(gcode):.0f} |",
                flush=True,
            )
            gcode.unlink()
            table.unlink()


if __name__ == "__main__":
    main()
