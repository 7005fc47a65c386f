"""The uncertainty of loss at one setting, as a budget in the terms of JCGM 100:2008 (the GUM).

Loss is L = 1 − ȳ/ȳ_ref: ȳ the mean of n coupons' mass per mm fed, ȳ_ref that of the
n_ref reference coupons of the same block. Near L = 0 both sensitivities are 1/m per gram
and 1 per relative section; ``docs/explanation/budget.md`` derives every line.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from beadworth.errors import InputError, Problem
from beadworth.trial.record import Balance, Budget, BudgetLine, Spool

CONFIDENCE = 0.95


def welch_satterthwaite(contributions: Sequence[float], dofs: Sequence[float]) -> float:
    """Effective degrees of freedom, JCGM 100:2008 equation G.2b; infinite where all are."""
    combined = math.sqrt(sum(c * c for c in contributions))
    below = sum(c**4 / dof for c, dof in zip(contributions, dofs, strict=True))
    return combined**4 / below if below > 0 else math.inf


def coverage_factor(dof: float, confidence: float = CONFIDENCE) -> float:
    """Student's t for a two-sided interval; the normal value for infinite dof.

    Degrees of freedom are not cut down to a whole number (G.4.1 note 1 allows both).
    """
    from scipy.special import ndtri, stdtrit

    tail = (1 + confidence) / 2
    return float(ndtri(tail) if math.isinf(dof) else stdtrit(dof, tail))


def combine(lines: Sequence[BudgetLine], confidence: float = CONFIDENCE) -> Budget:
    """Combine independent contributions: root sum of squares, effective dof, expansion."""
    contributions = [line.contribution for line in lines]
    combined = math.sqrt(sum(c * c for c in contributions))
    dof = welch_satterthwaite(contributions, [line.dof for line in lines])
    factor = coverage_factor(dof, confidence)
    return Budget(tuple(lines), combined, dof, factor, factor * combined)


def line(
    source: str,
    *,
    value: float,
    divisor: float,
    distribution: str,
    unit: str,
    sensitivity: float,
    dof: float = math.inf,
    evaluation: str = "B",
) -> BudgetLine:
    """One row: standard u = value ÷ divisor, contribution = |sensitivity|·u."""
    standard = value / divisor
    return BudgetLine(
        source,
        "A" if evaluation == "A" else "B",
        distribution,
        value,
        divisor,
        unit,
        standard,
        sensitivity,
        abs(sensitivity) * standard,
        dof,
    )


def averaging(length_mm: float, correlation_mm: float) -> float:
    """Variance of the mean section over a length, relative to that at a point.

    With an exponential correlation exp(−|s|/λ) along the spool, the mean over ℓ has
    2·(x − 1 + e^−x)/x² of the point variance, x = ℓ/λ: near 1 for a short coupon,
    2·λ/ℓ for a long one.
    """
    x = length_mm / correlation_mm
    if x < 1e-3:  # series, the difference cancels
        return 1 - x / 3 + x * x / 12
    return 2 * (x + math.expm1(-x)) / (x * x)


def loss_budget(
    *,
    balance: Balance,
    spool: Spool,
    coupon_g: float,
    filament_mm: float,
    filament_diameter_mm: float,
    replicates: int,
    references: int,
) -> Budget:
    """The budget of loss at one setting: n coupons against n_ref references of the block.

    Parameters
    ----------
    coupon_g : float, > 0
        Mass of one coupon at no loss.
    filament_mm : float, > 0
        Filament per coupon (references are fed as much).
    replicates, references : int, ≥ 1

    Raises
    ------
    InputError
        Counts or masses that are not above zero.
    """
    if min(coupon_g, filament_mm, replicates, references) <= 0:
        raise InputError(
            Problem(
                "coupon mass, filament length, replicates and references must be above 0.",
                "uncertainty budget",
                min(coupon_g, filament_mm, replicates, references),
                "Correct the plan's inputs.",
            )
        )
    rows = []
    groups = (("coupons", replicates), ("references", references))
    for group, count in groups:
        weighings = math.sqrt(2 / count) / coupon_g  # tare and gross, mean of the group
        rows.append(
            line(
                f"readability, tare and gross, {group} (mean of {count})",
                value=balance.readability_g / 2,
                divisor=math.sqrt(3),
                distribution="rectangular",
                unit="g",
                sensitivity=weighings,
            )
        )
        if balance.repeatability_g:
            rows.append(
                line(
                    f"repeatability, tare and gross, {group} (mean of {count})",
                    value=balance.repeatability_g,
                    divisor=1.0,
                    distribution="normal",
                    unit="g",
                    sensitivity=weighings,
                    dof=balance.repeatability_dof or math.inf,
                    evaluation="A",
                )
            )
    if balance.linearity_g:
        rows.append(
            line(
                "linearity, coupon against reference (does not average out)",
                value=balance.linearity_g,
                divisor=math.sqrt(3),
                distribution="rectangular",
                unit="g",
                sensitivity=1 / coupon_g,
            )
        )
    rows += [_section_line(group, count, spool, filament_mm, filament_diameter_mm)
             for group, count in groups]  # fmt: skip
    return combine([row for row in rows if row.contribution > 0])


def _section_line(
    group: str, count: int, spool: Spool, filament_mm: float, diameter_mm: float
) -> BudgetLine:
    """Filament section: measured on each coupon's feed, or what the spool's tolerance leaves."""
    per_mm = 2 / diameter_mm / math.sqrt(count)
    if spool.diameter_u_mm is not None:
        return line(
            f"filament diameter measured per coupon, {group} (mean of {count})",
            value=spool.diameter_u_mm,
            divisor=1.0,
            distribution="normal",
            unit="mm",
            sensitivity=per_mm,
        )
    kept = math.sqrt(averaging(filament_mm, spool.correlation_length_mm))
    return line(
        f"filament diameter along the spool, {group} (mean of {count}, {filament_mm:g} mm each)",
        value=spool.diameter_tolerance_mm,
        divisor=math.sqrt(3),
        distribution="rectangular",
        unit="mm",
        sensitivity=per_mm * kept,
    )
