"""How often a photo's causes are named right: fresh simulated walls at two speeds.

    python benchmarks/cause_walls.py --walls 400 --first 10000

The walls are those of ``simulated_walls.py``. The rig knows its machine with errors: belt and screw
to 0.1 %, guide wheel to 1.5 %, drive wheel to 0.5 %; heater cycle (5 %), resonance (8 %) and teeth
of the idler each in half of the cases, else not at all. Corners are dragged 3 px off (one standard
deviation). ``--one`` reads one speed only.
"""

from __future__ import annotations

import argparse
import json
import math
import pickle
import time
from dataclasses import asdict, dataclass, replace
from itertools import pairwise
from pathlib import Path

import numpy as np
from machine import machine
from simulated_walls import CAUSES, LAYER_MM, Machine, Side, Truth, random_case

from beadworth.cause import (
    WallSide,
    answer_of_ranking,
    cause_answer,
    period_interval,
    rank,
    read_photo,
    read_wall,
    rectify,
    ringing_intervals,
    sources_of,
)
from beadworth.rig import Axes, Axis, Extruder, Guide, HotEnd, Known, Rig

NOTHING = "nothing periodic"


def rig_told(m: Machine, rng: np.random.Generator) -> Rig:
    """What the rig's record says of a machine."""
    errors = rng.standard_normal(4)
    knows = rng.random(3) < 0.5
    wheel = m.wheel_mm * (1 + 0.015 * errors[0])
    diameter = m.drive_diameter_mm * (1 + 0.005 * errors[1])

    def axis(hertz: float | None) -> Axis:
        return Axis(
            drive="belt", pulley_teeth=m.pulley_teeth, belt_pitch_mm=m.belt_pitch_mm,
            idler_teeth=18 if knows[2] else None, full_steps=400, resonance_hz=hertz,
            guide=Guide(kind="wheels", wheel_circumference_mm=wheel),
        )  # fmt: skip

    hertz = m.resonance_hz * (1 + 0.08 * errors[2]) if knows[0] else None
    return Rig(
        name="Invented", simulated=True,
        axes=Axes(x=axis(None), y=axis(hertz), z=Axis(drive="screw", lead_mm=m.lead_mm)),
        extruder=Extruder(effective_diameter_mm=diameter, drive_wheel_teeth=m.drive_teeth,
                          mesh_teeth=m.mesh_teeth, gear_ratio=3.0),
        hot_end=HotEnd(heater_cycle_s=m.heater_s * (1 + 0.05 * errors[3]) if knows[1] else None),
        known={"extruder.effective_diameter_mm": Known(u=0.005 * diameter, origin="measured")},
    )  # fmt: skip


def wall_told(side: Side) -> WallSide:
    """What the program says of a side."""
    return WallSide(
        side.length_mm, LAYER_MM, side.speed_mm_s, side.acceleration_mm_s2, side.corner_mm_s,
        side.filament_per_mm, side.loop_mm * side.filament_per_mm, side.layer_s,
    )  # fmt: skip


@dataclass
class Outcome:
    """One case: what was there, what was said, and whether intervals held."""

    truth: str
    said: list[tuple[str, float]]
    visible: bool
    ringing: bool
    ringing_said: float
    ruler: list[float]
    second: str = ""
    """What is named beside the first: there is none."""
    hertz_held: bool | None = None
    damping_held: bool | None = None
    period_held: bool | None = None
    size_held: bool | None = None
    size_ratio: float | None = None
    ringing_size_held: bool | None = None


def short(name: str) -> str:
    """``"pulley turn, x"`` as the simulator calls it."""
    return name.split(",", maxsplit=1)[0]


def true_period(m: Machine, cause: str) -> float:
    """Period of a cause in its own unit."""
    turn = math.pi * m.drive_diameter_mm
    return {
        "belt tooth": m.belt_pitch_mm, "pulley turn": m.belt_pitch_mm * m.pulley_teeth,
        "guide wheel turn": m.wheel_mm, "screw turn": m.lead_mm,
        "drive tooth": turn / m.drive_teeth, "gear mesh": turn / m.mesh_teeth,
        "heater cycle": m.heater_s,
    }[cause]  # fmt: skip


def read_case(seed: int, one: bool = False):
    """Draw, photograph and read a case: machine, truth, readings, errors of lengths, chance."""
    m, sides, truth, photos = random_case(seed, photographed=1 if one else 2)
    rng = np.random.default_rng([41, seed])
    readings, ruler = [], []
    for side, (data, corners) in zip(sides, photos, strict=True):
        dragged = corners + rng.normal(0, 3, (4, 2))
        found = rectify(read_photo(data, "wall"), dragged, side.length_mm, LAYER_MM)
        ruler.append(found.length_mm / side.length_mm - 1)
        readings.append(read_wall(found.matrix, wall_told(side)))
    return m, truth, readings, ruler, rng


