"""Whether a coupon should be made again, by other coupons alone: no curve enters.

Each is judged as it is weighed, those of its setting again with it, and all against all when the
last is weighed, since more is known of the scatter then. Tests are few, so that their levels add up
to what is promised (benchmarks/weigh_in_alarms.py).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from beadworth.capacity.model.block import Scatter
from beadworth.capacity.reading.beliefs import setting
from beadworth.capacity.reading.coupon_words import beside_others
from beadworth.capacity.reading.neighbours import Apart, held
from beadworth.trial import AGAIN_LEVEL, Reading

LEVEL = 0.006
"""Over the coupons of the trial, what a coupon is held to as it is weighed, and with it those of
its setting that were weighed before; times :attr:`.neighbours.Apart.level`."""
LAST_LEVEL = AGAIN_LEVEL
"""The same for all coupons once the last is weighed."""


@dataclass(frozen=True)
class Doubt:
    """A coupon that should be weighed or run again, and why."""

    coupon: str
    reason: str


@dataclass(frozen=True)
class ByOthers:
    """What other coupons say of a new one, and with it of those before."""

    beside: Apart | None
    """Beside those of its own setting."""
    reason: str
    """Why the new one should be made again, or nothing."""
    earlier: Doubt | None
    """The coupon before that lies farthest off."""
    asks: Apart | None
    """What the reason rests on."""
    doubted: tuple[Reading, Apart] | None
    """The coupon that ``earlier`` names, and what that rests on."""
    closest: dict[str, float]
    """Probability ÷ the level it is held to, of every coupon with a name that was judged; below 1
    it is asked for again."""


def by_others(known: Sequence[Reading], new: Reading, scatter: Scatter, coupons: int) -> ByOthers:
    """Hold a coupon, and those it bears on, against the others.

    Parameters
    ----------
    known : sequence of Reading
        Weighed before, of the rig and material, all masses above 0.
    new : Reading
    scatter : Scatter
        What is known of the scatter without them.
    coupons : int, ≥ 1
        Of the whole trial: levels are divided by it.
    """
    every = [*known, new]
    level = LEVEL / coupons
    tests = held(every, new, scatter)
    closest = {}
    if tests.found and new.coupon:
        closest[new.coupon] = tests.found.p / tests.found.level / level
    last = len(every) >= coupons
    own_level = LAST_LEVEL / coupons if last else level
    least, doubted = 1.0, None
    asked = known if last else [r for r in known if setting(r) == setting(new)]
    for old in [*asked, new] if last else asked:
        if old.coupon is None:
            continue
        found = tests.found if old is new else held(every, old, scatter).found
        if found is None:
            continue
        share = found.p / found.level / own_level
        closest[old.coupon] = min(share, closest.get(old.coupon, share))
        if old is not new and share < least:
            least, doubted = share, (old, found)
    found = tests.found
    asks = found and found.p / found.level < (own_level if last else level)
    return ByOthers(
        tests.own,
        beside_others(found, new) if found and asks else "",
        Doubt(str(doubted[0].coupon), beside_others(doubted[1], doubted[0])) if doubted else None,
        found if asks else None,
        doubted,
        closest,
    )
