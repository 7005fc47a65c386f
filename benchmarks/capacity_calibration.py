"""How often the intervals hold the truth, and how wide they are.

Run: python benchmarks/capacity_calibration.py [--trials 300] [--workers 2]
    [--part classes|settings|known|knees|upset] [--only NAME] [--kept FILE]

Trials of all lines of a table in turn, a line of JSON each in the file, so that a run can be cut
and goes on with what is there; ``--trials 0`` prints the tables alone.

Prints Markdown tables. 'classes' is the figure promised: curves drawn at random from eight classes
(benchmarks/random_curves.py), 3 temperatures × 8 flows × 3 replicates at 0.6 % noise. 'settings'
draws from all classes under other conditions. 'known' are three curves written down, 'knees' moves
their knee between 8 and 30 mm³/s, 'upset' breaks what the model takes for granted. A one-sided
answer holds when it is true.
"""

from __future__ import annotations

import argparse
import json
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor, as_completed
from dataclasses import asdict, dataclass
from functools import partial
from pathlib import Path

import numpy as np
import random_curves
from capacity_truths import (
    BAR_TRUTHS,
    MORE_TRUTHS,
    Truth,
    slipping,
    trial,
)
from machine import machine

from beadworth import capacity
from beadworth.trial import Reading

TEMPERATURES = (205.0, 215.0, 225.0)


@dataclass(frozen=True)
class Outcome:
    held: int
    low_missed: int
    intervals: int
    width: float
    relative: float
    error: float
    one_sided: int


def judge(readings: list[Reading], truth: dict[float, float]) -> Outcome:
    ceilings = capacity.fit(readings).ceilings
    both = [c for c in ceilings if c.bound == "interval"]
    over = sum((c.low or 0.0) > truth[c.temperature_c] for c in ceilings)
    held = len(ceilings) - over
    held -= sum((c.high or np.inf) < truth[c.temperature_c] for c in ceilings)
    width = sum(c.high - c.low for c in both)
    relative = sum((c.high - c.low) / truth[c.temperature_c] for c in both)
    error = sum(c.flow_mm3_s - truth[c.temperature_c] for c in both)
    return Outcome(held, over, len(both), width, relative, error, len(ceilings) - len(both))


USUAL = np.linspace(7.0, 19.0, 8)
SETTINGS: dict[str, dict[str, object]] = {
    "0.3 % noise": {"noise": 0.003},
    "1.5 % noise": {"noise": 0.015},
    "one temperature": {"temperatures": (215.0,)},
    "ladders that end early (at 14 mm³/s)": {"flows": np.linspace(7.0, 14.0, 8)},
    "30 coupons": {"flows": np.linspace(7.0, 19.0, 10), "replicates": 1},
    "one replicate": {"replicates": 1},
}


def class_trial(seed: int, kind: str, setting: str = "") -> Outcome:
    """A curve of a class, or of any class where none is named."""
    rng = np.random.default_rng([5, seed, sum(map(ord, kind + setting))])
    chosen = kind or list(random_curves.CLASSES)[seed % len(random_curves.CLASSES)]
    drawn = random_curves.curve(chosen, random_curves.usual_ceilings(rng), rng)
    work = {"flows": USUAL, "replicates": 3, "rng": rng} | SETTINGS.get(setting, {})
    readings = random_curves.weigh(drawn, **work)
    lowest = min(r.flow_mm3_s for r in readings)
    return judge(readings, {t: drawn.truth(t, lowest) for t in drawn.ceiling})


def known_trial(seed: int, truth: Truth) -> Outcome:
    """Knees from 11 to 15.8 mm³/s under one ladder of 7 to 19."""
    rng = np.random.default_rng([1, seed])
    shift = rng.uniform(-1.0, 1.0)
    ceilings = dict(zip(TEMPERATURES, (12.0 + shift, 13.5 + shift, 14.8 + shift), strict=True))
    return judge(trial(truth, ceilings, np.linspace(7.0, 19.0, 8), 3, rng), ceilings)


