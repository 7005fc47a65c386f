"""Starting gains of a heater's controller by two published rules.

Textbook (ideal) form, duty from 0 to 1, time in seconds, temperature in K:

    duty = Kc·(e + (1/Ti)·∫e dt + Td·de/dt)

Controllers that take three separate numbers want the parallel form
P = Kc, I = Kc/Ti (per second), D = Kc·Td (seconds); those whose output runs from 0 to 255 or 0
to 100 want all three times 255 or 100 (:func:`parallel`).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from beadworth.bringup.result import Gains, HeaterResult
from beadworth.core import InputError, Problem


def ziegler_nichols(rate_k_s: float, dead_time_s: float, *, derivative: bool = True) -> Gains:
    """Gains from the reaction curve: J.G. Ziegler, N.B. Nichols, Trans. ASME 64 (1942) 759.

    With the reaction rate R per unit of duty and the lag L: PID 1.2/(R·L), 2·L, 0.5·L; PI
    0.9/(R·L), L/0.3 (rule from memory). Lively: made for a quarter of the overshoot left after
    each swing.
    """
    _positive(rate_k_s, dead_time_s)
    if derivative:
        return Gains(
            rule="Ziegler–Nichols 1942",
            form="PID",
            kc_per_k=1.2 / (rate_k_s * dead_time_s),
            ti_s=2.0 * dead_time_s,
            td_s=0.5 * dead_time_s,
        )
    return Gains(
        rule="Ziegler–Nichols 1942",
        form="PI",
        kc_per_k=0.9 / (rate_k_s * dead_time_s),
        ti_s=dead_time_s / 0.3,
    )


def simc(
    gain_k: float, time_constant_s: float, dead_time_s: float, *, closed_s: float | None = None
) -> Gains:
    """Gains by SIMC: S. Skogestad, J. Process Control 13 (2003) 291.

    For first order plus dead time: Kc = τ ÷ (K·(τc + θ)), Ti = min(τ, 4·(τc + θ)), with the
    closed loop's time constant τc = θ as recommended there (rule from memory). Calm: a first-
    order heater gets no derivative term.
    """
    _positive(gain_k / time_constant_s, dead_time_s)
    closed = dead_time_s if closed_s is None else closed_s
    together = closed + dead_time_s
    return Gains(
        rule="SIMC 2003",
        form="PI",
        kc_per_k=time_constant_s / (gain_k * together),
        ti_s=min(time_constant_s, 4.0 * together),
    )


def starting_gains(heater: HeaterResult) -> tuple[Gains, ...]:
    """Both rules for an identified heater."""
    return (
        ziegler_nichols(heater.rate_k_s, heater.dead_time_s),
        simc(heater.gain_k, heater.time_constant_s, heater.dead_time_s),
    )


@dataclass(frozen=True)
class Parallel:
    """The same controller as three separate numbers."""

    p_per_k: float
    i_per_k_s: float
    d_s_per_k: float


def parallel(gains: Gains, full_output: float = 1.0) -> Parallel:
    """Parallel form for a controller whose output runs from 0 to ``full_output``.

    Raises
    ------
    InputError
        A full output not above 0: its gains would cool where they should heat.
    """
    if not (math.isfinite(full_output) and full_output > 0):
        raise InputError(
            f"a full output of {full_output:g} gives no gains.",
            "full output",
            full_output,
            "Give what the controller calls full power: 1, 100 or 255.",
        )
    p = gains.kc_per_k * full_output
    return Parallel(p, p / gains.ti_s, p * gains.td_s)


def _positive(rate: float, dead: float) -> None:
    problems = [
        Problem(
            f"a {what} of {value:g} {unit} gives no gains.",
            what,
            value,
            "Log faster than the dead time, from before the heater is switched on.",
        )
        for what, value, unit in (("rate", rate, "K/s"), ("dead time", dead, "s"))
        if not value > 0
    ]
    if problems:
        raise InputError(problems)
