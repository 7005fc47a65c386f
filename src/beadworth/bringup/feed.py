"""Extruder feed by two methods, and whether they agree."""

from __future__ import annotations

import math
from collections.abc import Sequence

from beadworth.bringup.doubts import gross_advice, is_gross
from beadworth.bringup.moves import effective_dof
from beadworth.bringup.result import FeedAgreement, FeedResult
from beadworth.core import FitError, InputError, Problem, coverage_factor, filament_mass_g
from beadworth.text import percent, signed_percent


def feed_by_marks(
    commanded_mm: Sequence[float], fed_mm: Sequence[float], *, reading_u_mm: float
) -> FeedResult:
    """Delivered ÷ commanded from a mark on the filament, measured before and after feeding.

    Parameters
    ----------
    commanded_mm, fed_mm : sequences, the same length, at least 1
    reading_u_mm : float, > 0
        Standard uncertainty of one fed length (a difference of two readings: √2 × one reading).

    Returns
    -------
    FeedResult
        Mean of the factors. Its uncertainty is the scatter of the mean or what the ruler alone
        would give, whichever is larger.
    """
    _check_pairs("commanded_mm", commanded_mm, "fed_mm", fed_mm)
    factors = [f / c for c, f in zip(commanded_mm, fed_mm, strict=True)]
    ruler = math.sqrt(sum((reading_u_mm / c) ** 2 for c in commanded_mm)) / len(factors)
    mean, u, dof = _mean(factors, ruler)
    return FeedResult(method="mark and measure", factor=mean, u=u, readings=len(factors), dof=dof)


def feed_by_mass(
    commanded_mm: Sequence[float],
    mass_g: Sequence[float],
    *,
    diameter_mm: float,
    density_g_cm3: float,
    mass_u_g: float,
    diameter_u_mm: float,
    density_u_g_cm3: float,
) -> FeedResult:
    """Delivered ÷ commanded from weighed extrudate.

    The mass of the commanded length (:func:`~beadworth.core.quantity.filament_mass_g`) is what it
    is held against, so the uncertainties of diameter (twice, it is squared) and density shift
    all readings alike and stay whatever their number.
    """
    _check_pairs("commanded_mm", commanded_mm, "mass_g", mass_g)
    should = [filament_mass_g(c, diameter_mm, density_g_cm3) for c in commanded_mm]
    factors = [m / s for m, s in zip(mass_g, should, strict=True)]
    balance = math.sqrt(sum((mass_u_g / s) ** 2 for s in should)) / len(factors)
    mean, u, dof = _mean(factors, balance)
    shared = mean * math.hypot(2.0 * diameter_u_mm / diameter_mm, density_u_g_cm3 / density_g_cm3)
    return FeedResult(
        method="mass",
        factor=mean,
        u=math.hypot(u, shared),
        readings=len(factors),
        dof=_finite(effective_dof([(u, dof), (shared, math.inf)])),
    )


def feed_agreement(
    marks: FeedResult, mass: FeedResult | None, *, steps_per_mm: float
) -> FeedAgreement:
    """Do both methods say the same, and which steps per mm do they call for?

    Agreement is tested as laboratories compare results: Eₙ = difference ÷ root of the sum of
    squared expanded (95 %) uncertainties, agreed up to 1 (ISO/IEC 17043, from memory). Where
    they agree, the mean weighted by 1/u² is taken. Where they do not, marks alone are taken and
    no correction is recommended before the reason is found: marks see what the drive feeds,
    mass what leaves the nozzle, by a diameter and density that may be wrong.
    """
    u_marks = coverage_factor(marks.dof) * marks.u
    if mass is None:
        agree, en, difference, result = True, 0.0, 0.0, marks
    else:
        difference = marks.factor - mass.factor
        en = abs(difference) / math.hypot(u_marks, coverage_factor(mass.dof) * mass.u)
        agree = en <= 1.0
        result = _together(marks, mass) if agree else marks
    new = steps_per_mm / result.factor
    expanded = coverage_factor(result.dof) * result.u
    significant = agree and abs(result.factor - 1.0) > expanded
    if not agree:
        advice = (
            f"Marks and mass differ by {signed_percent(difference, 2)} (Eₙ {en:.1f}): "
            "change nothing yet. Measure the filament's diameter in several places and its "
            "density, look for slip and for filament left in the nozzle."
        )
    elif is_gross(result.factor - 1.0):
        advice = gross_advice("the feed", result.factor - 1.0)
    elif significant:
        advice = (
            f"Set the extruder to {new:.2f} steps/mm: "
            f"it feeds {signed_percent(result.factor - 1, 2)} (±{percent(expanded, 2)})."
        )
    else:
        advice = (
            f"Leave the extruder at {steps_per_mm:g} steps/mm: "
            f"{signed_percent(result.factor - 1, 2)} is within ±{percent(expanded, 2)}."
        )
    return FeedAgreement(
        difference=difference,
        en=en,
        agree=agree,
        result=result,
        steps_now=steps_per_mm,
        steps_per_mm=new,
        u_steps_per_mm=new * result.u / result.factor,
        significant=significant,
        advice=advice,
    )


def _together(a: FeedResult, b: FeedResult) -> FeedResult:
    wa, wb = 1.0 / a.u**2, 1.0 / b.u**2
    share = wa / (wa + wb)
    u = 1.0 / math.sqrt(wa + wb)
    dof = effective_dof([(share * a.u, a.dof), ((1.0 - share) * b.u, b.dof)])
    return FeedResult(
        method="both",
        factor=share * a.factor + (1.0 - share) * b.factor,
        u=u,
        readings=a.readings + b.readings,
        dof=_finite(dof),
    )


MANY = 1e6
"""Degrees of freedom where an uncertainty is known from elsewhere (JSON has no infinity)."""


def _finite(dof: float) -> float:
    return min(dof, MANY)


def _mean(values: Sequence[float], instrument_u: float) -> tuple[float, float, float]:
    n = len(values)
    mean = sum(values) / n
    if n < 2:
        return mean, instrument_u, MANY
    own = math.sqrt(sum((v - mean) ** 2 for v in values) / (n - 1) / n)
    return (mean, own, float(n - 1)) if own >= instrument_u else (mean, instrument_u, MANY)


def _check_pairs(name_a: str, a: Sequence[float], name_b: str, b: Sequence[float]) -> None:
    if not a or len(a) != len(b):
        raise FitError(
            f"{len(a)} values of {name_a} and {len(b)} of {name_b} do not pair up.",
            f"{name_a}, {name_b}",
            remedy="Give one of each per feeding, at least one feeding.",
        )
    problems = [
        Problem(f"{value:g} is not above 0.", f"{name}, value {i}", value, "Check the reading.")
        for name, values in ((name_a, a), (name_b, b))
        for i, value in enumerate(values, 1)
        if not (math.isfinite(value) and value > 0)
    ]
    if problems:
        raise InputError(problems)