def knee_trial(seed: int, truth: Truth, middle: float) -> Outcome:
    """Knees about a middle, the ladder from 0.55 to 1.4 of it with its own luck."""
    rng = np.random.default_rng([2, seed, int(middle)])
    step = rng.uniform(0.02, 0.09) * middle
    ceilings = dict(zip(TEMPERATURES, (middle - step, middle, middle + step), strict=True))
    ladder = np.linspace(rng.uniform(0.45, 0.65), rng.uniform(1.3, 1.5), 8) * middle
    return judge(trial(truth, ceilings, ladder, 3, rng), ceilings)


def loss_noise(loss: np.ndarray) -> np.ndarray:
    """0.6 % below the knee, rising to 1.8 % at 5 % loss and above."""
    return 0.006 * (1 + 2 * np.minimum(loss / 0.05, 1.0))


def upset_trial(seed: int, kind: str, truth: Truth) -> Outcome:
    """One thing wrong that the model does not know of."""
    rng = np.random.default_rng([3, seed])
    shift = rng.uniform(-1.0, 1.0)
    ceilings = dict(zip(TEMPERATURES, (12.0 + shift, 13.5 + shift, 14.8 + shift), strict=True))
    ladder = np.linspace(7.0, 19.0, 8)
    if kind == "3 % odd coupons":
        return judge(trial(truth, ceilings, ladder, 3, rng, odd_share=0.03), ceilings)
    if kind == "noise three times above the knee":
        return judge(trial(truth, ceilings, ladder, 3, rng, noise=loss_noise), ceilings)
    if kind == "one temperature noisy (1.8 %)":
        rows = []
        for i, (t, c) in enumerate(ceilings.items()):
            rows += trial(truth, {t: c}, ladder, 3, rng, noise=0.018 if i == 1 else 0.006)
        return judge(rows, ceilings)
    if kind == "drive slips above the knee":
        return judge(trial(slipping, ceilings, ladder, 3, rng), ceilings)
    if kind == "delivery drifts 1 % along the spool":
        rows = trial(truth, ceilings, ladder, 3, rng)
        order = rng.permutation(len(rows))
        drift = np.empty(len(rows))
        drift[order] = np.linspace(-0.005, 0.005, len(rows))
        rows = [
            Reading(r.rig, r.material, r.temperature_c, r.flow_mm3_s, r.filament_mm,
                    r.mass_g * (1 + d))
            for r, d in zip(rows, drift, strict=True)
        ]  # fmt: skip
        return judge(rows, ceilings)
    raise ValueError(kind)


def row(name: str, outcomes: list[Outcome]) -> str:
    """One line; the Monte Carlo errors count a trial as one draw."""
    n = sum(o.intervals + o.one_sided for o in outcomes)
    both = max(sum(o.intervals for o in outcomes), 1)
    shares = np.array([o.held / (o.intervals + o.one_sided) for o in outcomes])
    coverage = sum(o.held for o in outcomes) / n
    mc = shares.std(ddof=1) / np.sqrt(len(shares))
    width = sum(o.width for o in outcomes) / both
    away = [o.width - width * o.intervals for o in outcomes]  # of a ratio of two sums
    u_width = np.std(away, ddof=1) * np.sqrt(len(away)) / both
    return (
        f"| {name} | {n} | {100 * coverage:.1f} ± {100 * mc:.1f} % | "
        f"{100 * sum(o.low_missed for o in outcomes) / n:.1f} % | "
        f"{width:.3f} ± {u_width:.3f} | "
        f"{100 * sum(o.relative for o in outcomes) / both:.2f} % | "
        f"{sum(o.error for o in outcomes) / both:+.3f} | {sum(o.one_sided for o in outcomes)} |"
    )


HEAD = (
    "| truth | answers | hold the truth | lie wholly above | mean width mm³/s | of the ceiling | "
    "mean error mm³/s | one-sided |\n|---|---|---|---|---|---|---|---|"
)