def run_case(seed: int, one: bool = False) -> Outcome:
    """Draw, photograph, read and rank one case."""
    return judge(*read_case(seed, one))


def judge(m: Machine, truth: Truth, readings, ruler, rng: np.random.Generator) -> Outcome:
    """Rank one case, and hold what is said against what was done."""
    sources = sources_of(rig_told(m, rng), [r.wall for r in readings])
    ranking = rank(readings, sources)
    answer = answer_of_ranking(ranking, sources)
    said = [(short(n), p) for n, p in ranking.probabilities.items()]
    second = short(answer.second.name) if answer.second else ""
    rings = truth.ringing_mm > 0 or truth.cause == "ringing"
    out = Outcome(truth.cause, said, False, rings, ranking.ringing, ruler, second)
    if out.ringing and ranking.ringing > 0.5:
        hertz, damping = ringing_intervals(ranking.ringing_estimate)
        out.hertz_held = hertz.low <= m.resonance_hz <= hertz.high
        out.damping_held = damping.low <= m.damping <= damping.high
        size = answer.ringing.size_um
        true_um = 1e3 * (truth.ringing_mm or truth.amplitude_mm)
        out.ringing_size_held = size.low <= true_um <= size.high
    if truth.cause == "ringing":
        out.visible = all(float(r.profile.ringing_power().max()) >= 10 for r in readings)
    elif truth.cause in CAUSES:
        p = true_period(m, truth.cause)
        found_ = next((t for n, t in ranking.tried.items() if short(n) == truth.cause), None)
        if found_ is not None:
            out.visible = all(_peak(found_.source, r, p) >= 10 for r in readings)
            if out.said[0][0] == truth.cause:
                interval = period_interval(found_, ranking.readings)
                out.period_held = interval.low <= p <= interval.high
                size = answer.causes[0].size_um
                if size is not None:
                    out.size_held = size.low <= 1e3 * truth.amplitude_mm <= size.high
                    out.size_ratio = size.value / (1e3 * truth.amplitude_mm)
    return out


def _peak(source, reading, period) -> float:
    """Power over the floor where the cause truly lies, its neighbours included."""
    kx, kz = source.spot(reading.wall, np.array([period]))
    s = reading.spectrum
    if source.kind == "place":
        i = int(np.argmin(np.abs(reading.profile.along_per_mm - kx[0])))
        return float(reading.profile.steady_power()[max(i - 2, 0) : i + 3].max())
    rows = s.rows(kz[0] + np.arange(-6, 7) / s.up_per_layer.size)
    i = int(s.columns(kx)[0])
    near = s.power[rows][:, max(i - 2, 0) : i + 3]
    return float(np.nanmax(near)) if np.isfinite(near).any() else 0.0


def brier(said: list[tuple[str, float]], truth: str) -> float:
    """Sum of squared errors over all that was on the list."""
    return sum((p - (name == truth)) ** 2 for name, p in said)


