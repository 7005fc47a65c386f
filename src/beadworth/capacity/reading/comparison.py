"""Two rigs or materials: what the candidate gains, where the readings can tell at all."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from beadworth.capacity.reading.interpolate import tested_ceilings
from beadworth.capacity.result import Ceiling, Fit, GroupFit
from beadworth.core import FitError, Problem, bead_section_mm2
from beadworth.rig import Rig
from beadworth.text import signed

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Span:
    """A value with its interval; parts that are not known are None."""

    value: float | None
    low: float | None
    high: float | None

    def times(self, factor: float) -> Span:
        """The same in another unit."""
        return Span(*(None if v is None else v * factor for v in (self.value, self.low, self.high)))


@dataclass(frozen=True)
class Difference:
    """Candidate less baseline at one temperature."""

    temperature_c: float
    difference_mm3_s: float | None
    """None where a ceiling is known from one side only."""
    low: float | None
    high: float | None
    percent: Span
    """Of the baseline's ceiling, as a fraction."""
    speed_mm_s: Span
    """Print speed at the stated bead."""
    probability_better: float | None
    """That the candidate's ceiling is the higher; None where a ceiling is one-sided."""
    resolved: bool
    """Whether the interval leaves zero out."""
    money_per_mm3_s: Span
    """Price ÷ added flow; all None where the difference holds zero or the price is unknown."""
    sentence: str


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
        share a delivery: each ceiling is a loss against its own low flow.

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
    rows = [
        _difference(a, b, base, cand, section, price, currency, fit.confidence)
        for a, b in _common(fit, base, cand)
    ]
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
        _notes(rows, base, cand, price),
        _sentence(rows),
    )


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
    base: GroupFit,
    cand: GroupFit,
    section: float,
    price: float | None,
    currency: str | None,
    confidence: float,
) -> Difference:
    both = _quantiles(base, a.temperature_c), _quantiles(cand, b.temperature_c)
    better: float | None = None
    if both[0] is not None and both[1] is not None:
        gap = both[1][:, None] - both[0][None, :]
        flow = _span(gap, confidence)
        percent = _span(gap / both[0][None, :], confidence)
        better = float((gap > 0).mean() + 0.5 * (gap == 0).mean())
    else:
        flow, percent = _one_sided(a, b)
    resolved = (flow.low is not None and flow.low > 0) or (flow.high is not None and flow.high < 0)
    money = _money(flow, price)
    return Difference(
        a.temperature_c,
        flow.value,
        flow.low,
        flow.high,
        percent,
        flow.times(1 / section),
        better,
        resolved,
        money,
        _row_sentence(a.temperature_c, flow, percent, better, resolved, money, currency),
    )


def _quantiles(group: GroupFit, temperature: float) -> Array | None:
    return next((p.flow_mm3_s for p in group.posteriors if p.temperature_c == temperature), None)


def _span(values: Array, confidence: float) -> Span:
    tail = 0.5 - confidence / 2
    low, middle, high = (float(v) for v in np.quantile(values, [tail, 0.5, 1 - tail]))
    return Span(middle, low, high)


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


def _row_sentence(
    temperature: float,
    flow: Span,
    percent: Span,
    better: float | None,
    resolved: bool,
    money: Span,
    currency: str | None,
) -> str:
    at = f"At {temperature:g} °C"
    if not resolved:
        if flow.low is None or flow.high is None:
            return f"{at} this trial cannot tell: a ceiling is known from one side only."
        assert better is not None or flow.value is None
        chance = "" if better is None else f"; better with probability {better:.2f}"
        return (
            f"{at} this trial cannot resolve a difference: "
            f"{signed(flow.low, 2)} to {signed(flow.high, 2)} mm³/s{chance}."
        )
    more = flow.low is not None and flow.low > 0
    word = "more" if more else "less"
    if flow.value is None:
        least = flow.low if more else -(flow.high or 0.0)
        return f"{at} the candidate delivers at least {least:.2f} mm³/s {word}."
    ends = sorted((abs(flow.low or 0.0), abs(flow.high or 0.0)))
    text = (
        f"{at} the candidate delivers {abs(flow.value):.2f} mm³/s {word} "
        f"({ends[0]:.2f} to {ends[1]:.2f}), {100 * abs(percent.value or 0.0):.0f} %"
    )
    if money.value is not None:
        unit = currency or "money"
        text += f"; {money.value:.2f} {unit} per added mm³/s"
    return f"{text}."


def _sentence(rows: list[Difference]) -> str:
    """The whole in one sentence."""
    told = [r for r in rows if r.resolved]
    n = len(rows)
    if not told:
        return f"At none of the {n} common temperatures can this trial tell the two apart."
    signs = {(r.low or 0.0) > 0 for r in told}
    if len(signs) > 1:
        return f"Of {n} common temperatures the two differ at {len(told)}, not all one way."
    word = "more" if signs == {True} else "less"
    if len(told) == n:
        every = "the one common temperature" if n == 1 else f"all {n} common temperatures"
        return f"The candidate delivers {word} at {every}."
    return f"The candidate delivers {word} at {len(told)} of {n} common temperatures; " + (
        "at the rest this trial cannot tell."
    )


def _notes(
    rows: list[Difference], base: GroupFit, cand: GroupFit, price: float | None
) -> tuple[str, ...]:
    notes = []
    if any(r.difference_mm3_s is None for r in rows):
        notes.append(
            "A ceiling known from one side bounds the difference from one side; no probability is "
            "given there."
        )
    if price is not None and any(r.money_per_mm3_s.high is None for r in rows):
        notes.append(
            "Money per added mm³/s is left out where the difference may be nothing: it has no "
            "upper end there."
        )
    if base.material != cand.material:
        notes.append("Materials differ, so the difference is of rig and material together."
                     if base.rig != cand.rig else "One rig, two materials.")  # fmt: skip
    return tuple(notes)
