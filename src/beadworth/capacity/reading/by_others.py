"""Whether a coupon should be made again, by other coupons alone: no curve enters.

Each is judged as it is weighed, those of its setting again with it, and all against all when the
last is weighed, since more is known of the scatter then. Tests are few, so that their levels add up
to what is promised (benchmarks/weigh_in_alarms.py).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from beadworth.capacity.model.block import Scatter
from beadworth.capacity.reading.coupon_words import below_faster, beside_others
from beadworth.capacity.reading.faster import beside_faster
from beadworth.capacity.reading.neighbours import Apart, apart, setting
from beadworth.trial import AGAIN_LEVEL, Reading

LEVEL = 0.008
"""Chance that a whole trial of good coupons has one asked for again as it is weighed (Bonferroni);
the same for those of its setting that were weighed before."""
LAST_LEVEL = AGAIN_LEVEL
"""The same for all coupons together once the last is weighed."""


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
    beside, found = _held(every, new, scatter)
    closest = {new.coupon: found.p / level} if found and new.coupon else {}
    last = len(every) >= coupons
    own_level = LAST_LEVEL / coupons if last else level
    worst: tuple[float, Doubt | None] = (1.0, None)
    asked = known if last else [r for r in known if setting(r) == setting(new)]
    for old in [*asked, new] if last else asked:
        if old.coupon is None:
            continue
        old_beside, old_found = _held(every, old, scatter)
        if old_found is None:
            continue
        share = old_found.p / own_level
        closest[old.coupon] = min(share, closest.get(old.coupon, share))
        if old is not new and share < worst[0]:
            worst = share, Doubt(old.coupon, _why(old_beside, old_found, old, own_level))
    return ByOthers(
        beside, _why(beside, found, new, own_level if last else level), worst[1], closest
    )


def _held(
    every: Sequence[Reading], coupon: Reading, scatter: Scatter
) -> tuple[Apart | None, Apart | None]:
    """Beside its setting; and that, or beside faster ones where it stands alone."""
    beside = apart(every, coupon, scatter)
    return beside, beside or beside_faster(every, coupon, scatter)


def _why(beside: Apart | None, found: Apart | None, coupon: Reading, level: float) -> str:
    words = below_faster if beside is None else beside_others
    return words(found, coupon, level)
