"""The uncertainty of loss at one setting, as a budget in the terms of JCGM 100:2008 (the GUM).

Loss is L = 1 − ȳ/ȳ_ref: ȳ the mean of r coupons' mass per mm fed and per section, ȳ_ref that of
the n reference coupons of the same block. ``docs/explanation/budget.md`` has the model equation
and derives every line.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import date

from beadworth.core import CONFIDENCE, InputError, Problem, coverage_factor, filament_mass_g
from beadworth.text import count as noun_count
from beadworth.trial.record import Balance, Budget, BudgetLine, Spool

FEED_MM = 0.5
"""± half-width of the filament that ends up in a coupon: where the strand parts, what oozes
(assumption, common practice, no source)."""
MEASURED_U_MM = 0.005
"""Standard uncertainty taken for a diameter measured on a coupon's own feed where none is given:
a micrometer in three places (assumption, common practice, no source)."""


def effective_dof(lines: Sequence[BudgetLine]) -> float:
    """Effective degrees of freedom, JCGM 100:2008 equation G.2b; infinite where all are.

    Lines with the same ``shares`` rest on the same observations, so their contributions count
    as one component there.
    """
    pooled: dict[object, tuple[float, float]] = {}
    for place, row in enumerate(lines):
        key = row.shares or place
        variance, dof = pooled.get(key, (0.0, row.dof))
        pooled[key] = (variance + row.contribution**2, min(dof, row.dof))
    below = sum(variance**2 / dof for variance, dof in pooled.values())
    above = sum(variance for variance, _ in pooled.values()) ** 2
    return above / below if below > 0 else math.inf


def combine(lines: Sequence[BudgetLine], confidence: float = CONFIDENCE) -> Budget:
    """Independent contributions combined: root sum of squares, effective dof, expansion.

    Parameters
    ----------
    lines : sequence of BudgetLine
    confidence : float
        Of the expanded uncertainty.

    Returns
    -------
    Budget
        ``combined_u`` unrounded (JCGM 100:2008 equation 10), ``effective_dof`` not cut down.
    """
    combined = math.sqrt(sum(row.contribution**2 for row in lines))
    dof = effective_dof(lines)
    factor = coverage_factor(dof, confidence)
    return Budget(tuple(lines), combined, dof, factor, factor * combined)


def line(
    source: str,
    *,
    value: float,
    unit: str,
    sensitivity: float,
    distribution: str = "normal",
    divisor: float = 1.0,
    dof: float = math.inf,
    type_a: bool = False,
    shares: str = "",
) -> BudgetLine:
    """One row: standard u = value ÷ divisor, contribution = |sensitivity|·u."""
    standard = value / divisor
    contribution = abs(sensitivity) * standard
    return BudgetLine(
        source, "A" if type_a else "B", distribution, value, divisor, unit, standard, sensitivity,
        contribution, dof, shares,
    )  # fmt: skip


def rectangular(source: str, *, half_width: float, unit: str, sensitivity: float) -> BudgetLine:
    """A row known by its bounds alone: divisor √3 (JCGM 100:2008, 4.3.7)."""
    return line(source, value=half_width, unit=unit, sensitivity=sensitivity,
                distribution="rectangular", divisor=math.sqrt(3))  # fmt: skip


def averaging(length_mm: float, correlation_length_mm: float) -> float:
    """Variance of the mean section over a length, relative to that at a point.

    With the correlation exp(−|s|/λ) along the spool, the mean over ℓ keeps
    2·(x − 1 + e⁻ˣ)/x² of the variance, x = ℓ/λ: near 1 for a short coupon, 2·λ/ℓ for a long one.
    """
    x = length_mm / correlation_length_mm
    if x < 1e-3:  # the difference cancels; two terms of its series
        return 1 - x / 3 + x * x / 12
    return 2 * (x + math.expm1(-x)) / (x * x)


def unshared(
    filament_mm: float, correlation_length_mm: float, block: tuple[int, float] | None = None
) -> float:
    """Part of the variance of the section that a coupon does not share with its block.

    Coupons of a block follow one another on the spool in random order, so what all of them have
    alike cancels in a loss: the mean covariance of two of them, from the variance of the mean over
    the whole stretch.

    Parameters
    ----------
    block : (coupons, mm of filament from one to the next), optional
        Left out, coupons are taken as independent of one another.
    """
    own = averaging(filament_mm, correlation_length_mm)
    if block is None or block[0] < 2:
        return own
    count, feed = block
    whole = averaging(count * feed, correlation_length_mm)
    alike = (count * whole - averaging(feed, correlation_length_mm)) / (count - 1)
    return max(0.0, own - max(0.0, alike))


def coupon_lines(
    balance: Balance,
    spool: Spool,
    *,
    per_gram: float,
    filament_mm: float,
    diameter_mm: float,
    count: int = 1,
    who: str = "coupon",
    share: float = 1.0,
    block: tuple[int, float] | None = None,
) -> list[BudgetLine]:
    """What is independent from coupon to coupon, for the mean of ``count`` alike.

    Parameters
    ----------
    balance, spool
        ``spool.diameter_u_mm`` says that the diameter is measured on each coupon's own feed.
    per_gram : float, > 0
        Change of the result per gram of one of these coupons; 1 ÷ its mass for its relative mass.
    filament_mm, diameter_mm : float, > 0
        Filament fed per coupon and its nominal diameter.
    count : int, ≥ 1
    who : str
        How the rows name these coupons.
    share : float
        Change of the result per relative change of section or length: 1 − loss for a loss.
    block : (coupons, mm of filament from one to the next), optional
        The block they are part of; left out, they are taken as independent.

    Returns
    -------
    list of BudgetLine
        Sensitivities hold √2 for tare and gross and 1/√count for the mean.
    """
    one = 1 / math.sqrt(count)
    weighed = math.sqrt(2) * one * per_gram
    rows = [
        rectangular(
            f"readability, tare and gross, {who}",
            half_width=balance.readability_g / 2,
            unit="g",
            sensitivity=weighed,
        )
    ]
    if balance.repeatability_g:
        rows.append(
            line(
                f"repeatability{_measured(balance.repeatability_on)}, tare and gross, {who}",
                value=balance.repeatability_g,
                unit="g",
                sensitivity=weighed,
                dof=balance.repeatability_dof or math.inf,
                type_a=balance.repeatability_dof is not None,
                shares="repeatability",
            )
        )
    section = 2 / diameter_mm * share * one
    if spool.diameter_u_mm is not None:
        rows.append(
            line(f"measured filament diameter, {who}", value=spool.diameter_u_mm, unit="mm",
                 sensitivity=section)
        )  # fmt: skip
    elif spool.diameter_tolerance_mm:
        kept = math.sqrt(unshared(filament_mm, spool.correlation_length_mm, block))
        rows.append(
            rectangular(
                f"filament diameter along the spool, {who}",
                half_width=spool.diameter_tolerance_mm,
                unit="mm",
                sensitivity=section * kept,
            )
        )
    rows.append(
        rectangular(f"feed length, {who}", half_width=FEED_MM, unit="mm",
                    sensitivity=share * one / filament_mm)
    )  # fmt: skip
    return rows


def _measured(on: date | None) -> str:
    """When a property of the balance was measured; empty where it was not."""
    return f" measured {on}" if on else ""


def linearity_line(balance: Balance, mass_g: float) -> BudgetLine | None:
    """What neither replicates nor references average away: the balance's deviation from a line.

    Coupon and reference weigh nearly the same on the same tare, so most of it cancels; taken as
    independent for the two gross loads it is on the safe side.
    """
    if not balance.linearity_g:
        return None
    return rectangular(
        f"linearity{_measured(balance.linearity_on)}, coupons against references",
        half_width=balance.linearity_g,
        unit="g",
        sensitivity=math.sqrt(2) / mass_g,
    )


def loss_budget(
    *,
    balance: Balance,
    spool: Spool,
    filament_mm: float,
    diameter_mm: float,
    density_g_cm3: float,
    replicates: int,
    references: int,
    loss: float = 0.0,
    block: tuple[int, float] | None = None,
) -> Budget:
    """The budget of loss at one setting: r coupons against the n references of their block.

    Parameters
    ----------
    balance, spool
    filament_mm, diameter_mm, density_g_cm3 : float, > 0
        Filament fed per coupon (references too), and what it is.
    replicates, references : int, ≥ 1
    loss : float, 0 to 1
        The loss at which the budget is worked out.
    block : (coupons, mm of filament from one to the next), optional
        The block of these coupons, on the spool one after another; left out, they are taken as
        independent.

    Raises
    ------
    InputError
        A length, diameter, density or count that is not above 0, or a loss outside 0 to 1.
    """
    given = {
        "filament_mm": filament_mm,
        "diameter_mm": diameter_mm,
        "density_g_cm3": density_g_cm3,
        "replicates": replicates,
        "references": references,
        "1 - loss": 1 - loss,
    }
    wrong = [
        Problem(f"{name} is {value:g}; it must be above 0.", "uncertainty budget", value,
                "Correct it.")
        for name, value in given.items()
        if not value > 0
    ]  # fmt: skip
    if wrong:
        raise InputError(wrong)
    mass = filament_mass_g(filament_mm, diameter_mm, density_g_cm3)
    rows: list[BudgetLine] = []
    for word, count, gram in (("coupon", replicates, 1.0), ("reference", references, 1 - loss)):
        rows += coupon_lines(
            balance,
            spool,
            per_gram=gram / mass,
            filament_mm=filament_mm,
            diameter_mm=diameter_mm,
            count=count,
            who=noun_count(count, word),
            share=1 - loss,
            block=block,
        )
    common = linearity_line(balance, mass)
    return combine(rows + ([common] if common else []))
