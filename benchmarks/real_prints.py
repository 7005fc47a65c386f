"""Real print files, which lie outside the tree, held against what the replay promises of them.

Usage: python benchmarks/real_prints.py FOLDER [limits]
"""

import sys
from pathlib import Path

from machine import machine

from beadworth.replay import compare, on_rig, replay
from beadworth.rig import Rig
from beadworth.worth.times import times_on

SLOW, FAST = 500, 8000


def prints_of(folder):
    """The files of the folder that lay something."""
    for file in sorted(Path(folder).iterdir()):
        if file.name.endswith((".gcode", ".gcode.gz")):
            found = replay(file, Rig(name="bare"))
            if found.summary.extruding_moves:
                yield file, found


def rig(acceleration, rule):
    motion = {"print_acceleration_mm_s2": acceleration, "file_limits": rule}
    return Rig.model_validate({"name": f"a {acceleration}", "motion": motion})


def limits(folder):
    """Two rigs that differ in acceleration alone, on every print that sets limits."""
    print("| print | rule | as written, s | own limits, s | compare: saved, s | fastest | worth |")
    print("| --- | --- | --: | --: | --: | --: | --: |")
    for file, bare in prints_of(folder):
        if not bare.sets_limits:
            continue
        for rule in ("capped", "obeyed", "ignored"):
            pair = [rig(a, rule) for a in (SLOW, FAST)]
            found = compare(*(on_rig(file, one, None) for one in pair))
            both = (found.baseline.as_commanded, found.candidate.as_commanded)
            written = " / ".join(f"{x.time_s:.0f}" for x in both)
            own = " / ".join(f"{x.time_at_rig_limits_s:.0f}" for x in both)
            slow, fast = (times_on(file, one, None, "as written").time_s for one in pair)
            cells = (f"{found.saved_s:.0f}", f"{found.saved_fastest_s:.0f}", f"{slow - fast:.0f}")
            print(f"| {file.name} | {rule} | {written} | {own} | {' | '.join(cells)} |")


PARTS = {"limits": limits}


def main():
    folder, *parts = sys.argv[1:]
    print(f"{machine('numpy', 'numba')}\n")
    for name in parts or PARTS:
        print(f"\n## {name}: {PARTS[name].__doc__}\n")
        PARTS[name](folder)


if __name__ == "__main__":
    main()
