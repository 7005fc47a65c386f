"""The G-code scanner alone, against polars reading the same numbers, in the same run.

Writes a print of N moves (about 28 bytes each) and its X, Y, Z, E, F as CSV to a temporary
folder, then times polars.read_csv on all cores and the scanner on one, and prints a Markdown
table with the ratio. The same moves written in other ways show what leaves the fast path.
With ``--memory`` it also reads a file of 1 GB in a process of its own and prints its peak.

Usage: python benchmarks/gcode_scan.py [MOVES] [--memory]
"""

from __future__ import annotations

import gzip
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import polars
from machine import machine

from beadworth.gcode import read

BLOCK = 50_000
PEAK = """
import resource, sys
from beadworth.gcode import read
reader = read(sys.argv[1])
moves = sum(len(chunk) for chunk in reader)
peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
print(f"{moves} moves, {reader.bytes_read / 1e9:.2f} GB, peak {peak:.0f} MiB")
"""


def write(folder: Path, moves: int) -> tuple[Path, Path]:
    """Layers of short beads with a travel every 25 moves and a feed every ten."""
    program, table = folder / "print.gcode", folder / "print.csv"
    rng = np.random.default_rng(1)
    with program.open("w") as g, table.open("w") as c:
        g.write("G21\nG90\nM82\nG28\nM104 S210\nM109 S210\nG92 E0\nG1 F1800\n")
        c.write("X,Y,Z,E,F\n")
        for start in range(0, moves, BLOCK):
            count = min(BLOCK, moves - start)
            z = 0.2 + 0.2 * (start // BLOCK)
            points = 100 + np.cumsum(rng.normal(0, 1.5, (count, 2)), axis=0) % 60
            e = np.cumsum(rng.uniform(0.01, 0.08, count))
            feeds = rng.integers(1200, 6000, count)
            g.write(f"G1 Z{z:.3f} F7200\nG92 E0\n")
            lines, cells = [], []
            for k in range(count):
                x, y = points[k]
                feed = f" F{feeds[k]}" if k % 10 == 0 else ""
                word = "G0" if k % 25 == 24 else "G1"
                amount = "" if word == "G0" else f" E{e[k]:.5f}"
                lines.append(f"{word} X{x:.3f} Y{y:.3f}{amount}{feed}\n")
                cells.append(f"{x:.3f},{y:.3f},{z:.3f},{e[k]:.5f},{feeds[k]}\n")
            g.write("".join(lines))
            c.write("".join(cells))
    return program, table


def best(call: Callable[[], object], rounds: int = 5) -> float:
    """Shortest of a few rounds, s."""
    times = []
    for _ in range(rounds):
        start = time.perf_counter()
        call()
        times.append(time.perf_counter() - start)
    return min(times)


def scan(source: Path | bytes) -> int:
    """Read all of it and let every chunk go; the count of moves."""
    return sum(len(chunk) for chunk in read(source))


def variants(text: bytes) -> dict[str, bytes]:
    """The same moves, written in other ways."""
    few = text[: len(text) // 8]
    few = few[: few.rindex(b"\n") + 1]
    lines = few.splitlines()
    return {
        "CRLF, a comment on every line": b"".join(line + b" ; wall\r\n" for line in lines),
        "no spaces": few.replace(b" ", b""),
        "lower case": few.lower(),
        "line numbers": b"".join(b"N%d %s\n" % (k, line) for k, line in enumerate(lines)),
        "no command (modal)": few.replace(b"\nG1 ", b"\n"),
        "arcs": b"G91\n" + b"".join(b"G3 X10.000 I5.000 E%d.5\n" % (k % 9) for k in range(200_000)),
    }


def main() -> None:
    """Write, measure, print."""
    counts = [int(word) for word in sys.argv[1:] if word.isdigit()]
    moves = counts[0] if counts else 3_000_000
    print(f"{machine('numba', 'numpy', 'polars')}; best of 5.\n")
    with tempfile.TemporaryDirectory() as name:
        program, table = write(Path(name), moves)
        text = program.read_bytes()
        scan(b"G1 X1 F60\n")  # compiled by now
        size = len(text) / 1e6
        reading = best(lambda: polars.read_csv(table))
        cores = os.sched_getaffinity(0)
        os.sched_setaffinity(0, {min(cores)})
        scanning = best(lambda: scan(program))
        read_size = table.stat().st_size / 1e6
        print("| what | MB | s | MB/s | M moves/s | time ÷ polars |")
        print("| --- | --: | --: | --: | --: | --: |")
        print(
            f"| polars.read_csv, {len(cores)} cores, X Y Z E F | {read_size:.0f} | {reading:.3f} "
            f"| {read_size / reading:.0f} | {moves / reading / 1e6:.1f} | 1 |"
        )
        print(
            f"| scanner, one core, open file → move arrays | {size:.0f} | {scanning:.3f} "
            f"| {size / scanning:.0f} | {moves / scanning / 1e6:.1f} | {scanning / reading:.2f} |"
        )
        packed = Path(name) / "print.gcode.gz"
        packed.write_bytes(gzip.compress(text, 6))
        unpacking = best(lambda: scan(packed), 2)
        print(
            f"| the same from gz, one core | {size:.0f} | {unpacking:.3f} "
            f"| {size / unpacking:.0f} | {moves / unpacking / 1e6:.1f} "
            f"| {unpacking / reading:.2f} |\n"
        )
        print("| written otherwise (an eighth of it, from memory) | MB/s | M moves/s |")
        print("| --- | --: | --: |")
        for label, other in variants(text).items():
            took = best(lambda other=other: scan(other), 3)
            print(f"| {label} | {len(other) / took / 1e6:.0f} | {scan(other) / took / 1e6:.1f} |")
        os.sched_setaffinity(0, cores)
        if "--memory" in sys.argv:
            with program.open("ab") as file:
                while file.tell() < 1_000_000_000:
                    file.write(text)
            done = subprocess.run(
                [sys.executable, "-c", PEAK, str(program)], capture_output=True, check=True
            )
            print(f"\nA large file, in a process of its own: {done.stdout.decode().strip()}")


if __name__ == "__main__":
    main()
