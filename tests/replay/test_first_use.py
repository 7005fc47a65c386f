"""The first replay of an install: compiled by two processes, announced, and never again."""

import os
import subprocess
import sys
import textwrap

import pytest

from beadworth.core.compiled import cache_folder
from beadworth.replay.first_use import HALVES, PROGRAM, WITH_JERK

USE = textwrap.dedent(
    """
    import sys
    from numba.core import event

    class Compiles(event.Listener):
        seen = []

        def on_start(self, event):
            self.seen.append(event.data["dispatcher"].py_func.__qualname__)

        def on_end(self, event):
            pass

    event.register("numba:compile", Compiles())
    from beadworth.replay import replay
    from beadworth.rig import Rig
    found = replay(b"G1 X9 E1 F600\\nG2 X13 I2 E1\\nG4 P5\\nG1 X9 E2 F9000\\n", Rig(name="x"))
    lines = b"M204 S300\\n" + b"G1 X9.111 E1.00001\\nG1 X1.999 E1.00001\\n" * 9000
    rig = Rig(name="x", motion={"print_acceleration_mm_s2": 500})
    long = replay(b"G1 F600\\nM83\\n" + lines + lines, rig)  # read in several chunks
    assert len(lines) > 1 << 18 and long.time_at_rig_limits_s != long.time_s
    if len(sys.argv) > 1:
        replay(lines, Rig(name="x", motion={"max_jerk_mm_s3": float(sys.argv[1])}))
    print(found.summary.moves, Compiles.seen)
    """
)


def run(cache, *jerk_mm_s3):
    done = subprocess.run(
        [sys.executable, "-c", USE, *jerk_mm_s3],
        env=os.environ | {"NUMBA_CACHE_DIR": str(cache)},
        capture_output=True,
        text=True,
        check=True,
    )
    return done.stdout.strip(), done.stderr


def test_a_replay_needs_nothing_compiled_that_was_not_prepared():
    folder, all_there = cache_folder(), ("3 []", "")
    # The first run prepares where nothing did so before.
    assert all_there in (run(folder, "2e5") for _ in range(2))


@pytest.mark.long
def test_first_replay_compiles_beside_itself_says_so_and_the_next_says_nothing(tmp_path):
    said, told = run(tmp_path)
    assert said == "3 []"  # nothing was left for the process that replays
    assert told.count("once per install") == 1
    assert str(tmp_path) in told
    assert run(tmp_path) == ("3 []", "")


@pytest.mark.parametrize("half", [*HALVES, WITH_JERK])
def test_each_half_runs_to_its_end(half):
    subprocess.run([sys.executable, "-c", PROGRAM.format(half=half)], check=True)
