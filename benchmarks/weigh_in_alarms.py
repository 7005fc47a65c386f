"""How often a trial of good coupons is asked for one again, and how often a light one is seen.

Run: python benchmarks/weigh_in_alarms.py [--trials 200] [--only NAME] [--curve 0]

Prints two Markdown tables. Every coupon of a simulated trial is judged as it is weighed, in a
random order; masses are read to the step of a display. 'False' counts trials in which any good
coupon, new or earlier, is asked for again; 'seen' trials with one coupon 5 % light in which it, or
one of its own temperature and flow, is asked for by the end. Coupons are held against coupons alone
(capacity/reading/by_others.py), which costs no fit; '--curve 20' adds what the curve says of so
many trials a design. Brackets: 95 % of the binomial (Clopper and Pearson). 'Limit' is the share of
light coupons seen by one who knows the scatter and what a good coupon of each flow weighs, at the
same false alarms (2 % of trials; Neyman and Pearson): no rule sees more. 'Of the data' knows that
all coupons scatter alike, but neither by how much nor what they should weigh: what replicates alone
can show. The second table counts the same trials with every level that many times as large.
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
from scipy import stats

from beadworth import capacity
from beadworth.capacity.model.block import scatter_of
from beadworth.capacity.reading.by_others import by_others
from beadworth.trial import Reading

FLOWS = np.linspace(7.0, 19.0, 8)
LIGHT = 0.95
FALSE = 0.02
FACTORS = (0.1, 0.3, 1.0, 3.0, 10.0)
"""By which all levels are multiplied in the second table."""


@dataclass(frozen=True)
class Design:
    kind: str = ""
    """Class of curve; empty: any. 'hard limit': the sharpest knee there is."""
    step_g: float = 0.01
    filament_mm: float = 600.0
    noise: float | Callable[[np.ndarray], np.ndarray] = 0.005
    replicates: int = 3
    temperatures: tuple[float, ...] = (215.0,)
    planned: float | None = None
    """Scatter of a coupon that the budget of the plan has; plans without replicates say so."""


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
    "any curve, 600 mm, 0.01 g, no replicates": Design(replicates=1, planned=0.005),
    "no replicates, 3 temperatures": Design(
        replicates=1, planned=0.005, temperatures=(205.0, 215.0, 225.0)
    ),
    "any curve, 600 mm, 0.1 g": Design(step_g=0.1),
    "any curve, 600 mm, 0.01 g, 1 % scatter": Design(noise=0.01),
    "2 replicates, scatter as the plan has it": Design(replicates=2, planned=0.005),
    "2 replicates, 3 temperatures": Design(replicates=2, temperatures=(205.0, 215.0, 225.0)),
    "2 replicates, 1 % scatter": Design(replicates=2, noise=0.01),
    "2 replicates, scatter three times above the knee": Design(replicates=2, noise=louder),
    "hard limit, scatter three times above the knee": Design("hard limit", noise=louder),
    "any curve, scatter three times above the knee": Design(noise=louder),
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
            noise=design.noise, filament_mm=design.filament_mm,
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


def closest(rows: list[Reading], design: Design) -> dict[str, float]:
    """Of each coupon the smallest probability ÷ the level it is held to, over all weighings."""
    least: dict[str, float] = {}
    for i, new in enumerate(rows):
        found = by_others(rows[:i], new, scatter_of(design.planned), len(rows)).closest
        for coupon, share in found.items():
            least[coupon] = min(share, least.get(coupon, share))
    return least


def asked_again(rows: list[Reading], design: Design) -> set[str]:
    """Coupons asked for again at any weighing, the curve consulted."""
    named = set()
    for i, new in enumerate(rows):
        answer = capacity.judge_coupon(rows[:i], new, coupons=len(rows), scatter=design.planned)
        if answer.verdict == "again":
            named.add(str(new.coupon))
        if answer.earlier:
            named.add(answer.earlier.coupon)
    return named


def setting(rows: list[Reading], light: Reading) -> set[str]:
    """Names of the light coupon and the others of its temperature and flow."""
    at = (light.temperature_c, light.flow_mm3_s)
    return {str(r.coupon) for r in rows if (r.temperature_c, r.flow_mm3_s) == at}


def limit(rows: list[Reading], light: Reading, design: Design) -> float:
    """Chance of seeing the light one where its mean and scatter are known."""
    mass = light.mass_g / LIGHT
    lost = 1 - mass / max(r.mass_g for r in rows if r.temperature_c == light.temperature_c)
    noise = design.noise(np.array(lost)) if callable(design.noise) else design.noise
    sd = float(np.hypot(noise, design.step_g / np.sqrt(12.0) / mass))
    return float(stats.norm.cdf(-np.log(LIGHT) / sd - stats.norm.isf(FALSE / len(rows) / 2)))


def limit_of_data(rows: list[Reading], light: Reading, design: Design) -> float:
    """The same where all are known to scatter alike, but neither by how much nor what they weigh.

    What was known of the scatter before counts as replicates; Student's t of the difference to the
    others of the setting, two-sided, a pair being one test (noncentral t).
    """
    k = design.replicates - 1
    if k == 0:
        return float("nan")
    known = scatter_of(design.planned)
    mass = light.mass_g / LIGHT
    lost = 1 - mass / max(r.mass_g for r in rows if r.temperature_c == light.temperature_c)
    noise = design.noise(np.array(lost)) if callable(design.noise) else design.noise
    sd = float(np.hypot(noise, design.step_g / np.sqrt(12.0) / mass)) * np.sqrt(1 + 1 / k)
    dof = known.worth + len(rows) - len(rows) // (k + 1) - 1
    tests = len(rows) // (2 if k == 1 else 1)
    at = stats.t.isf(FALSE / tests / 2, dof)
    return float(stats.nct.sf(at, dof, -np.log(LIGHT) / sd))


def share(of: int, trials: int) -> str:
    """A share with its 95 % interval (Clopper and Pearson 1934)."""
    low = stats.beta.ppf(0.025, of, trials - of + 1) if of else 0.0
    high = stats.beta.ppf(0.975, of + 1, trials - of) if of < trials else 1.0
    return f"{100 * of / trials:.1f} % ({100 * low:.1f} to {100 * high:.1f})"


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--trials", type=int, default=200)
    parser.add_argument("--only", default="", help="designs whose name holds this")
    parser.add_argument("--curve", type=int, default=0, help="trials judged with the curve, too")
    args = parser.parse_args()
    curve = " with the curve: trials | false | seen |" if args.curve else ""
    print(f"| design | trials | false | 5 % light seen | limit | of the data |{curve}")
    print("|---" * (9 if args.curve else 6) + "|")
    traded = {}
    for name, design in DESIGNS.items():
        if args.only not in name:
            continue
        good, bad, most, data = [], [], [], []
        for s in range(args.trials):
            good.append(min(closest(coupons(s, design, False)[0], design).values(), default=9.0))
            rows, light = coupons(s, design, True)
            assert light is not None
            found, own = closest(rows, design), setting(rows, light)
            bad.append(min((v for k, v in found.items() if k in own), default=9.0))
            most.append(limit(rows, light, design))
            data.append(limit_of_data(rows, light, design))
        traded[name] = [[int(np.sum(np.array(v) < f)) for v in (good, bad)] for f in FACTORS]
        cells = [share(of, args.trials) for of in traded[name][FACTORS.index(1.0)]]
        cells.append(f"{100 * np.mean(most):.1f} %")
        cells.append("–" if np.isnan(data[0]) else f"{100 * np.mean(data):.1f} %")
        if args.curve:
            trials = range(10_000, 10_000 + args.curve)
            alarms = sum(bool(asked_again(coupons(s, design, False)[0], design)) for s in trials)
            seen = 0
            for s in trials:
                rows, light = coupons(s, design, True)
                assert light is not None
                seen += bool(asked_again(rows, design) & setting(rows, light))
            cells += [str(args.curve), share(alarms, args.curve), share(seen, args.curve)]
        print(f"| {name} | {args.trials} | {' | '.join(cells)} |", flush=True)
    heads = " | ".join(f"× {f:g}: false | seen" for f in FACTORS)
    print(f"\n| levels | {heads} |\n" + "|---" * (1 + 2 * len(FACTORS)) + "|")
    for name, row in traded.items():
        cells = [f"{100 * of / args.trials:.1f} %" for pair in row for of in pair]
        print(f"| {name} | {' | '.join(cells)} |")
    print("\n" + machine("numpy", "scipy"))


if __name__ == "__main__":
    main()
