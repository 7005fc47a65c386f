"""What matters: each input moved alone over its interval, the others at their middles.

No draws: the tornado is the same every time.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from beadworth.worth.model import Input, WorthRequest, evaluate, inputs_of
from beadworth.worth.monte_carlo import TAIL

OUTCOMES = ("hours_saved", "net", "break_even_months", "cost")


@dataclass(frozen=True)
class Swing:
    """One input and what it moves."""

    key: str
    label: str
    unit: str
    low_input: float
    high_input: float
    """Ends of its 95 % interval."""
    at_low: float
    at_high: float
    """The outcome there; infinite where it never pays."""

    @property
    def size(self) -> float:
        """How far it moves the outcome."""
        return abs(self.at_high - self.at_low) if self.at_high != self.at_low else 0.0


@dataclass(frozen=True)
class Tornado:
    """All inputs that move an outcome, the widest first."""

    outcome: str
    middle: float
    """With every input at the middle (median) of what is known of it."""
    swings: tuple[Swing, ...]


def tornado(asked: WorthRequest) -> Mapping[str, Tornado]:
    """The swings of every outcome in :data:`OUTCOMES`."""
    inputs = inputs_of(asked)
    rows = 1 + 2 * len(inputs)
    values = {}
    for place, item in enumerate(inputs):
        column = np.full(rows, float(item.quantile(0.5)))
        column[1 + 2 * place] = float(item.quantile(TAIL))
        column[2 + 2 * place] = float(item.quantile(1.0 - TAIL))
        values[item.key] = column
    out = evaluate(asked)(values)
    made = {}
    for name in OUTCOMES:
        found = out[name]
        swings = [
            Swing(
                item.key, item.label, *_described(asked, item),
                float(found[1 + 2 * place]), float(found[2 + 2 * place]),
            )
            for place, item in enumerate(inputs)
            if not item.known.exact
        ]  # fmt: skip
        moving = [s for s in swings if s.size > 0]
        ordered = sorted(moving, key=lambda s: (-s.size, s.label))
        made[name] = Tornado(name, float(found[0]), tuple(ordered))
    return made


def _described(asked: WorthRequest, item: Input) -> tuple[str, float, float]:
    """Unit and ends of an input; a ceiling in mm³/s, the mean over the prints that hang on it."""
    if not item.key.startswith("ceiling:"):
        return item.unit, float(item.quantile(TAIL)), float(item.quantile(1.0 - TAIL))
    sides = [side for p in asked.prints for side in (p.baseline, p.candidate)]
    mine = [side for side in sides if f"ceiling:{side.group}" == item.key]
    low, middle, high = np.mean([side.slowness for side in mine], axis=0)
    if mine[0].common:  # the rest of the interval is not this rig's own
        own = np.sqrt(1.0 - mine[0].common)
        low, high = (middle * (end / middle) ** own for end in (low, high))
    return "mm³/s", float(1.0 / low), float(1.0 / high) if high > 0 else np.inf
