"""Flow ramps weighed live, in simulation: do intervals hold, how wide are they, what is refused.

    python benchmarks/live_weighing.py --part intervals --trials 100
    python benchmarks/live_weighing.py --part balances --trials 60

The physics are stated in ``simulated_traces.py``; ceilings at 2 % loss lie at 10.5 to 12.5 mm³/s,
and 1.12 and 1.25 times that at the hotter temperatures. The ramp runs from 0.65 to 1.3 times a
ceiling that is known to 5 % beforehand.
"""

from __future__ import annotations

import argparse
from collections.abc import Callable

import numpy as np
from capacity_truths import Truth, excess_power, hard_limit, soft_knee
from machine import machine
from simulated_traces import Bench, draw, trace

from beadworth.capacity import fit
from beadworth.core import BeadworthError
from beadworth.ramp import LiveWeighing, RampSpec, Trace, analyse_trace, sections_of

TEMPERATURES_C = (210.0, 225.0, 240.0)
TRUTHS: dict[str, tuple[Truth, float, int]] = {
    "hard limit, 0.4 % spool": (hard_limit, 0.004, 2),
    "soft knee p = 12, 0.4 % spool": (soft_knee(12.0), 0.004, 2),
    "soft knee p = 12, 1.3 % spool": (soft_knee(12.0), 0.013, 2),
    "power 1.6 of the excess, 0.4 % spool": (excess_power, 0.004, 2),
    "hard limit, 0.4 % spool, 4 cycles": (hard_limit, 0.004, 4),
    "soft knee p = 12, 0.4 % spool, 4 cycles": (soft_knee(12.0), 0.004, 4),
}
BALANCES: dict[str, dict[str, object]] = {
    "1 mg, takes away rises under 0.5 mg/s": {"tracking": "slow", "tracking_mg_s": 0.5},
    "1 mg, takes 0.5 mg/s off every rise": {"tracking": "share", "tracking_mg_s": 0.5},
    "10 mg, takes away rises under 5 mg/s": {
        "tracking": "slow", "tracking_mg_s": 5.0, "step_mg": 10.0},
    "10 mg, takes 5 mg/s off every rise": {
        "tracking": "share", "tracking_mg_s": 5.0, "step_mg": 10.0},
    "1 mg, a pile that bridges (300 mg)": {"bridge_mg": 300.0},
}  # fmt: skip


def run(
    truth: Truth, spool: float, cycles: int, seed: int, **fixed: object
) -> tuple[RampSpec, tuple[float, ...], Bench, Trace]:
    """One simulated ramp: its spec, the true ceilings, the bench, the trace."""
    rng = np.random.default_rng(seed)
    coolest = rng.uniform(10.5, 12.5)
    ceilings = (coolest, 1.12 * coolest, 1.25 * coolest)
    bench = draw(rng, spool, **fixed)
    known = [c * float(np.exp(0.05 * rng.standard_normal())) for c in ceilings]
    spec = RampSpec(
        rig="simulated rig",
        material="simulated PLA",
        temperatures_c=TEMPERATURES_C,
        lowest_mm3_s=tuple(round(0.65 * c, 1) for c in known),
        highest_mm3_s=tuple(round(1.3 * c, 1) for c in known),
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


def intervals(trials: int, first_seed: int, only: str) -> None:
    print("| truth | trials | hold the truth | mean width mm³/s | hang under 4 mg | over 7 mg | "
          "one-sided | minutes | grams | refused |")  # fmt: skip
    print("|---|---|---|---|---|---|---|---|---|---|")
    for name, (truth, spool, cycles) in TRUTHS.items():
        if only and only not in name:
            continue
        held, width, hang, minutes, grams = [], [], [], [], []
        one_sided = refused = 0
        for seed in range(first_seed, first_seed + trials):
            spec, ceilings, bench, record = run(truth, spool, cycles, seed)
            found = analyse_trace(record, spec)
            refused += not found.usable
            ok, widths, more = holds(found, ceilings)
            held.append(np.mean(ok))
            one_sided += more
            width.append(np.mean(widths) if widths else np.nan)
            hang.append(bench.hang_mg)
            minutes.append(record.seconds / 60)
            grams.append(found.grams)
        error = np.std(held) / np.sqrt(trials)
        h, w = np.array(hang), np.array(width)
        print(f"| {name} | {trials} | {100 * np.mean(held):.1f} ± {100 * error:.1f} % | "
              f"{np.nanmean(w):.2f} | {np.nanmean(w[h < 4]):.2f} | {np.nanmean(w[h > 7]):.2f} | "
              f"{one_sided} | {np.mean(minutes):.0f} | {np.mean(grams):.0f} | "
              f"{refused} |", flush=True)  # fmt: skip


def balances(trials: int, first_seed: int) -> None:
    print("| balance | trials | refused | by what |\n|---|---|---|---|")
    for name, fixed in BALANCES.items():
        refused, why = 0, {}
        for seed in range(first_seed, first_seed + trials):
            truth = (hard_limit, soft_knee(12.0))[seed % 2]
            spec, _, _, record = run(truth, (0.004, 0.013)[seed // 2 % 2], 2, seed, **fixed)
            try:
                found = analyse_trace(record, spec)
            except BeadworthError:
                failed = ["not the ramp"]
            else:
                failed = [c.name for c in found.checks if c.verdict == "failed"]
            refused += bool(failed)
            for check in failed:
                why[check] = why.get(check, 0) + 1
        words = ", ".join(f"{check} {n}" for check, n in why.items())
        print(f"| {name} | {trials} | {100 * refused / trials:.0f} % | {words} |", flush=True)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--part", choices=("intervals", "balances"), default="intervals")
    parser.add_argument("--trials", type=int, default=20)
    parser.add_argument("--seed", type=int, default=50_000)
    parser.add_argument("--only", default="", help="rows whose name holds this")
    args = parser.parse_args()
    print(machine())
    if args.part == "intervals":
        intervals(args.trials, args.seed, args.only)
    else:
        balances(args.trials, args.seed)


if __name__ == "__main__":
    main()
