"""Flow ramps weighed live, in simulation: do intervals hold, how wide are they, what is refused.

    python benchmarks/live_weighing.py --part intervals --trials 100
    python benchmarks/live_weighing.py --part balances --trials 60

    python benchmarks/live_weighing.py --part outlook    (of the rows that intervals kept)
    python benchmarks/live_weighing.py --part example    a ramp record and a trace to try

Rows are kept in ``build``; a run goes on with what is there, and ``--trials 0`` prints the table.

The physics are stated in ``simulated_traces.py``; ceilings at 2 % loss lie at 10.5 to 12.5 mm³/s,
and 1.12 and 1.25 times that at the hotter temperatures. The ramp runs from 0.7 to 1.4 times a
ceiling that is known to 5 % beforehand.
"""

from __future__ import annotations

import argparse
import json
from collections import Counter
from collections.abc import Callable
from pathlib import Path

import numpy as np
from capacity_truths import Truth, excess_power, hard_limit, soft_knee
from machine import machine
from simulated_traces import Bench, draw, trace

from beadworth.capacity import fit
from beadworth.core import BeadworthError, to_toml
from beadworth.ramp import (
    LiveWeighing,
    Noise,
    RampSpec,
    Trace,
    analyse_trace,
    ramp_outlook,
    sections_of,
    write_trace_csv,
)

TEMPERATURES_C = (210.0, 225.0, 240.0)
LOWEST, HIGHEST = 0.7, 1.4
"""Of a ramp, times the ceiling that is expected."""
TRUTHS: dict[str, tuple[Truth, float, int]] = {
    "hard limit, 0.4 % spool": (hard_limit, 0.004, 2),
    "soft knee p = 12, 0.4 % spool": (soft_knee(12.0), 0.004, 2),
    "soft knee p = 12, 1.3 % spool": (soft_knee(12.0), 0.013, 2),
    "power 1.6 of the excess": (excess_power, 0.004, 2),
    "hard limit, 4 cycles": (hard_limit, 0.004, 4),
    "soft knee p = 12, 4 cycles": (soft_knee(12.0), 0.004, 4),
}
BALANCES: dict[str, dict[str, object]] = {
    "1 mg, good": {},
    "1 mg, takes away rises under 0.5 mg/s": {"tracking": "slow", "tracking_mg_s": 0.5},
    "1 mg, takes 0.5 mg/s off every rise": {"tracking": "share", "tracking_mg_s": 0.5},
    "10 mg, takes away rises under 5 mg/s": {
        "tracking": "slow", "tracking_mg_s": 5.0, "step_mg": 10.0},
    "10 mg, takes 5 mg/s off every rise": {
        "tracking": "share", "tracking_mg_s": 5.0, "step_mg": 10.0},
    "1 mg, a pile that bridges (300 mg)": {"bridge_mg": 300.0},
}  # fmt: skip


def run(
    truth: Truth, spool: float, cycles: int, seed: int, temperatures: int = 3, **fixed: object
) -> tuple[RampSpec, tuple[float, ...], Bench, Trace]:
    """One simulated ramp: its spec, the true ceilings, the bench, the trace."""
    rng = np.random.default_rng(seed)
    coolest = rng.uniform(10.5, 12.5)
    ceilings = (coolest, 1.12 * coolest, 1.25 * coolest)[:temperatures]
    bench = draw(rng, spool, **fixed)
    known = [c * float(np.exp(0.05 * rng.standard_normal())) for c in ceilings]
    spec = RampSpec(
        rig="simulated rig",
        material="simulated PLA",
        temperatures_c=TEMPERATURES_C[:temperatures],
        lowest_mm3_s=tuple(round(LOWEST * c, 1) for c in known),
        highest_mm3_s=tuple(round(HIGHEST * c, 1) for c in known),
        cycles=cycles,
    )
    curves: tuple[Callable[[np.ndarray], np.ndarray], ...] = tuple(
        lambda q, c=c: truth(q, c) for c in ceilings
    )
    time, mass = trace(sections_of(spec), curves, bench, rng)
    return spec, ceilings, bench, Trace(time, mass)


def holds(found: LiveWeighing, ceilings: tuple[float, ...]) -> tuple[list[bool], list[float], int]:
    """Whether each answer holds, the widths of intervals, how many answers are one-sided."""
    ok, widths, one_sided = [], [], 0
    for c, true in zip(fit(found.readings, joint=[found.joint]).ceilings, ceilings, strict=True):
        ok.append((c.low or 0.0) <= true <= (c.high or np.inf))
        if c.low is None or c.high is None:
            one_sided += 1
        else:
            widths.append(c.high - c.low)
    return ok, widths, one_sided


def interval_rows(trials: int, first_seed: int, only: str, kept: Path) -> None:
    """Trials of every truth in turn, a line of JSON each; those that are kept already are left."""
    done = {(r["truth"], r["seed"]) for r in _rows(kept)}
    for seed in range(first_seed, first_seed + trials):
        for name, (truth, spool, cycles) in TRUTHS.items():
            if (only and only not in name) or (name, seed) in done:
                continue
            spec, ceilings, bench, record = run(truth, spool, cycles, seed)
            found = analyse_trace(record, spec)
            ok, widths, one_sided = holds(found, ceilings)
            row = {
                "truth": name, "seed": seed, "held": ok, "widths": widths, "one_sided": one_sided,
                "hang_mg": bench.hang_mg, "minutes": record.seconds / 60, "grams": found.grams,
                "failed": [c.name for c in found.checks if c.verdict == "failed"],
            }  # fmt: skip
            with kept.open("a") as file:
                file.write(json.dumps(row) + "\n")


