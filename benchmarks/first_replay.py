"""The first replay of an install, and those that follow: how long a person waits at the prompt.

    .venv/bin/python benchmarks/first_replay.py

Runs ``beadworth print replay`` in processes of its own: with an empty cache of compiled
kernels (several times, each with a folder of its own), then warm on a file of about 200 kB of
our own making. Prints a Markdown table with the waits and the load of the machine. A general
reference in the same run: how long numba takes, without us, to import and to compile and run
one function of ten lines.
"""

from __future__ import annotations

import os
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from machine import machine

REFERENCE = """
import numba, numpy as np

@numba.njit
def mean_of_positive(x):
    total, count = 0.0, 0
    for k in range(x.size):
        if x[k] > 0.0:
            total += x[k]
            count += 1
    return total / max(count, 1)

mean_of_positive(np.arange(9.0))
"""
PROGRAM = [sys.executable, "-m", "beadworth", "print", "replay"]


def small_print(path: Path) -> None:
    """A file of about 200 kB: rings and lines in fifty layers."""
    lines = ["G21", "G90", "M83", "M104 S215", "G28", "G1 X40 Y40 Z0.2 F6000"]
    layer = 0
    while sum(map(len, lines)) < 195_000:
        layer += 1
        lines.append(f"G1 Z{0.2 * layer:.3f} F600")
        for k in range(60):
            x = 40 + 60 * (k % 2)
            lines.append(f"G1 X{x:.3f} Y{40 + k:.3f} E{2.0 + 0.001 * k:.5f} F{3000 + 10 * k}")
    path.write_text("\n".join(lines) + "\n")


def seconds(command: list[str], cache: Path) -> float:
    """Wall time of a command."""
    begin = time.perf_counter()
    subprocess.run(
        command, env=os.environ | {"NUMBA_CACHE_DIR": str(cache)}, check=True, capture_output=True
    )
    return time.perf_counter() - begin


def main() -> None:
    """Measure and print."""
    with tempfile.TemporaryDirectory() as folder:
        place = Path(folder)
        file = place / "small.gcode"
        small_print(file)
        replay = [*PROGRAM, str(file), "--json"]
        on = machine("numba")
        first = [seconds(replay, place / f"cold{n}") for n in range(3)]
        warm = [seconds(replay, place / "cold0") for n in range(9)]
        numba = [seconds([sys.executable, "-c", REFERENCE], place / "other") for _ in range(3)]
        print(f"{on}; {file.stat().st_size:,} bytes\n")
        print("| what | best, s | median, s | worst, s |")
        print("| --- | --: | --: | --: |")
        for name, times in (
            ("first replay of an install, compile included", first),
            ("replay of the same file, warm", warm),
            ("numba alone: import, compile ten lines, run", numba),
        ):
            best, middle, worst = min(times), statistics.median(times), max(times)
            print(f"| {name} | {best:.2f} | {middle:.2f} | {worst:.2f} |")


if __name__ == "__main__":
    main()
