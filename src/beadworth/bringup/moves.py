"""Measured moves against commanded ones: zero error and scale error, each by itself."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Literal

from beadworth.bringup.doubts import gross_advice, is_gross
from beadworth.bringup.result import AxisResult, SquareResult
from beadworth.core import FitError, InputError, Problem, coverage_factor, fit_line
from beadworth.text import percent, signed, signed_percent


def effective_dof(parts: Sequence[tuple[float, float]]) -> float:
    """Degrees of freedom of a sum in squares (Welch–Satterthwaite, JCGM 100:2008, G.4.1).

    ``parts`` are (standard uncertainty, its degrees of freedom).
    """
    total = sum(u * u for u, _ in parts)
    rest = sum(u**4 / dof for u, dof in parts if math.isfinite(dof) and dof > 0)
    return total * total / rest if rest > 0 else math.inf


def move_correction(
    axis: Literal["x", "y", "z"],
    commanded_mm: Sequence[float],
    measured_mm: Sequence[float],
    *,
    steps_per_mm: float,
    reading_u_mm: float,
    ruler_u_share: float = 0.0,
) -> AxisResult:
    """Scale and zero error of an axis, and the steps per mm they call for.

    Parameters
    ----------
    axis : 'x', 'y' or 'z'
    commanded_mm, measured_mm : sequences, at least 2 different lengths
    steps_per_mm : float, > 0
        What the controller was set to while measuring.
    reading_u_mm : float, > 0
        Standard uncertainty of one reading: a line of 0.5 mm read to the nearest has
        0.5 ÷ √12 ≈ 0.15 mm.
    ruler_u_share : float, ≥ 0
        Relative standard uncertainty of the ruler's own scale; it shifts every length alike,
        so no number of readings removes it.

    Returns
    -------
    AxisResult
        The scale error is the slope of the line less 1 and is what steps per mm can mend. The
        zero error (where the line starts: play, a ruler that slipped) is separated, since
        steps per mm do not correct it. The zero of the ruler is read once and taken off every
        length, so its reading's uncertainty is added to that of the zero error. A correction is
        recommended only where the scale error exceeds its 95 % uncertainty, and none where it is
        beyond :data:`~beadworth.bringup.doubts.GROSS_SHARE`.

    Raises
    ------
    FitError
        Fewer than two lengths, gaps, or measured lengths that do not grow with commanded ones.
    InputError
        A value that must be above 0 and is not.
    """
    _above_zero(steps_per_mm=steps_per_mm, reading_u_mm=reading_u_mm)
    line = fit_line(commanded_mm, measured_mm, sigma=reading_u_mm)
    if line.slope <= 0:
        raise FitError(
            f"measured lengths of {axis} do not grow with commanded ones (slope {line.slope:.3g}).",
            "measured moves",
            line.slope,
            "Check which column is commanded and which measured, and the signs; then measure "
            "again. Nothing is to be set.",
        )
    own_scatter = line.scatter >= reading_u_mm
    dof = float(line.dof) if own_scatter else math.inf
    scale = line.slope - 1.0
    u_scale = math.hypot(line.u_slope, ruler_u_share * line.slope)
    k = coverage_factor(effective_dof([(line.u_slope, dof), (ruler_u_share, math.inf)]))
    u_zero = math.hypot(line.u_intercept, reading_u_mm)
    k_zero = coverage_factor(effective_dof([(line.u_intercept, dof), (reading_u_mm, math.inf)]))
    new = steps_per_mm / line.slope
    significant = abs(scale) > k * u_scale
    zero = abs(line.intercept) > k_zero * u_zero
    if is_gross(scale):
        advice = gross_advice(f"moves of {axis}", scale)
    elif significant:
        advice = (
            f"Set {axis} to {new:.3f} steps/mm: moves are {signed_percent(scale, 3)} off, "
            f"±{percent(k * u_scale, 3)}."
        )
    else:
        advice = (
            f"Leave {axis} at {steps_per_mm:g} steps/mm: {signed_percent(scale, 3)} is within the "
            f"±{percent(k * u_scale, 3)} of ruler and readings."
        )
    if zero:
        advice += (
            f" The line starts at {signed(line.intercept, 2)} mm: play or a slipped ruler, "
            "which steps per mm do not correct."
        )
    return AxisResult(
        axis=axis,
        scale_error=scale,
        u_scale=u_scale,
        zero_mm=line.intercept,
        u_zero_mm=u_zero,
        scatter_mm=line.scatter,
        readings=len(commanded_mm),
        coverage=k,
        scale_significant=significant,
        zero_significant=zero,
        steps_now=steps_per_mm,
        steps_per_mm=new,
        u_steps_per_mm=new * u_scale / line.slope,
        advice=advice,
    )


def squareness(
    x_mm: float, y_mm: float, diagonal_up_mm: float, diagonal_down_mm: float, reading_u_mm: float
) -> SquareResult:
    """How far x and y are from square, from the diagonals of a rectangle.

    Parameters
    ----------
    x_mm, y_mm : float, > 0
        Sides of the rectangle, measured or commanded: their error hardly matters.
    diagonal_up_mm, diagonal_down_mm : float, > 0
        Front left to back right, and back left to front right.
    reading_u_mm : float, > 0
        Standard uncertainty of one diagonal.

    Returns
    -------
    SquareResult
        By the law of cosines cos γ = (up² − down²) ÷ (4·x·y) for the angle γ between the axes;
        a ruler's scale error cancels, since it stretches both diagonals.
    """
    _above_zero(
        x_mm=x_mm,
        y_mm=y_mm,
        diagonal_up_mm=diagonal_up_mm,
        diagonal_down_mm=diagonal_down_mm,
        reading_u_mm=reading_u_mm,
    )
    cosine = (diagonal_up_mm**2 - diagonal_down_mm**2) / (4.0 * x_mm * y_mm)
    longest = math.hypot(x_mm, y_mm)
    far = [d for d in (diagonal_up_mm, diagonal_down_mm) if abs(d / longest - 1.0) > 0.1]
    if far or abs(cosine) >= 1:
        raise InputError(
            f"diagonals of {diagonal_up_mm:g} and {diagonal_down_mm:g} mm do not belong to a "
            f"rectangle of {x_mm:g} × {y_mm:g} mm ({longest:.1f} mm).",
            "diagonals",
            diagonal_up_mm,
            "Measure both from corner to opposite corner.",
        )
    u_cosine = reading_u_mm * math.hypot(diagonal_up_mm, diagonal_down_mm) / (2.0 * x_mm * y_mm)
    skew = 100.0 * cosine / math.sqrt(1.0 - cosine * cosine)
    u = 100.0 * u_cosine
    expanded = coverage_factor() * u
    significant = abs(skew) > expanded
    lean = "right" if skew > 0 else "left"
    advice = (
        f"y leans {abs(skew):.2f} mm to the {lean} per 100 mm (±{expanded:.2f}): true the frame, "
        "then measure again."
        if significant
        else f"Square within what was measured: {signed(skew, 2)} ± {expanded:.2f} mm per 100 mm."
    )
    return SquareResult(
        skew_mm_per_100=skew,
        u_mm_per_100=u,
        angle_deg=math.degrees(math.acos(cosine)),
        significant=significant,
        advice=advice,
    )


def _above_zero(**values: float) -> None:
    bad = [
        Problem(f"{value:g} is not above 0.", name, value, "Check the value and its unit.")
        for name, value in values.items()
        if not (math.isfinite(value) and value > 0)
    ]
    if bad:
        raise InputError(bad)
