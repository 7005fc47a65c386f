"""How often a comparison of two rigs calls a difference, with none there and with some.

Run: python benchmarks/comparison_calls.py [--trials 60] [--only NAME]

Prints a Markdown table. Each trial draws a curve for either rig from the eight classes of
random_curves.py and weighs coupons of both; 'alone' counts intervals of single temperatures that
leave zero out, 'called' what the comparison calls resolved.
"""

from __future__ import annotations

import argparse
from dataclasses import dataclass, field

import numpy as np
from machine import machine
from random_curves import weigh_pair

from beadworth import capacity

FLOWS = np.linspace(7.0, 19.0, 8)


@dataclass(frozen=True)
class Design:
    flows: np.ndarray = field(default_factory=lambda: FLOWS)
    replicates: int = 3
    noise: float = 0.005
    kinds: tuple[str, str] | None = None
    ceilings: dict[float, float] | None = None


SIX = {200.0 + 5 * i: 11.0 + 0.8 * i for i in range(6)}
DESIGNS = {
    "3 temperatures × 8 flows × 3, 0.5 % scatter": Design(),
    "kinked against exponential onset": Design(kinds=("one to four kinks", "exponential onset")),
    "one shape on both": Design(kinds=("smooth onset", "smooth onset")),
    "one temperature": Design(ceilings={215.0: 13.5}),
    "six temperatures × 8 flows × 2": Design(replicates=2, ceilings=SIX),
    "1 % scatter, 2 replicates": Design(noise=0.01, replicates=2),
    "ladders that end at 14 mm³/s": Design(flows=np.linspace(7.0, 14.0, 8)),
}
GAINS = (0.0, 0.5, 1.0, 2.0)


@dataclass
class Count:
    trials: int = 0
    rows: int = 0
    alone: int = 0
    alone_trials: int = 0
    called: int = 0
    called_trials: int = 0
    doubted: int = 0
    fits: int = 0
    fits_called: int = 0
    """Trials without a doubt on a curve, and those of them in which a difference is called."""
    wrong: int = 0
    """Differences called with the wrong sign."""

    def add(self, found: capacity.Comparison, gain: float) -> None:
        rows = found.differences
        alone = [(d.low or 0.0) > 0 or (d.high is not None and d.high < 0) for d in rows]
        called = [d.resolved for d in rows]
        doubted = any(d.doubt for d in rows)
        self.trials += 1
        self.rows += len(rows)
        self.alone += sum(alone)
        self.alone_trials += any(alone)
        self.called += sum(called)
        self.called_trials += any(called)
        self.doubted += doubted
        self.fits += not doubted
        self.fits_called += any(called)
        self.wrong += sum(d.resolved and (d.high or 1.0) < 0 for d in rows) if gain else 0


def run(seed: int, design: Design, gain: float) -> capacity.Comparison:
    rng = np.random.default_rng([61, seed, int(10 * gain)])
    rows = weigh_pair(
        rng, design.flows, design.replicates, gain_mm3_s=gain, kinds=design.kinds,
        ceilings=design.ceilings, noise=design.noise,
    )  # fmt: skip
    return capacity.compare(capacity.fit(rows), "baseline", "candidate")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--trials", type=int, default=60)
    parser.add_argument("--only", default="", help="designs whose name holds this")
    args = parser.parse_args()
    print(
        "| design | true gain mm³/s | trials | alone: intervals | alone: trials | "
        "called: intervals | called: trials | a curve does not fit | called where both fit | "
        "wrong sign |\n" + "|---" * 10 + "|"
    )
    for name, design in DESIGNS.items():
        if args.only not in name:
            continue
        for gain in GAINS if name == next(iter(DESIGNS)) else (0.0,):
            n = Count()
            for seed in range(args.trials):
                n.add(run(seed, design, gain), gain)
            share = [
                f"{100 * a / max(b, 1):.1f} %"
                for a, b in (
                    (n.alone, n.rows),
                    (n.alone_trials, n.trials),
                    (n.called, n.rows),
                    (n.called_trials, n.trials),
                    (n.doubted, n.trials),
                    (n.fits_called, n.fits),
                )
            ]
            print(
                f"| {name} | {gain:g} | {n.trials} | {' | '.join(share)} | {n.wrong} |", flush=True
            )
    print("\n" + machine("numpy", "scipy"))


if __name__ == "__main__":
    main()
