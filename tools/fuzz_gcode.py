"""Fuzz the G-code reader, guided by coverage, for as long as asked.

    .venv/bin/python tools/fuzz_gcode.py 600          # ten minutes
    .venv/bin/python tools/fuzz_gcode.py 600 --keep   # and add what covered more to the corpus

Starts tests/gcode/fuzz_guided.py (it says what guides it and what is checked) on a copy of
tests/gcode/corpus. An input that fails is left in the folder named at the end: put it into
tests/gcode/data/corpus with the mend.
"""

from __future__ import annotations

import argparse
import os
import re
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

HERE = Path(__file__).resolve().parents[1] / "tests" / "gcode"
CORPUS = HERE / "corpus"
LONGEST = 600  # bytes of one input
KEPT = 400  # inputs the kept corpus may hold


def options(seconds: int, found: Path, seed: int = 0) -> list[str]:
    """Options of libFuzzer: the bounds a hostile input must not break. Seed 0: another each run."""
    return [
        f"-max_total_time={seconds}",
        f"-seed={seed}",
        "-timeout=30",  # one input, s: hang
        "-rss_limit_mb=1000",  # memory of the whole run, interpreter and compiler included
        f"-max_len={LONGEST}",
        f"-dict={HERE / 'fuzz.dict'}",
        f"-artifact_prefix={found}/",
        "-print_final_stats=1",
    ]


def run(seconds: int, corpus: Path, found: Path, seed: int = 0) -> tuple[int, str]:
    """One run; the exit code of libFuzzer and what it said."""
    # The peak memory of a process starts at that of the one that started it (a test runner of a
    # gigabyte): a shell between the two lets the run's own be seen.
    alone = ["sh", "-c", '"$@"; exit $?', "alone"] if shutil.which("sh") else []
    modest = [*alone, *(["nice", "-n", "10"] if shutil.which("nice") else [])]
    program = [sys.executable, str(HERE / "fuzz_guided.py")]
    done = subprocess.run(
        [*modest, *program, *options(seconds, found, seed), str(corpus)],
        capture_output=True,
        text=True,
        errors="replace",
        check=False,
    )
    return done.returncode, done.stdout + done.stderr


def merge(corpus: Path) -> None:
    """Keep of a grown corpus the small inputs that together cover as much."""
    with tempfile.TemporaryDirectory() as folder:
        place, launcher = Path(folder) / "merged", Path(folder) / "launch"
        place.mkdir()
        # libFuzzer starts itself again by this name
        launcher.write_text(f'#!/bin/sh\nexec {sys.executable} {HERE / "fuzz_guided.py"} "$@"\n')
        launcher.chmod(0o755)
        subprocess.run(
            [sys.executable, str(HERE / "fuzz_guided.py"), "-merge=1", f"-max_len={LONGEST}",
             str(place), str(corpus)],
            capture_output=True, check=True, env=os.environ | {"FUZZ_LAUNCHER": str(launcher)},
        )  # fmt: skip
        made = sorted(place.iterdir(), key=lambda path: path.stat().st_size)[:KEPT]
        if not made:
            raise SystemExit("nothing was merged; the corpus stays as it was")
        for old in CORPUS.iterdir():
            old.unlink()
        for path in made:
            shutil.copyfile(path, CORPUS / path.name[:12])


def main() -> None:
    """Run, and say what came of it."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("seconds", type=int, nargs="?", default=600)
    parser.add_argument("--keep", action="store_true", help="add what covered more to the corpus")
    asked = parser.parse_args()
    place = Path(tempfile.mkdtemp(prefix="fuzz-gcode-"))
    corpus, found = place / "corpus", place / "found"
    shutil.copytree(CORPUS, corpus)
    found.mkdir()
    code, said = run(asked.seconds, corpus, found)
    (place / "log").write_text(said)
    runs = re.findall(r"Done (\d+) runs in (\d+) second", said)
    cover = re.findall(r"cov: (\d+) ft: (\d+) corp: (\d+)", said)
    stats = dict(re.findall(r"stat::(\w+):\s+(\d+)", said))
    first, last = (cover[0], cover[-1]) if cover else ("???", "???")
    print(
        f"exit {code}; executions {stats.get('number_of_executed_units', runs)}, branches "
        f"{last[0]} (at the start {first[0]}), inputs kept {last[2]}, peak memory "
        f"{stats.get('peak_rss_mb', '?')} MB, slowest unit "
        f"{stats.get('slowest_unit_time_sec', '?')} s"
    )
    print(f"log and inputs that failed: {place}: {[p.name for p in found.iterdir()]}")
    if asked.keep and code == 0:
        merge(corpus)
        print(f"corpus: {len(list(CORPUS.iterdir()))} inputs")
    sys.exit(code)


if __name__ == "__main__":
    main()