def main() -> None:
    """Print the tables."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--walls", type=int, default=400)
    parser.add_argument("--first", type=int, default=10_000)
    parser.add_argument("--one", action="store_true")
    parser.add_argument("--save", help="add every outcome to this file as it is found")
    parser.add_argument("--matrices", help="keep what photos gave in this folder, or take it there")
    parser.add_argument("--read", nargs="*", help="print the tables of saved outcomes")
    parser.add_argument("--time", action="store_true", help="one photo of 12 million pixels")
    given = parser.parse_args()
    print(machine("numpy", "scipy", "pillow"))
    if given.time:
        timed()
        return
    if given.read:
        lines = [line for name in given.read for line in Path(name).read_text().splitlines()]
        tables([Outcome(**json.loads(line)) for line in lines])
        return
    outcomes = []
    for seed in range(given.first, given.first + given.walls):
        outcomes.append(_once(given.matrices, seed, given.one))
        if given.save:
            with Path(given.save).open("a", encoding="utf-8") as file:
                print(json.dumps(asdict(outcomes[-1]), default=bool), file=file, flush=True)
    tables(outcomes)


def _once(folder: str | None, seed: int, one: bool) -> Outcome:
    """A case; of one whose photos were read before into the folder only the ranking is new."""
    if folder is None:
        return run_case(seed, one)
    path = Path(folder) / f"{seed}{'-one' if one else ''}.pickle"
    if not path.exists():
        m, truth, readings, ruler, rng = read_case(seed, one)
        stored = [(r.wall, replace(r.matrix, values=np.float32(r.matrix.values))) for r in readings]
        path.write_bytes(pickle.dumps((m, truth, stored, ruler, rng)))
    m, truth, stored, ruler, rng = pickle.loads(path.read_bytes())
    readings = [
        read_wall(replace(matrix, values=np.float64(matrix.values)), wall)
        for wall, matrix in stored
    ]
    return judge(m, truth, readings, ruler, rng)


def timed() -> None:
    """Print how long a photo of 12 million pixels takes to its ranked causes."""
    m, sides, _, photos = random_case(2, photo_px=(4800, 2500))
    data, corners = photos[0]
    wall = wall_told(sides[0])
    rig = rig_told(m, np.random.default_rng(1))
    for _ in range(4):  # the first compiles and loads
        start, busy = time.perf_counter(), time.process_time()
        found = rectify(read_photo(data, "wall"), corners, wall.length_mm, LAYER_MM)
        cause_answer([read_wall(found.matrix, wall)], sources_of(rig, [wall]))
        start, busy = time.perf_counter() - start, time.process_time() - busy
    print(f"12 MP photo of {len(data) / 1e6:.1f} MB to ranked causes: {busy:.2f} s of processor, "
          f"{start:.2f} s by the clock")  # fmt: skip


def share(hits: list[bool]) -> str:
    """Per cent of hits, and how many there were."""
    return f"{100 * np.mean(hits):.1f} % of {len(hits)}" if hits else "none"


def tables(outcomes: list[Outcome]) -> None:
    """Print what the page quotes."""
    first = [o.said[0][0] == o.truth for o in outcomes]
    second = [o.truth in (o.said[0][0], o.said[1][0]) for o in outcomes]
    print("\n| cause | first | in the first two | visible | first where visible | first two |")
    print("| --- | --: | --: | --: | --: | --: |")
    for cause in (*CAUSES, NOTHING, "all"):
        chosen = [i for i, o in enumerate(outcomes) if cause in (o.truth, "all")]
        seen = [i for i in chosen if outcomes[i].visible]
        cells = [
            share([hit[i] for i in some]) for some in (chosen, seen) for hit in (first, second)
        ]
        print(f"| {cause} | {cells[0]} | {cells[1]} | {len(seen)} | {cells[2]} | {cells[3]} |")
    print(f"\nBrier score {np.mean([brier(o.said, o.truth) for o in outcomes]):.3f}")
    print("\n| said | came true | of |\n| --- | --: | --: |")
    pairs = [(p, name == o.truth) for o in outcomes for name, p in o.said]
    edges = [0, 0.01, 0.05, 0.2, 0.4, 0.6, 0.8, 0.95, 0.99, 1.0001]
    for low, high in pairwise(edges):
        inside = [(p, hit) for p, hit in pairs if low <= p < high]
        if inside:
            print(f"| {100 * np.mean([p for p, _ in inside]):.1f} % "
                  f"| {100 * np.mean([h for _, h in inside]):.1f} % | {len(inside)} |")  # fmt: skip
    rings = [o for o in outcomes if o.ringing]
    print(f"\nringing there, said so: {share([o.ringing_said > 0.5 for o in rings])}")
    quiet = [o.ringing_said <= 0.5 for o in outcomes if not o.ringing]
    print(f"none there, none said: {share(quiet)}")
    main = [o for o in outcomes if o.truth in CAUSES and o.truth != "ringing"]
    print(f"no second cause named: {share([not o.second for o in main])}")
    for name in ("hertz_held", "damping_held", "period_held", "size_held", "ringing_size_held"):
        print(f"{name}: {share([v for o in outcomes if (v := getattr(o, name)) is not None])}")
    for kinds in (
        ("belt tooth", "pulley turn", "guide wheel turn"),
        ("screw turn", "heater cycle"),
        ("drive tooth", "gear mesh"),
    ):
        ratios = [o.size_ratio for o in outcomes if o.size_ratio and o.truth in kinds]
        if ratios:
            low, middle, high = np.quantile(ratios, [0.05, 0.5, 0.95])
            print(
                f"size / truth, {', '.join(kinds)}: {middle:.2f} ({low:.2f} to {high:.2f}), "
                f"{len(ratios)}"
            )
    ruler = np.concatenate([o.ruler for o in outcomes])
    print(f"length along the wall: {100 * np.sqrt(np.mean(ruler**2)):.2f} % rms, "
          f"{100 * np.mean(ruler):+.2f} % on average")  # fmt: skip


if __name__ == "__main__":
    main()
