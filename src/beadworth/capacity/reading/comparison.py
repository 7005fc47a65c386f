"""Two rigs or materials: what the candidate gains, where the readings can tell at all."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from beadworth.capacity.reading.describe_difference import (
    comparison_notes,
    comparison_sentence,
    difference_sentence,
)
from beadworth.capacity.reading.difference import Difference, Span
from beadworth.capacity.reading.interpolate import tested_ceilings
from beadworth.capacity.reading.together import intervals_together, paired_differences
from beadworth.capacity.result import Ceiling, Fit, GroupFit
from beadworth.core import FitError, Problem, bead_section_mm2
from beadworth.rig import Rig
from beadworth.text import percent

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Comparison:
    """Baseline and candidate over their common temperatures."""

    baseline: str
    candidate: str
    baseline_material: str
    candidate_material: str
    loss: float
    confidence: float
    width_mm: float
    layer_mm: float
    price: float | None
    currency: str | None
    differences: tuple[Difference, ...]
    notes: tuple[str, ...]
    sentence: str


def compare(
    fit: Fit,
    baseline: str,
    candidate: str,
    *,
    material: str | None = None,
    candidate_material: str | None = None,
    width_mm: float = 0.45,
    layer_mm: float = 0.2,
    price: float | None = None,
    currency: str | None = None,
    rigs: Mapping[str, Rig] | None = None,
) -> Comparison:
    """Difference in ceiling at each temperature both were tested at.

    Parameters
    ----------
    fit : Fit
        Holding both groups.
    baseline, candidate : str
        Names of the rigs; the same one to compare two materials on it.
    material, candidate_material : str, optional
        Needed where a rig was tested with several; the candidate's defaults to the baseline's.
    width_mm, layer_mm : float
        Bead for the print speed.
    price, currency : optional
        Price of the upgrade; left out: the candidate's record in ``rigs``.

    Returns
    -------
    Comparison
        Intervals from the posteriors of both ceilings, taken as independent. The two need not
        share a delivery: each ceiling is a loss against its own low flow. ``low`` and ``high``
        hold at their own temperature; a difference is resolved where the ends that hold at all
        temperatures at once (:func:`.together.intervals_together`) leave zero out, and no
        curve misses its coupons by more than they scatter.

    Raises
    ------
    NotFoundError
        A rig or material that was not fitted.
    FitError
        No common temperature, or one group compared with itself.
    """
    base = fit.group(baseline, material)
    other = candidate_material or (material if candidate != baseline else None)
    if other is None and candidate != baseline:
        names = {g.material for g in fit.groups if g.rig == candidate}
        other = base.material if base.material in names else None
    cand = fit.group(candidate, other)
    record = (rigs or {}).get(candidate)
    if price is None and record is not None and candidate != baseline:
        price, currency = record.price, record.currency
    section = float(bead_section_mm2(width_mm, layer_mm))
    rows = _differences(fit, base, cand, section, price, currency)
    return Comparison(
        baseline,
        candidate,
        base.material,
        cand.material,
        fit.loss,
        fit.confidence,
        width_mm,
        layer_mm,
        price,
        currency,
        tuple(rows),
        comparison_notes(rows, base, cand, price, fit.confidence),
        comparison_sentence(rows, base, cand),
    )


APART = (
    "The rigs were weighed in two trials. Each loss is against the low-flow references of its own "
    "trial, so spool density and steps per mm cancel; what else differed between the days (grade "
    "or moisture of the filament, draught, a worn nozzle) is in the difference too."
)
"""The note of a comparison across two trials."""


def compare_apart(
    first: Fit,
    second: Fit,
    baseline: str | None = None,
    candidate: str | None = None,
    **options: Any,
) -> Comparison:
    """The same across two trials: the baseline as the first weighed it, the candidate as the other.

    Parameters
    ----------
    baseline, candidate : str, optional
        Left out: the one rig of the first (that the second did not weigh); the one rig of the
        second that is not the baseline.
    options
        As :func:`compare` takes them.

    Raises
    ------
    FitError
        Ceilings read at two losses, or no common temperature.
    NotFoundError
        A rig that its trial did not weigh, or several and none was named.
    """
    if first.loss != second.loss:
        raise FitError(
            f"the ceilings are read at {percent(first.loss, 2)} loss in one trial and at "
            f"{percent(second.loss, 2)} in the other.",
            "loss",
            second.loss,
            "Read both at the same loss.",
        )
    alone = {g.rig for g in first.groups} - {g.rig for g in second.groups}
    if baseline is None and len(alone) == 1:
        baseline = alone.pop()
    base = baseline or first.group(None, options.get("material")).rig
    others = [g for g in second.groups if g.rig != base]
    theirs = replace(second, groups=tuple(others or second.groups))
    cand = candidate or theirs.group(None, options.get("candidate_material")).rig
    both = replace(
        first,
        groups=(
            *(g for g in first.groups if g.rig == base),
            *(g for g in second.groups if g.rig == cand),
        ),
        ceilings=(
            *(c for c in first.ceilings if c.rig == base),
            *(c for c in second.ceilings if c.rig == cand),
        ),
        notes=tuple(dict.fromkeys((*first.notes, *second.notes))),
    )
    found = compare(both, base, cand, **options)
    return replace(found, notes=(APART, *found.notes))


def _differences(
    fit: Fit,
    base: GroupFit,
    cand: GroupFit,
    section: float,
    price: float | None,
    currency: str | None,
) -> list[Difference]:
    pairs = _common(fit, base, cand)
    together = _together(base, cand, [a.temperature_c for a, _ in pairs], fit.confidence)
    doubt = " and ".join(g.misfit for g in (base, cand) if g.misfit)
    return [
        _difference(a, b, (base, cand), together.get(a.temperature_c), doubt,
                    section, price, currency, len(pairs))
        for a, b in pairs
    ]  # fmt: skip


def _together(
    base: GroupFit, cand: GroupFit, temperatures: list[float], confidence: float
) -> dict[float, tuple[float, float]]:
    """Ends of the differences that hold at all temperatures known from both sides at once.

    Fits of release 0.1 have no draws; theirs are intervals with Bonferroni's level.
    """
    sides = [
        {p.temperature_c: p for p in g.posteriors if p.temperature_c in temperatures}
        for g in (base, cand)
    ]
    known = [t for t in temperatures if t in sides[0] and t in sides[1]]
    if not known:
        return {}
    alone = {t: _gap(base, cand, t) for t in known}
    drawn = [[side[t].draw_mm3_s for t in known] for side in sides]
    if any(d is None for side in drawn for d in side):
        level = 1.0 - (1.0 - confidence) / len(known)
        return {t: _ends(gap, level) for t, gap in alone.items()}
    a, b = (np.column_stack([np.asarray(d) for d in side]) for side in drawn)
    ends = intervals_together(paired_differences(a, b), confidence)
    made = {}
    for t, (low, high) in zip(known, ends, strict=True):
        # fewer draws stand behind these ends than behind those of one temperature alone
        near, far = _ends(alone[t], confidence)
        made[t] = (min(float(low), near), max(float(high), far))
    return made


def _common(fit: Fit, base: GroupFit, cand: GroupFit) -> list[tuple[Ceiling, Ceiling]]:
    if base is cand:
        raise FitError(
            Problem(
                f"{base.rig} with {base.material} cannot be compared with itself.",
                "candidate",
                base.rig,
                "Name another rig, or another material of the same rig.",
            )
        )
    theirs = {c.temperature_c: c for c in tested_ceilings(fit, cand)}
    own = tested_ceilings(fit, base)
    pairs = [(c, theirs[c.temperature_c]) for c in own if c.temperature_c in theirs]
    if not pairs:
        a = ", ".join(f"{c.temperature_c:g}" for c in own)
        b = ", ".join(f"{t:g}" for t in theirs)
        raise FitError(
            Problem(
                f"no temperature was tested on both: {base.rig} at {a} °C, {cand.rig} at {b} °C.",
                "temperatures",
                None,
                "Weigh coupons of both at one temperature at least.",
            )
        )
    return pairs


def _difference(
    a: Ceiling,
    b: Ceiling,
    groups: tuple[GroupFit, GroupFit],
    together: tuple[float, float] | None,
    doubt: str,
    section: float,
    price: float | None,
    currency: str | None,
    temperatures: int,
) -> Difference:
    better: float | None = None
    if together is not None:
        gap = _gap(*groups, a.temperature_c)
        flow = _span(gap, a.confidence)
        percent = _span(gap / _quantiles(groups[0], a.temperature_c)[None, :], a.confidence)
        better = float((gap > 0).mean() + 0.5 * (gap == 0).mean())
        ends: tuple[float | None, float | None] = together if temperatures > 1 else flow.ends
    else:
        flow, percent = _one_sided(a, b)
        ends = flow.ends
    low, high = ends
    resolved = not doubt and ((low is not None and low > 0) or (high is not None and high < 0))
    made = Difference(
        a.temperature_c,
        flow.value,
        flow.low,
        flow.high,
        percent,
        flow.times(1 / section),
        better,
        resolved,
        _money(flow, price) if resolved else Span(None, None, None),
        "",
        low,
        high,
        doubt,
    )
    return replace(made, sentence=difference_sentence(made, temperatures, currency))


def _quantiles(group: GroupFit, temperature: float) -> Array:
    return next(p.flow_mm3_s for p in group.posteriors if p.temperature_c == temperature)


def _gap(base: GroupFit, cand: GroupFit, temperature: float) -> Array:
    """Candidate less baseline over all pairs of their quantiles."""
    return _quantiles(cand, temperature)[:, None] - _quantiles(base, temperature)[None, :]


def _ends(values: Array, confidence: float) -> tuple[float, float]:
    tail = 0.5 - confidence / 2
    low, high = (float(v) for v in np.quantile(values, [tail, 1 - tail]))
    return low, high


def _span(values: Array, confidence: float) -> Span:
    low, high = _ends(values, confidence)
    return Span(float(np.median(values)), low, high)


def _one_sided(a: Ceiling, b: Ceiling) -> tuple[Span, Span]:
    """Bounds on the difference from bounds on the ceilings; both at their own confidence."""
    low = None if b.low is None or a.high is None else b.low - a.high
    high = None if b.high is None or a.low is None else b.high - a.low
    share_low = None if low is None or a.high is None else low / a.high
    share_high = None if high is None or a.low is None else high / a.low
    return Span(None, low, high), Span(None, share_low, share_high)


def _money(flow: Span, price: float | None) -> Span:
    if price is None or flow.low is None or flow.low <= 0:
        return Span(None, None, None)
    return Span(
        None if flow.value is None else price / flow.value,
        None if flow.high is None else price / flow.high,
        price / flow.low,
    )