Kept = dict[str, dict[int, Outcome]]
"""Outcomes by line and seed."""


def read_kept(file: Path) -> Kept:
    kept: Kept = {}
    for text in file.read_text("utf-8").splitlines() if file.exists() else ():
        found = json.loads(text)
        name, seed = found.pop("line"), found.pop("seed")
        kept.setdefault(name, {})[seed] = Outcome(**found)
    return kept


def run(pool: ProcessPoolExecutor, part: str, only: str, trials: int, file: Path) -> None:
    """Add the trials that a file lacks, seed by seed, each line in turn."""
    kept = read_kept(file)
    left = {
        pool.submit(one, seed): (name, seed)
        for seed in range(trials)
        for name, one in lines(part)
        if only in name and seed not in kept.get(name, {})
    }
    for done in as_completed(left):
        name, seed = left[done]
        with file.open("a", encoding="utf-8") as out:
            out.write(json.dumps({"line": name, "seed": seed} | asdict(done.result())) + "\n")


def table(part: str, only: str, kept: Kept) -> None:
    names = [name for name, _ in lines(part) if only in name and len(kept.get(name, ())) > 1]
    if not names:
        return
    counts = sorted({len(kept[name]) for name in names})
    said = " to ".join(str(n) for n in (counts[0], counts[-1])[: len(counts)])
    print(f"{PARTS[part]}: {said} trials per line\n\n{HEAD}")
    for name in names:
        print(row(name, list(kept[name].values())))
    if part == "classes":
        print(row("all", [one for name in names for one in kept[name].values()]))
    print()


PARTS = {
    "classes": "Curves drawn at random",
    "settings": "Other conditions, all classes in turn",
    "known": "Curves written down",
    "knees": "Knee moved",
    "upset": "Upset",
}


def lines(part: str) -> list[tuple[str, Callable[[int], Outcome]]]:
    """Name and trial of every line of a table."""
    if part == "classes":
        return [(kind, partial(class_trial, kind=kind)) for kind in random_curves.CLASSES]
    if part == "settings":
        return [(name, partial(class_trial, kind="", setting=name)) for name in SETTINGS]
    if part == "known":
        truths = BAR_TRUTHS | MORE_TRUTHS
        return [(name, partial(known_trial, truth=truth)) for name, truth in truths.items()]
    if part == "knees":
        return [
            (f"{name}, about {m:g} mm³/s", partial(knee_trial, truth=truth, middle=m))
            for m in (8.0, 13.0, 20.0, 30.0)
            for name, truth in BAR_TRUTHS.items()
        ]
    kinds = (
        "3 % odd coupons",
        "noise three times above the knee",
        "one temperature noisy (1.8 %)",
        "delivery drifts 1 % along the spool",
    )
    rows: list[tuple[str, Callable[[int], Outcome]]] = [
        (f"{kind}; {name}", partial(upset_trial, kind=kind, truth=truth))
        for kind in kinds
        for name, truth in BAR_TRUTHS.items()
    ]
    slip = "drive slips above the knee"
    return [*rows, (slip, partial(upset_trial, kind=slip, truth=slipping))]


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--trials", type=int, default=300)
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--only", default="", help="lines whose name holds this")
    parser.add_argument("--part", choices=tuple(PARTS), default=None)
    parser.add_argument("--kept", type=Path, default=Path("build/capacity_calibration.jsonl"))
    args = parser.parse_args()
    args.kept.parent.mkdir(parents=True, exist_ok=True)
    parts = [part for part in PARTS if args.part in (None, part)]
    with ProcessPoolExecutor(args.workers) as pool:
        for part in parts:
            run(pool, part, args.only, args.trials, args.kept)
    kept = read_kept(args.kept)
    for part in parts:
        table(part, args.only, kept)
    print(machine("numpy", "scipy"))


if __name__ == "__main__":
    main()
