"""How often a trial of good coupons is asked for one again, and how often a light one is seen.

Run: python benchmarks/weigh_in_alarms.py [--trials 12] [--only NAME]

Prints a Markdown table. Every coupon of a simulated trial is judged as it is weighed, in a random
order; masses are read to the step of a display. 'False' counts trials in which any good coupon,
new or earlier, is asked for again; 'seen' trials with one coupon 5 % light in which it, or one of
its own temperature and flow, is asked for by the end.
"""

from __future__ import annotations

import argparse
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
import random_curves
from capacity_truths import hard_limit
from capacity_truths import trial as known_trial
from machine import machine

from beadworth import capacity
from beadworth.trial import Reading

FLOWS = np.linspace(7.0, 19.0, 8)
LIGHT = 0.95


@dataclass(frozen=True)
class Design:
    kind: str = ""
    """Class of curve; empty: any. 'hard limit': the sharpest knee there is."""
    step_g: float = 0.01
    filament_mm: float = 600.0
    noise: float | Callable[[np.ndarray], np.ndarray] = 0.005
    replicates: int = 3
    temperatures: tuple[float, ...] = (215.0,)


def louder(loss: np.ndarray) -> np.ndarray:
    return np.asarray(0.005 * (1 + 2 * np.minimum(loss / 0.05, 1.0)))


DESIGNS = {
    "hard limit, 300 mm, 0.01 g": Design("hard limit", filament_mm=300.0),
    "hard limit, 600 mm, 0.001 g": Design("hard limit", step_g=0.001),
    "any curve, 300 mm, 0.01 g": Design(filament_mm=300.0),
    "any curve, 600 mm, 0.01 g": Design(),
    "any curve, 600 mm, 0.01 g, 3 temperatures": Design(temperatures=(205.0, 215.0, 225.0)),
    "any curve, 600 mm, 0.001 g": Design(step_g=0.001),
    "any curve, 600 mm, 0.01 g, 2 replicates": Design(replicates=2),
    "any curve, 600 mm, 0.01 g, no replicates": Design(replicates=1),
    "any curve, 600 mm, 0.1 g": Design(step_g=0.1),
    "any curve, 600 mm, 0.01 g, 1 % scatter": Design(noise=0.01),
    "hard limit, scatter three times above the knee": Design("hard limit", noise=louder),
}


def coupons(seed: int, design: Design, light: bool) -> tuple[list[Reading], Reading | None]:
    """A trial in the order it is weighed, and the coupon that is light."""
    rng = np.random.default_rng([71, seed, int(light)])
    usual = random_curves.usual_ceilings(rng)
    ceilings = {t: usual[t] for t in design.temperatures}
    if design.kind == "hard limit":
        rows = known_trial(
            hard_limit, ceilings, FLOWS, design.replicates, rng,
            noise=design.noise, filament_mm=design.filament_mm,
        )  # fmt: skip
    else:
        kind = design.kind or str(rng.choice(list(random_curves.CLASSES)))
        rows = random_curves.weigh(
            random_curves.curve(kind, ceilings, rng), FLOWS, design.replicates, rng,
            noise=float(design.noise), filament_mm=design.filament_mm,  # type: ignore[arg-type]
        )  # fmt: skip
    order = rng.permutation(len(rows))
    rows = [replace(rows[i], coupon=f"A{n:02d}") for n, i in enumerate(order)]
    bad = int(rng.integers(len(rows))) if light else -1
    rows = [
        replace(r, mass_g=_read(r.mass_g * (LIGHT if n == bad else 1.0), design.step_g))
        for n, r in enumerate(rows)
    ]
    return rows, rows[bad] if light else None


def _read(mass_g: float, step_g: float) -> float:
    return max(round(round(mass_g / step_g) * step_g, 6), step_g)


def asked_again(rows: list[Reading]) -> set[str]:
    """Coupons asked for again at any weighing."""
    named = set()
    for i, new in enumerate(rows):
        answer = capacity.judge_coupon(rows[:i], new, coupons=len(rows))
        if answer.verdict == "again":
            named.add(str(new.coupon))
        if answer.earlier:
            named.add(answer.earlier.coupon)
    return named


def seen(rows: list[Reading], light: Reading) -> bool:
    named = asked_again(rows)
    setting = (light.temperature_c, light.flow_mm3_s)
    return any(r.coupon in named for r in rows if (r.temperature_c, r.flow_mm3_s) == setting)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--trials", type=int, default=12)
    parser.add_argument("--only", default="", help="designs whose name holds this")
    args = parser.parse_args()
    print("| design | trials | false | 5 % light seen |\n|---|---|---|---|")
    totals = np.zeros(3)
    for name, design in DESIGNS.items():
        if args.only not in name:
            continue
        alarms = sum(bool(asked_again(coupons(s, design, False)[0])) for s in range(args.trials))
        found = 0
        for s in range(args.trials):
            rows, light = coupons(s, design, True)
            assert light is not None
            found += seen(rows, light)
        totals += alarms, found, args.trials
        print(
            f"| {name} | {args.trials} | {100 * alarms / args.trials:.1f} % | "
            f"{100 * found / args.trials:.1f} % |",
            flush=True,
        )
    print(
        f"| all | {totals[2]:.0f} | {100 * totals[0] / totals[2]:.1f} % | "
        f"{100 * totals[1] / totals[2]:.1f} % |"
    )
    print("\n" + machine("numpy", "scipy"))


if __name__ == "__main__":
    main()
