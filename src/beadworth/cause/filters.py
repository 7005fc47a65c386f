"""What published command filters leave of a vibration, and the ripple a speed change leaves.

A command filter gives a move in a few weighted copies so that the vibrations of the copies cancel:
two impulses and three (N.C. Singer, W.P. Seering, J. Dyn. Sys. Meas. Control 112 (1990) 76), and
the extra-insensitive three that allow a little at the design frequency and are right over a wider
band (W. Singhose, W. Seering, N. Singer, J. Mech. Design 116 (1994) 654; undamped weights).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal, get_args

import numpy as np

from beadworth.core import InputError

FilterKind = Literal["none", "two-impulse", "three-impulse", "extra-insensitive"]
ALLOWED = 0.05
"""Residual that the extra-insensitive filter allows at its design frequency."""


@dataclass(frozen=True)
class Impulses:
    """Copies of a command: when (s) and how much of it (sum 1)."""

    times_s: np.ndarray
    weights: np.ndarray


def impulses(kind: FilterKind, hertz: float, damping: float = 0.0) -> Impulses:
    """Impulses of a filter designed for a frequency and damping.

    Parameters
    ----------
    kind : str
    hertz : float, > 0
        Undamped frequency the filter is designed for.
    damping : float, 0 to below 1
        Damping ratio; the extra-insensitive filter takes its undamped weights.

    Returns
    -------
    Impulses
        Half a damped period apart. With K = exp(−ζπ/√(1−ζ²)): [1, K]/(1+K),
        [1, 2K, K²]/(1+K)², and [(1+V)/4, (1−V)/2, (1+V)/4] with V = :data:`ALLOWED`.

    Raises
    ------
    InputError
    """
    if not (hertz > 0 and 0 <= damping < 1):
        raise InputError(
            f"{hertz:g} Hz with a damping ratio of {damping:g} is no vibration.", "filter",
            hertz, "Give a frequency above 0 and a damping ratio from 0 to below 1.",
        )  # fmt: skip
    root = math.sqrt(1 - damping**2)
    k = math.exp(-damping * math.pi / root)
    weights = {
        "none": [1.0],
        "two-impulse": [1 / (1 + k), k / (1 + k)],
        "three-impulse": [1 / (1 + k) ** 2, 2 * k / (1 + k) ** 2, k**2 / (1 + k) ** 2],
        "extra-insensitive": [(1 + ALLOWED) / 4, (1 - ALLOWED) / 2, (1 + ALLOWED) / 4],
    }[kind]
    return Impulses(np.arange(len(weights)) / (2 * hertz * root), np.array(weights))


def residual(filter_: Impulses, hertz: np.ndarray, damping: float = 0.0) -> np.ndarray:
    """Share of the vibration that a filter leaves, against no filter.

    Parameters
    ----------
    filter_ : Impulses
    hertz : array, > 0
        True undamped frequency.
    damping : float, 0 to below 1
        True damping ratio.

    Returns
    -------
    array
        V = exp(−ζωtₙ)·√(C² + S²), C = Σ A·exp(ζωt)·cos(ω_d·t), S with sin (Singer & Seering 1990).
    """
    w = 2 * np.pi * np.asarray(hertz, float)[..., None]
    t, a = filter_.times_s, filter_.weights
    grown = a * np.exp(damping * w * (t - t[-1]))
    angle = w * math.sqrt(1 - damping**2) * t
    return np.asarray(np.hypot((grown * np.cos(angle)).sum(-1), (grown * np.sin(angle)).sum(-1)))


def filters_left(hertz: float, damping: float, error: np.ndarray) -> dict[FilterKind, np.ndarray]:
    """What each filter leaves where the true frequency is off by ``error`` (0.1: 10 % higher)."""
    true = hertz * (1 + np.asarray(error, float))
    return {
        kind: residual(impulses(kind, hertz, damping), true, damping)
        for kind in get_args(FilterKind)
    }


def ripple_mm(
    acceleration_mm_s2: np.ndarray, speed_step_mm_s: float, hertz: float, damping: float
) -> np.ndarray:
    """Ripple that a change of speed at constant acceleration leaves, mm (its first crest at most).

    The ramp is a step of acceleration and its end a step back: each leaves a vibration of
    a/(ω²·√(1−ζ²)), the first decayed by exp(−ζωτ) over the ramp τ = Δv/a. They add or cancel with
    the phase ω_d·τ, so ripple does not grow evenly with acceleration.

    Parameters
    ----------
    acceleration_mm_s2 : array, > 0
    speed_step_mm_s : float, > 0
    hertz, damping : float
        Undamped frequency and damping ratio of the axis.
    """
    a = np.asarray(acceleration_mm_s2, float)
    w, root = 2 * math.pi * hertz, math.sqrt(1 - damping**2)
    ramp_s = speed_step_mm_s / a
    first = np.exp((-damping + 1j * root) * w * ramp_s)
    return np.asarray(a / (w * w * root) * np.abs(1 - first))


def worst_ripple_mm(acceleration_mm_s2: np.ndarray, hertz: float, damping: float) -> np.ndarray:
    """Most that any change of speed can leave at an acceleration, mm: 2·a/(ω²·√(1−ζ²))."""
    w, root = 2 * math.pi * hertz, math.sqrt(1 - damping**2)
    return np.asarray(2 * np.asarray(acceleration_mm_s2, float) / (w * w * root))


def damping_of_decrement(decrement: float) -> float:
    """Damping ratio of a logarithmic decrement δ = ln(x₁/x₂): ζ = δ/√(4π² + δ²) (textbook)."""
    return decrement / math.sqrt(4 * math.pi**2 + decrement**2)


def decrement_of_peaks(peaks: np.ndarray) -> float:
    """Logarithmic decrement of successive crests: minus the slope of their logarithms.

    Parameters
    ----------
    peaks : array (n,), > 0, n ≥ 2
        Heights of crests one period apart.
    """
    logs = np.log(np.asarray(peaks, float))
    return float(-np.polyfit(np.arange(logs.size), logs, 1)[0])
