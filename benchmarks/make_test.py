"""How long `make test` takes on a clean clone with nothing compiled, and who takes the processor.

    python benchmarks/make_test.py

Clones this repository as committed, beside it so that the same real prints are found, with a cache
of its own. Prints the end of the output, the time by the clock, how much of it the cores were
idle, and processor seconds by kind of process. Linux only; whatever else runs is counted too.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import threading
import time
from collections import Counter
from pathlib import Path

HERE = Path(__file__).resolve().parents[1]
TICK = os.sysconf("SC_CLK_TCK")
EVERY_S = 0.5
KINDS = (
    ("type=renderer", "browser: pages"),
    ("chrom", "browser: the rest"),
    ("playwright/driver", "browser: its driver"),
    ("bw-nursery", "servers under test"),
    ("pip install", "installing"),
    ("pyrefly", "type checker"),
    ("compile_kernels", "compiling kernels"),
    ("warm_up", "compiling kernels"),
    ("postgres", "PostgreSQL"),
    ("forkserver", "scripts under test"),
    ("pytest", "tests"),
)
"""What stands in a command line, and what that process is; the first that fits."""


def kind_of(folder: Path) -> str:
    """The kind of a process, by its folder in /proc."""
    command = (folder / "cmdline").read_bytes().replace(b"\0", b" ").decode(errors="replace")
    return next((kind for word, kind in KINDS if word in command), "other")


def look(before: dict[Path, int], spent: Counter[str]) -> None:
    """Add what each process has used since the last look."""
    for folder in Path("/proc").glob("[0-9]*"):
        try:
            fields = (folder / "stat").read_text().rpartition(")")[2].split()
            used = int(fields[11]) + int(fields[12])
            if used > before.get(folder, 0):
                spent[kind_of(folder)] += used - before.get(folder, 0)
            before[folder] = used
        except (OSError, ValueError):  # it has ended
            continue


def idle_and_all() -> tuple[int, int]:
    """Ticks that the cores were idle, and all there were."""
    ticks = [int(t) for t in Path("/proc/stat").read_text().split("\n", 1)[0].split()[1:9]]
    return ticks[3] + ticks[4], sum(ticks)


def run(clone: Path, cache: str) -> tuple[subprocess.CompletedProcess[str], float, Counter[str]]:
    """Run it; gives how it ended, the time by the clock, and ticks of the processor by kind."""
    unwanted = {"PYTHONPATH", "PYTHONDONTWRITEBYTECODE", "OPENBLAS_NUM_THREADS", "VIRTUAL_ENV"}
    env = {name: value for name, value in os.environ.items() if name not in unwanted}
    before: dict[Path, int] = {}
    look(before, Counter())
    spent: Counter[str] = Counter()
    ended = threading.Event()

    def watch() -> None:
        while not ended.wait(EVERY_S):
            look(before, spent)

    watching = threading.Thread(target=watch)
    began = time.monotonic()
    watching.start()
    done = subprocess.run(
        ["make", "test"], check=False, cwd=clone, env=env | {"XDG_CACHE_HOME": cache}, text=True,
        stdout=subprocess.PIPE, stderr=subprocess.STDOUT,
    )  # fmt: skip
    took = time.monotonic() - began
    ended.set()
    watching.join()
    return done, took, spent


def main() -> None:
    """Clone, run, print."""
    beside = tempfile.TemporaryDirectory(
        prefix="clean-", dir=HERE.parent, ignore_cleanup_errors=True
    )
    with beside as clone, tempfile.TemporaryDirectory() as cache:
        subprocess.run(["git", "clone", "-q", HERE, clone], check=True)
        Path(clone).chmod(0o755)  # tests of what others may read run as another user
        idle, ticks = idle_and_all()
        done, took, spent = run(Path(clone), cache)
        now_idle, now_ticks = idle_and_all()
    log = HERE / "build/make-test.log"
    log.parent.mkdir(exist_ok=True)
    log.write_text(done.stdout, encoding="utf-8")
    print("\n".join(done.stdout.splitlines()[-3:]))
    if done.returncode:
        print(f"What it said is in {log}.")
    print(f"make test: {took // 60:.0f}:{took % 60:02.0f}, exit code {done.returncode}; cores idle "
          f"{100 * (now_idle - idle) / (now_ticks - ticks):.0f} %")  # fmt: skip
    for kind, used in spent.most_common():
        print(f"{used / TICK:7.0f} core-s  {kind}")
    sys.exit(done.returncode)


if __name__ == "__main__":
    main()
