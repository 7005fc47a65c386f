"""One weighing against what was weighed before it: its loss, and whether to do it again."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from beadworth.capacity.model.block import scatter_of
from beadworth.capacity.model.posterior_fit import Weighed
from beadworth.capacity.reading.beliefs import setting
from beadworth.capacity.reading.by_others import LEVEL, Doubt, by_others
from beadworth.capacity.reading.coupon_prediction import CouponPrediction, predict_coupon
from beadworth.capacity.reading.coupon_words import out_of_line
from beadworth.capacity.reading.neighbours import Apart
from beadworth.capacity.reading.odd_of_pair import curve_of, which_of_pairs
from beadworth.core import LOSS, display_step, filament_mass_g
from beadworth.material import Material
from beadworth.rig import Rig
from beadworth.text import percent
from beadworth.trial import MORE_THAN_FED, Reading, delivered_g_per_mm

Array = NDArray[np.float64]

HEAVIER = 1.08
"""A coupon this much above all slower and hotter ones of its rig per mm fed cannot be extruded:
diameter, density and steps/mm are the same for them all, so only their scatter, about 1 %, is
left."""
DEFAULT_COUPONS = 72
SUSPECT, QUIET = 3.0, 0.004
"""Robust standard deviations from the curve, each at least this, at which an earlier coupon is held
against the others."""
PLENTY = 14
"""Coupons beyond two per temperature from which a fit sets odd ones aside itself; with fewer, a
second fit without the coupon is made, which is quick then."""


@dataclass(frozen=True)
class CouponCheck:
    """What to tell the person at the balance."""

    loss: float | None
    """Against the delivery of its own temperature; None until that has a coupon."""
    u_loss: float | None
    """Standard uncertainty, scatter of one coupon included; None without a curve."""
    fitted_loss: float | None
    """Where the curve of the earlier readings has it."""
    low: float | None
    high: float | None
    """Range of loss a good coupon would fall in, 95 % for this coupon alone; None without a curve,
    and while the range is wider than ``WIDEST``."""
    p_value: float | None
    """Probability that a good coupon lies as far off: from the others of its own temperature and
    flow, else from the curve; None without either, and where the curve is too deep to judge by."""
    verdict: Literal["ok", "again"]
    reason: str
    """Why it should be weighed or run again; empty where it need not."""
    sentence: str
    """The answer in one line."""
    earlier: Doubt | None = None
    """The coupon typed before that the others, this one among them, put farthest out of line."""


def judge_coupon(
    previous: Sequence[Reading],
    new: Reading,
    *,
    coupons: int = DEFAULT_COUPONS,
    loss: float = LOSS,
    materials: Mapping[str, Material] | None = None,
    rigs: Mapping[str, Rig] | None = None,
    scatter: float | None = None,
) -> CouponCheck:
    """Answer a weighing at once.

    Parameters
    ----------
    previous : sequence of Reading
        What counts so far; voided readings are left out, and so is an equal of ``new``.
    new : Reading
    coupons : int
        Coupons of the whole trial: the level of the test is divided by it.
    loss : float
        Loss the curve is parametrised at.
    materials, rigs : mapping by name, optional
        Density and diameter for the check against what was fed.
    scatter : float > 0, optional
        As for :func:`fit`: a balance that is known to be coarse raises no alarm.

    Returns
    -------
    CouponCheck
        ``again`` for a mass that cannot be (more than was fed), and for a coupon that a good one
        would lie as far off as with a probability under :data:`.by_others.LEVEL` ÷ ``coupons``
        (Bonferroni). Where others of its temperature and flow were weighed, it is held against them
        (:func:`.neighbours.apart`), whatever the curve. Where none were, against faster ones
        (:func:`.faster.beside_faster`), and against the curve of all others, shape, ceiling,
        delivery and scatter all uncertain, as long as that has 10 % of loss or less there.
        ``earlier`` is one typed before that the others put out of line since: one of the same
        setting at the same level; any, at :data:`.by_others.LAST_LEVEL` ÷ ``coupons``, when the
        last coupon is weighed; by the curve at :data:`.by_others.LEVEL` ÷ ``coupons`` squared.
    """
    same = [
        r
        for r in previous
        if not r.void and r.rig == new.rig and r.material == new.material and r is not new
    ]
    impossible = _impossible(same, new, (materials or {}).get(new.material), (rigs or {}))
    if impossible:
        return _answer(None, impossible, None)
    usable = [r for r in same if r.net_g > 0]
    known, count = scatter_of(scatter), max(coupons, 1)
    others = by_others(usable, new, known, count)
    reason, doubt = which_of_pairs(others, usable, new, rigs, loss, known)
    weighed = curve_of(usable, new, rigs, loss, known)
    if weighed is None:
        here = [r for r in usable if r.temperature_c == new.temperature_c]
        answer = _plain(here, new, others.beside, reason)
    else:
        prediction = predict_coupon(weighed, new, display_step([r.mass_g for r in (*usable, new)]))
        if others.beside is None:
            reason = reason or out_of_line(prediction, new, LEVEL / count)
        answer = _answer(prediction, reason, new, others.beside)
    if reason:
        return answer
    if doubt:
        return _doubting(answer, doubt)
    if weighed is None:
        return answer
    return _with_earlier(answer, weighed, [*usable, new], rigs, loss, count)


def _with_earlier(
    answer: CouponCheck,
    weighed: Weighed,
    known: Sequence[Reading],
    rigs: Mapping[str, Rig] | None,
    loss: float,
    coupons: int,
) -> CouponCheck:
    """Put the question to the coupon typed before there was a curve to put it with.

    It is the one farthest from the curve; where it stands out at a glance, it is held against
    all others by the test a new one gets, at :data:`.by_others.LEVEL` ÷ ``coupons`` squared. A
    fit of many coupons has set aside what is out of line, so that its curve is that of the others
    already.
    """
    away = np.abs(np.nan_to_num(weighed.group.log_delivered - weighed.fitted))
    worst = int(np.argmax(away))
    old = weighed.group.readings[worst]
    usual = max(1.4826 * float(np.median(away)), QUIET)
    if old.coupon is None or away[worst] < SUSPECT * usual:
        return answer
    if any(setting(r) == setting(old) for r in known if r is not old):
        return answer  # the others of its own setting have judged it
    curve: Weighed | None = weighed
    if weighed.weight[worst] > 0:
        if len(away) - 2 * len(weighed.group.temperatures) > PLENTY:
            return answer
        others = [r for r in known if r is not old]
        curve = curve_of(others, old, rigs, loss, weighed.group.scatter)
    step = display_step([r.mass_g for r in known])
    # asked at every weighing, of the worst of all: Bonferroni over both
    reason = out_of_line(predict_coupon(curve, old, step), old, LEVEL / coupons**2) if curve else ""
    return _doubting(answer, Doubt(old.coupon, reason)) if reason else answer


def _doubting(answer: CouponCheck, earlier: Doubt) -> CouponCheck:
    words = f"{answer.sentence} Earlier, {earlier.coupon}: {earlier.reason}"
    return replace(answer, earlier=earlier, sentence=words)


def _impossible(
    same: Sequence[Reading], new: Reading, material: Material | None, rigs: Mapping[str, Rig]
) -> str:
    """Why the mass cannot be, or nothing."""
    if new.net_g <= 0:
        return f"a net mass of {new.net_g:g} g is no coupon: check mass and tare."
    if material is not None and new.rig in rigs:
        diameter = new.diameter_mm or rigs[new.rig].filament_diameter_mm
        fed = float(filament_mass_g(new.filament_mm, diameter, material.density_g_cm3))
        if new.net_g > MORE_THAN_FED * fed:
            return (
                f"{new.net_g:g} g is more than the {new.filament_mm:g} mm that were fed can weigh "
                f"({fed:.3g} g at {material.density_g_cm3:g} g/cm³): check unit and tare."
            )
    # at its flow or slower, and at its temperature or hotter, no less is delivered
    others = [
        r.net_g / r.filament_mm
        for r in same
        if r.net_g > 0 and r.flow_mm3_s <= new.flow_mm3_s and r.temperature_c >= new.temperature_c
    ]
    if len(others) >= 2 and new.net_g / new.filament_mm > HEAVIER * max(others):
        expected = max(others) * new.filament_mm
        return (
            f"{new.net_g:g} g is more than any coupon of this rig delivered at this flow or a "
            f"lower one (at most {expected:.3g} g for its length): check mass, tare and the fed "
            "length."
        )
    return ""


def _plain(here: Sequence[Reading], new: Reading, beside: Apart | None, reason: str) -> CouponCheck:
    """Before there is a curve: loss against the lowest flow of the temperature, no test."""
    anchors = [r for r in here if r.reference]
    if not anchors:
        lowest = min((r.flow_mm3_s for r in here), default=np.inf)
        anchors = [r for r in here if r.flow_mm3_s == lowest <= new.flow_mm3_s]
    if not anchors:
        return _answer(None, reason, new, beside)
    both = delivered_g_per_mm([*anchors, new])
    # how coupons scatter is not known yet, so no uncertainty is claimed
    alone = CouponPrediction(1.0 - float(both[-1] / both[:-1].mean()))
    return _answer(alone, reason, new, beside)


def _answer(
    p: CouponPrediction | None, reason: str, new: Reading | None, beside: Apart | None = None
) -> CouponCheck:
    verdict: Literal["ok", "again"] = "again" if reason else "ok"
    if p is None:
        words = "No delivery to compare with yet at this temperature."
        chance = beside.p if beside else None
        return CouponCheck(None, None, None, None, None, chance, verdict, reason, reason or words)
    words = f"Loss {percent(p.loss)}"
    if p.u_loss is not None:
        words += f" ± {percent(p.u_loss)}"
    if p.fitted is None:
        words += " against the lowest flow weighed; too few coupons for a curve to judge it by"
    else:
        words += f"; the curve so far has {percent(p.fitted)}"
        if p.low is None and not reason:
            words += " and is still too uncertain at this flow to judge a coupon by"
    words += f". Again: {reason}" if reason else "."
    chance = beside.p if beside else p.p
    return CouponCheck(p.loss, p.u_loss, p.fitted, p.low, p.high, chance, verdict, reason, words)
