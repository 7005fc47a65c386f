"""Why a coupon is asked for again, in words."""

from __future__ import annotations

from beadworth.capacity.reading.coupon_prediction import CouponPrediction
from beadworth.capacity.reading.neighbours import Apart
from beadworth.text import join_words
from beadworth.trial import Reading

REMEDY = (
    "Look for a missing or extra piece, the right bag, the tare; then weigh it again, or run it "
    "again."
)
WHICH = "these two alone do not say which"
THIS_ONE = "the curve of the other coupons says it is this one"
HARDLY = 1e-5
"""Probability below which 'seldom' becomes 'hardly ever'."""


def out_of_line(p: CouponPrediction, new: Reading, level: float) -> str:
    """Why the curve asks for a coupon again, or nothing."""
    if p.p is None or p.p >= level:
        return ""
    return (
        f"{_off(p.excess)} than the other coupons let expect at {new.flow_mm3_s:g} mm³/s; "
        f"{_seldom(p.p)}. {REMEDY}"
    )


def beside_others(found: Apart, new: Reading, *, odd: bool = False) -> str:
    """Why other coupons ask for a coupon again; ``odd``: the curve says it is this one of two."""
    if found.faster:
        alone = found.faster == found.others
        whose = join_words(found.who) if len(found.who) == found.others else "coupons"
        where = "at a higher flow" if alone else "at its flow and the next"
        either = " One of them is wrong, this one or what it is held against." if alone else ""
        return (
            f"{_off(found.excess)} at {new.flow_mm3_s:g} mm³/s than {whose} {where}, where no less "
            f"is lost; {_seldom(found.p)}.{either} {REMEDY}"
        )
    if found.others > 1:
        return (
            f"{_off(found.excess)} than the other {found.others} coupons at "
            f"{new.flow_mm3_s:g} mm³/s; {_seldom(found.p)}. {REMEDY}"
        )
    other = found.who[0] if found.who else "the other coupon"
    return (
        f"{_off(found.excess)} than {other} at {new.flow_mm3_s:g} mm³/s; {_seldom(found.p)}. One "
        f"of the two is wrong, and {THIS_ONE if odd else WHICH}. {REMEDY}"
    )


def _off(excess: float) -> str:
    return f"{100 * abs(excess):.1f} % {'heavier' if excess > 0 else 'lighter'}"


def _seldom(p: float) -> str:
    """How rare it is, in words: odds of a model's tail have no digits worth reading."""
    return (
        "a good coupon is hardly ever as far off"
        if p < HARDLY
        else "a good coupon is seldom as far off"
    )