def _rows(kept: Path) -> list[dict]:
    return [json.loads(line) for line in kept.read_text().splitlines()] if kept.exists() else []


def interval_table(kept: Path) -> None:
    print("| truth | trials | hold the truth | mean width mm³/s | hang under 4 mg | over 7 mg | "
          "one-sided | minutes | grams | refused |")  # fmt: skip
    print("|---|---|---|---|---|---|---|---|---|---|")
    for name in TRUTHS:
        rows = [r for r in _rows(kept) if r["truth"] == name]
        if not rows:
            continue
        held = np.array([np.mean(r["held"]) for r in rows])
        width = np.array([np.mean(r["widths"]) if r["widths"] else np.nan for r in rows])
        hang = np.array([r["hang_mg"] for r in rows])
        thirds = [
            f"{np.nanmean(width[at]):.2f}" if at.any() else "–" for at in (hang < 4, hang > 7)
        ]
        print(f"| {name} | {len(rows)} | {100 * held.mean():.1f} ± "
              f"{100 * held.std() / np.sqrt(len(rows)):.1f} % | {np.nanmean(width):.2f} | "
              f"{thirds[0]} | {thirds[1]} | {sum(r['one_sided'] for r in rows)} | "
              f"{np.mean([r['minutes'] for r in rows]):.0f} | "
              f"{np.mean([r['grams'] for r in rows]):.0f} | "
              f"{sum(bool(r['failed']) for r in rows)} |")  # fmt: skip


def balance_rows(trials: int, first_seed: int, kept: Path) -> None:
    """A good balance and some that would lie, in turn, and what refused them; one temperature."""
    done = {(r["balance"], r["seed"]) for r in _rows(kept)}
    for seed in range(first_seed, first_seed + trials):
        for name, fixed in BALANCES.items():
            if (name, seed) in done:
                continue
            truth = (hard_limit, soft_knee(12.0))[seed % 2]
            spec, _, _, record = run(truth, (0.004, 0.013)[seed // 2 % 2], 2, seed, 1, **fixed)
            try:
                found = analyse_trace(record, spec)
            except BeadworthError:
                failed = ["not the ramp"]
            else:
                failed = [c.name for c in found.checks if c.verdict == "failed"]
            with kept.open("a") as file:
                file.write(json.dumps({"balance": name, "seed": seed, "failed": failed}) + "\n")


def balance_table(kept: Path) -> None:
    print("| balance | trials | refused | by what |\n|---|---|---|---|")
    for name in BALANCES:
        rows = [r for r in _rows(kept) if r["balance"] == name]
        if not rows:
            continue
        why = Counter(check for r in rows for check in r["failed"])
        refused = sum(bool(r["failed"]) for r in rows)
        words = ", ".join(f"{check} {n}" for check, n in why.items())
        print(f"| {name} | {len(rows)} | {100 * refused / len(rows):.0f} % | {words} |")


def outlook_table(kept: Path) -> None:
    """Widths found beside those that the outlook foresees for the same noise and filament."""
    print("| truth | hang mg | trials | found mm³/s | foreseen |\n|---|---|---|---|---|")
    middle = (11.5, 12.88, 14.375)
    spec = RampSpec(
        rig="a", material="b", temperatures_c=TEMPERATURES_C,
        lowest_mm3_s=tuple(LOWEST * c for c in middle),
        highest_mm3_s=tuple(HIGHEST * c for c in middle),
    )  # fmt: skip
    for name, (_, spool, cycles) in TRUTHS.items():
        rows = [r for r in _rows(kept) if r["truth"] == name and r["widths"]]
        for low, high in ((2.0, 4.0), (4.0, 7.0), (7.0, 10.0)):
            some = [r for r in rows if low <= r["hang_mg"] < high]
            if not some:
                continue
            noise = Noise(1.15 * float(np.mean([r["hang_mg"] for r in some])), 6.0, 0.5, 1.0)
            told = ramp_outlook(spec, density_g_cm3=1.24, noise=noise, wander=spool)[cycles - 1]
            foreseen = told.sharp_mm3_s if "hard" in name else told.soft_mm3_s
            found = np.mean([np.mean(r["widths"]) for r in some])
            print(f"| {name} | {low:g} to {high:g} | {len(some)} | {found:.2f} | {foreseen:.2f} |")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument(
        "--part", choices=("intervals", "balances", "outlook", "example"), default="intervals"
    )
    parser.add_argument("--trials", type=int, default=20, help="0: the table of what is kept")
    parser.add_argument("--seed", type=int, default=50_000)
    parser.add_argument("--only", default="", help="rows whose name holds this")
    parser.add_argument("--kept", type=Path, help="file of rows, gone on with (build/…)")
    args = parser.parse_args()
    if args.part == "example":
        spec, ceilings, _, record = run(hard_limit, 0.004, 2, args.seed)
        Path("simulated-ramp.toml").write_text(to_toml(spec))
        Path("simulated-trace.csv").write_text(write_trace_csv(record))
        print("true ceilings", ", ".join(f"{c:.2f}" for c in ceilings), "mm³/s")
        return
    kept = args.kept or Path("build") / f"live-{args.part}.jsonl"
    kept.parent.mkdir(parents=True, exist_ok=True)
    print(machine())
    if args.part == "outlook":
        outlook_table(args.kept or Path("build") / "live-intervals.jsonl")
        return
    if args.part == "intervals":
        interval_rows(args.trials, args.seed, args.only, kept)
        interval_table(kept)
    else:
        balance_rows(args.trials, args.seed, kept)
        balance_table(kept)


if __name__ == "__main__":
    main()
