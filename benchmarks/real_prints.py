"""Real print files, which lie outside the tree, held against what the replay promises of them.

Usage: python benchmarks/real_prints.py FOLDER [limits] [marks] [priming] [readings] [retiming]
"""

import gzip
import io
import re
import sys
from pathlib import Path

import numpy as np
from machine import machine

from beadworth import capacity
from beadworth.core import BeadworthError, filament_section_mm2
from beadworth.gcode import read
from beadworth.motion import Limits, Planner
from beadworth.replay import compare, on_rig, replay, retime
from beadworth.replay.ceilings import Ceilings
from beadworth.replay.timeline import moves_of
from beadworth.replay.waits import Waits
from beadworth.rig import Rig
from beadworth.trial import Reading
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


def marks(folder):
    """The maker's marks of the time left, no rig given, against the same moves here."""
    print(
        "| print | marks | theirs, min | here, min | gap | widest on the way, s "
        "| commanded, min | whole |"
    )
    print("| --- | --: | --: | --: | --: | --: | --: | --- |")
    for file, found in prints_of(folder):
        m = found.remaining_marks
        if m is None:
            continue
        print(
            f"| {file.name} | {m.marks} | {m.theirs_s / 60:.0f} | {m.ours_s / 60:.1f} | "
            f"{m.share:+.1%} | {m.widest_s:+.0f} | {found.commanded_s / 60:.1f} | "
            f"{'yes' if m.whole else f'no, {m.left_s / 60:.0f} min are left'} |"
        )


def priming(folder):
    """What is set apart, and the flows that are left."""
    print("| print | set apart | mm | s | mm³/s | print: highest | 99 % |")
    print("| --- | --: | --: | --: | --: | --: | --: |")
    for file, found in prints_of(folder):
        p, flow = found.priming, found.flow
        print(
            f"| {file.name} | {p.moves} | {p.filament_mm:.1f} | {p.time_s:.1f} | "
            f"{p.worst_flow_mm3_s:.1f} | {flow.max_mm3_s:.2f} | {flow.p99_mm3_s:.2f} |"
        )


def readings(folder):
    """Filament, and which reading was taken."""
    for file, found in prints_of(folder):
        taken = [reading.what for reading in found.summary.readings if reading.taken]
        print(f"- {file.name}: {found.summary.filament_net_mm:.3f} mm. {' '.join(taken)}")


def fit_at(flow):
    """A capacity with its knee near a flow, from 180 to 280 °C."""
    rng = np.random.default_rng(5)
    return capacity.fit(
        [
            Reading("R", "PLA", c, float(q), 600.0,
                    1.79 * min(1.0, flow / q) * (1 + 0.002 * float(rng.normal())))
            for c in (180.0, 280.0)
            for q in np.linspace(0.3, 2.0, 12) * flow
            for _ in range(3)
        ]
    )  # fmt: skip


def of_rig(acceleration):
    axes = {"x": acceleration, "y": acceleration, "z": acceleration}
    motion = {"print_acceleration_mm_s2": acceleration, "max_acceleration_mm_s2": axes,
              "file_limits": "ignored"}  # fmt: skip
    return Rig.model_validate({"name": "R", "motion": motion})


def moving_s(source, rig, fit):
    """Moving time with every bead's feed at its ceiling to the last digit."""
    ceilings = Ceilings(fit, filament_section_mm2(rig.filament_diameter_mm))
    planner, total = Planner(), 0.0
    reader, limits = read(source, rig=replay(source, rig).read_as), Limits.from_rig(rig)
    for moves, rows, _ in moves_of(reader, limits, ceilings, Waits(), cap=True):
        total += sum(float(timing.time_s.sum()) for _, timing in planner.add(moves, rows))
    return total + sum(float(timing.time_s.sum()) for _, timing in planner.finish())


def without_f(data):
    return re.sub(rb" ?[Ff][ ]?[0-9.]+", b"", re.sub(rb"\*[0-9]+", b"", data))


def retiming(folder):
    """Copies at 0.8 of the print's highest flow: held at four accelerations, and what they cost."""
    print("| print | slower | growth | least headroom | rest as it was | again | added ÷ bound | |")
    print("| --- | --: | --: | --: | --- | --- | --: | --: |")
    for file, bare in prints_of(folder):
        fit, rig = fit_at(0.8 * bare.flow.max_mm3_s), of_rig(2000)
        source = gzip.decompress(file.read_bytes()) if file.suffix == ".gz" else file.read_bytes()
        out, again = io.BytesIO(), io.BytesIO()
        try:
            made = retime(source, out, rig, fit, reserve=0.0)
        except BeadworthError as error:
            print(f"| {file.name} | {error} |")
            continue
        copy = out.getvalue()
        least = min(
            layer.headroom for a in ACCELERATIONS for layer in replay(copy, of_rig(a), fit).layers
        )
        retime(copy, again, rig, fit, reserve=0.0)
        end = re.search(rb"\r?\n|\r", source)[0]
        same = without_f(copy.split(end, 3)[-1] if made.moves else copy) == without_f(source)
        before = made.before.time_s - made.before.dwell_s
        bound = moving_s(source, rig, fit)
        added = replay(copy, rig, fit).time_s - made.before.time_s
        print(
            f"| {file.name} | {made.moves} | {len(copy) / len(source) - 1:.2%} | {least:.1e} | "
            f"{same} | {again.getvalue() == copy} | "
            f"{added:.2f} s ÷ {bound - before:.2f} s | {added / (bound - before) - 1:+.2%} |"
        )


ACCELERATIONS = (500, 2000, 8000, 20_000)
PARTS = {
    "limits": limits, "marks": marks, "priming": priming, "readings": readings,
    "retiming": retiming,
}  # fmt: skip


def main():
    folder, *parts = sys.argv[1:]
    print(f"{machine('numpy', 'numba')}\n")
    for name in parts or PARTS:
        print(f"\n## {name}: {PARTS[name].__doc__}\n")
        PARTS[name](folder)


if __name__ == "__main__":
    main()
