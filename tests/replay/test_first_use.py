"""The first replay of an install: compiled by two processes, announced, and never again."""

import subprocess
import sys

import pytest
from compiled_anew import run

from beadworth.core.compiled import cache_folder
from beadworth.replay.first_use import HALVES, PROGRAM, WITH_JERK

USE = """
    from beadworth.replay import replay
    from beadworth.rig import Rig
    lines = b"M204 S300\\n" + b"G1 X9.111 E1.00001\\nG1 X1.999 E1.00001\\n" * 9000
    for jerk_mm_s3 in sys.argv[1:]:
        replay(lines, Rig(name="x", motion={"max_jerk_mm_s3": float(jerk_mm_s3)}))
    found = replay(b"G1 X9 E1 F600\\nG2 X13 I2 E1\\nG4 P5\\nG1 X9 E2 F9000\\n", Rig(name="x"))
    rig = Rig(name="x", motion={"print_acceleration_mm_s2": 500})
    long = replay(b"G1 F600\\nM83\\n" + lines + lines, rig)  # read in several chunks
    assert len(lines) > 1 << 18 and long.time_at_rig_limits_s != long.time_s
    print(found.summary.moves, Compiles.seen)
"""


def test_a_replay_needs_nothing_compiled_that_was_not_prepared():
    assert run(USE, cache_folder())[0] == "3 []"


def test_what_a_limit_of_jerk_needs_is_kept():
    folder = cache_folder()
    run(USE, folder, "2e5")  # compiles it where only replays without one were prepared
    assert run(USE, folder, "2e5") == ("3 []", "")


@pytest.mark.long
@pytest.mark.parametrize("jerk_mm_s3", [(), ("2e5",)])
def test_first_replay_compiles_beside_itself_says_so_and_the_next_says_nothing(
    jerk_mm_s3, tmp_path
):
    said, told = run(USE, tmp_path, *jerk_mm_s3)
    assert said == "3 []"  # nothing was left for the process that replays
    assert told.count("once per install") == 1
    assert str(tmp_path) in told
    assert run(USE, tmp_path, *jerk_mm_s3) == ("3 []", "")


@pytest.mark.parametrize("half", [*HALVES, WITH_JERK])
def test_each_half_runs_to_its_end(half):
    subprocess.run([sys.executable, "-c", PROGRAM.format(half=half)], check=True)
