"""The weighed pair read: what the faster wall lost against the slower one."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from beadworth.core import CONFIDENCE, InputError, Place, coverage_factor
from beadworth.text import percent
from beadworth.witness.make import Witness
from beadworth.witness.weighed_pair import at_flow_shares, volumes_mm3

SCATTER = 0.005
"""Standard deviation of the mass of a wall about what was fed, relative, the balance apart: feed
and filament diameter over a few grams (common practice, no source)."""
BALANCE_G = 0.001
SMALL = 0.01
"""A loss below this is none that shows."""


@dataclass(frozen=True)
class PairVerdict:
    """What two masses say."""

    loss: float
    """Of the faster wall's flow, against the slower's."""
    u_loss: float
    low: float
    high: float
    """Ends at ``confidence``."""
    confidence: float
    cause: Literal["melt", "not the melt"] | None
    """None: cannot tell."""
    sentence: str


@dataclass(frozen=True)
class Wall:
    """One wall of a pair, as it was commanded."""

    mass_g: float
    flow_mm3_s: float
    share: float
    """Of its filament, laid when the melt zone held its own flow."""


def walls_of(witness: Witness) -> dict[str, Wall]:
    """The walls of a weighed pair by their codes."""
    volumes = volumes_mm3(witness.design)
    shares = at_flow_shares(witness.design, witness.reached)
    return {
        band.code: Wall(
            volumes[band.number - 1] * 1e-3 * witness.density_g_cm3, reach.flow_mm3_s, share
        )
        for band, reach, share in zip(witness.bands, witness.reached, shares, strict=True)
    }


def judge_pair(
    walls: Mapping[str, Wall],
    masses_g: Mapping[str, float],
    *,
    balance_g: float = BALANCE_G,
    scatter: float = SCATTER,
    confidence: float = CONFIDENCE,
) -> PairVerdict:
    """Loss of the faster wall, from the masses of both by their codes.

    loss = (1 − (m₂ ÷ c₂) ÷ (m₁ ÷ c₁)) ÷ share, with c what was commanded and share the part of the
    faster wall that was laid at its own flow.

    Raises
    ------
    InputError
        A mass missing, not above zero, or far from what was fed.
    """
    for code, wall in walls.items():
        mass = masses_g.get(code)
        if mass is None or not 0.3 * wall.mass_g < mass < 1.3 * wall.mass_g:
            raise InputError(
                f"wall {code} should weigh about {wall.mass_g:.2f} g.",
                Place.of_field("weighed pair", code), mass,
                "Weigh it without its skirt, in grams; look at the codes again.",
            )  # fmt: skip
    slow, fast = sorted(walls, key=lambda code: walls[code].flow_mm3_s)
    share = walls[fast].share
    ratio = masses_g[fast] / walls[fast].mass_g / (masses_g[slow] / walls[slow].mass_g)
    loss = (1 - ratio) / share
    u = (
        ratio
        / share
        * math.hypot(*(math.hypot(balance_g / masses_g[code], scatter) for code in walls))
    )
    reach = coverage_factor(confidence=confidence) * u
    low, high = loss - reach, loss + reach
    flow = walls[fast].flow_mm3_s
    if low > 0:
        cause: Literal["melt", "not the melt"] | None = "melt"
        said = (
            f"The melt falls short: at {flow:.1f} mm³/s it loses {percent(loss)} "
            f"({percent(low)} to {percent(high)})."
        )
    elif high < max(SMALL, 2 * reach):
        cause = "not the melt"
        said = (
            f"Not the melt: at {flow:.1f} mm³/s it loses at most {percent(max(high, 0))}. "
            "What you see comes from motion."
        )
    else:
        cause, said = (
            None,
            f"Cannot tell: {percent(loss)} ± {percent(reach)}. Make another pair.",
        )
    return PairVerdict(loss, u, low, high, confidence, cause, said)


def chance_to_see(
    loss: float,
    *,
    share: float = 0.9,
    mass_g: float = 2.0,
    balance_g: float = BALANCE_G,
    scatter: float = SCATTER,
    confidence: float = CONFIDENCE,
) -> float:
    """Probability that one pair shows a loss of this size as above zero."""
    from scipy.special import ndtr

    u = math.sqrt(2) * math.hypot(balance_g / mass_g, scatter) / share
    return float(ndtr(loss / u - coverage_factor(confidence=confidence)))
