"""A heater as first order plus dead time: identified from its log, with standard errors.

τ·h′ = K·u(t − θ) − h for the rise h over the room at duty u. The log's duty is a staircase, so
the model is solved exactly from step to step. For each time constant and dead time the gain and
the start are linear (variable projection); the two are found from a coarse grid, then refined.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from beadworth.bringup.heater_log import HeaterLog
from beadworth.bringup.result import HeaterResult, HeatUpResult, LossResult
from beadworth.core import FitError, fit_line
from beadworth.rig import SPECIFIC_HEAT_J_GK, SPECIFIC_HEAT_U, Metal
from beadworth.text import percent

Array = NDArray[np.float64]
Verdict = Literal["fits", "look closer", "does not fit"]

HELD_K = 3.0
"""A stretch counts as held while its temperatures stay within this span."""
HELD_LEAST_S = 60.0
HELD_RISE_K = 50.0
SLOPE_WINDOW_S = 8.0
FULL_DUTY = 0.95
LOOSE, SUSPECT = 0.6, 0.8
"""Shares of the expected warming below which parts sit loose, or may; assumed."""


def response(
    time_s: Array, duty: Array, time_constant_s: float, dead_time_s: float, before: float = 0.0
) -> Array:
    """Rise at the times of a log for gain 1, from rest.

    Parameters
    ----------
    time_s, duty : arrays, the same length
        Each duty holds until the next time; ``before`` is the duty before the first.
    """
    start = time_s - time_s[0]
    jumps = start + dead_time_s
    inside = jumps < start[-1]
    times = np.concatenate([start, jumps[inside]])
    order = np.argsort(times, kind="stable")
    times = times[order]
    # The staircase on each stretch: the last jump at or before its start.
    which = np.searchsorted(jumps, times[:-1], side="right") - 1
    level = np.where(which >= 0, duty[np.maximum(which, 0)], before)
    keep = np.exp(-np.diff(times) / time_constant_s)
    add = level * (1.0 - keep)
    out = [0.0]
    h = 0.0
    for a, b in zip(keep.tolist(), add.tolist(), strict=True):
        h = a * h + b
        out.append(h)
    values = np.empty(times.size)
    values[order] = out
    return values[: start.size]


def simulate(
    time_s: Array, duty: Array, *, gain_k: float, time_constant_s: float, dead_time_s: float,
    room_c: float,
) -> Array:  # fmt: skip
    """Temperatures of a heater that starts at room temperature, °C."""
    return room_c + gain_k * response(time_s, duty, time_constant_s, dead_time_s)


def identify(log: HeaterLog, *, room_c: float | None = None) -> HeaterResult:
    """Gain, time constant and dead time of a heater from its log.

    Parameters
    ----------
    log : HeaterLog
        From before or at switching on, best with warming, holding and cooling in it.
    room_c : float, optional
        Needed where the log starts warm; left out, the log starts at room temperature and the
        room is fitted.

    Returns
    -------
    HeaterResult
        Standard uncertainties from the scatter and the sensitivities at the best fit, widened
        by √((1 + r)/(1 − r)) for residuals with serial correlation r > 0, since neighbouring
        readings then tell less than their number says.

    Raises
    ------
    FitError
        Duty that never changes, or a temperature that does not follow it.
    """
    from scipy.optimize import least_squares

    time, seen, duty = log.time_s, log.temperature_c, log.duty
    if float(np.ptp(duty)) < 0.05 or float(np.ptp(seen)) < 5.0:
        raise FitError(
            f"duty changes by {np.ptp(duty):.2f} and temperature by {np.ptp(seen):.1f} K: too "
            "little to identify a heater.",
            "heater log",
            float(np.ptp(seen)),
            "Log a cold start to printing temperature at full duty, a hold, and cooling.",
        )
    warm = room_c is not None and abs(float(seen[0]) - room_c) > 5.0
    before = float(duty[0]) if warm else 0.0
    span, gap = float(time[-1] - time[0]), float(np.median(np.diff(time)))

    def design(tau: float, theta: float) -> Array:
        rise = response(time, duty, tau, theta, before)
        fade = np.exp(-(time - time[0]) / tau)
        return np.column_stack([rise, fade if room_c is not None else np.ones_like(time)])

    target = seen - (room_c if room_c is not None else 0.0)

    def rest(point: Array) -> Array:
        columns = design(math.exp(point[0]), point[1])
        linear = np.linalg.lstsq(columns, target, rcond=None)[0]
        return np.asarray(columns @ linear - target)

    taus = np.geomspace(max(2.0 * gap, span / 300.0), 5.0 * span, 16)
    thetas = np.concatenate([[0.0], np.geomspace(max(gap / 2.0, 0.1), span / 8.0, 11)])
    start = min(
        ((math.log(tau), theta) for tau in taus for theta in thetas),
        key=lambda p: float((rest(np.array(p)) ** 2).sum()),
    )
    best = least_squares(
        rest, np.array(start), bounds=([math.log(gap / 10.0), 0.0], [math.log(50.0 * span), span]),
        x_scale=[0.1, max(gap, 0.1)], xtol=1e-12, ftol=1e-12,
    )  # fmt: skip
    tau, theta = math.exp(best.x[0]), float(best.x[1])
    gain, level = np.linalg.lstsq(design(tau, theta), target, rcond=None)[0].tolist()
    if gain <= 0:
        raise FitError(
            "the temperature falls when duty rises.",
            "heater log",
            gain,
            "Check which column is which, and the sensor's wiring with the power off.",
        )
    return _with_errors(log, design, target, (gain, level, tau, theta), room_c)


def _with_errors(
    log: HeaterLog,
    design: Callable[[float, float], Array],
    target: Array,
    found: tuple[float, float, float, float],
    room_c: float | None,
) -> HeaterResult:
    gain, level, tau, theta = found
    time = log.time_s
    gap, span = float(np.median(np.diff(time))), float(time[-1] - time[0])

    def model(p: Array) -> Array:
        columns = design(p[2], max(p[3], 0.0))
        return np.asarray(columns @ p[:2])

    point = np.array([gain, level, tau, theta])
    steps = np.array([gain * 1e-4, 1e-3, tau * 1e-4, min(0.05 * gap, theta) or 0.05 * gap])
    sides = []
    for i, step in enumerate(steps):
        up, down = point.copy(), point.copy()
        up[i] += step
        down[i] = max(down[i] - step, 0.0) if i == 3 else down[i] - step
        sides.append((model(up) - model(down)) / (up[i] - down[i]))
    jacobian = np.column_stack(sides)
    residual = target - model(point)
    scatter2 = float((residual**2).sum()) / max(residual.size - 4, 1)
    serial = _serial(residual)
    widen = math.sqrt((1.0 + serial) / (1.0 - serial))
    covariance = np.linalg.pinv(jacobian.T @ jacobian) * scatter2 * widen**2
    u = np.sqrt(np.diag(covariance))
    rate = gain / tau
    u_rate = rate * math.sqrt(
        max(
            covariance[0, 0] / gain**2
            + covariance[2, 2] / tau**2
            - 2.0 * covariance[0, 2] / (gain * tau),
            0.0,
        )
    )
    notes = []
    if tau > span:
        notes.append(
            "The log is shorter than the time constant: gain and time constant hang together, "
            "only their ratio is sure. Log longer, with a hold and cooling."
        )
    if serial > 0.5:
        notes.append(
            "Neighbouring residuals look alike: the heater is not quite of first order. The "
            "uncertainties are widened for it."
        )
    return HeaterResult(
        gain_k=gain,
        u_gain_k=float(u[0]),
        time_constant_s=tau,
        u_time_constant_s=float(u[2]),
        dead_time_s=theta,
        u_dead_time_s=float(u[3]),
        rate_k_s=rate,
        u_rate_k_s=u_rate,
        room_c=room_c if room_c is not None else level,
        scatter_k=math.sqrt(scatter2),
        serial=serial,
        readings=time.size,
        notes=tuple(notes),
    )


def _serial(residual: Array) -> float:
    """Serial correlation of neighbours, 0 to 0.98; a negative one does not narrow anything."""
    total = float((residual**2).sum())
    if total == 0 or residual.size < 3:
        return 0.0
    return min(max(float((residual[1:] * residual[:-1]).sum()) / total, 0.0), 0.98)


def standing_loss(
    log: HeaterLog, *, heater_w: float, heater_u_w: float = 0.0, room_c: float
) -> LossResult:
    """Heat lost at rest, from the longest stretch over which the temperature was held.

    Raises
    ------
    FitError
        No stretch of a minute within 3 K at least 50 K over the room.
    """
    first, last = _longest_held(log, room_c)
    if last - first < 2 or log.time_s[last] - log.time_s[first] < HELD_LEAST_S:
        raise FitError(
            f"the log holds no temperature within {HELD_K:g} K for {HELD_LEAST_S:g} s at "
            f"least {HELD_RISE_K:g} K over the room.",
            "heater log",
            remedy="Hold the printing temperature for five minutes and log it.",
        )
    lasts = np.diff(log.time_s[first : last + 1])
    duty = log.duty[first:last]
    seconds = float(lasts.sum())
    mean = float((duty * lasts).sum()) / seconds
    celsius = float((log.temperature_c[first:last] * lasts).sum()) / seconds
    # Stored heat of a drift is not loss: the ends' difference over the stretch is in the spread.
    blocks = np.array_split(duty, min(8, duty.size))
    own = float(np.std([b.mean() for b in blocks], ddof=1)) / math.sqrt(len(blocks))
    power = mean * heater_w
    loss = power / (celsius - room_c)
    relative = math.hypot(own / mean if mean else 1.0, heater_u_w / heater_w)
    return LossResult(
        temperature_c=celsius,
        duty=mean,
        power_w=power,
        loss_w_k=loss,
        u_loss_w_k=loss * relative,
        seconds=seconds,
    )


def _longest_held(log: HeaterLog, room_c: float) -> tuple[int, int]:
    best, first = (0, 0), 0
    celsius, time = log.temperature_c, log.time_s
    for last in range(celsius.size):
        while float(np.ptp(celsius[first : last + 1])) > HELD_K:
            first += 1
        hot = celsius[first] > room_c + HELD_RISE_K and log.duty[first : last + 1].max() > 0
        if hot and time[last] - time[first] > time[best[1]] - time[best[0]]:
            best = first, last
    return best


def heat_up(
    log: HeaterLog,
    *,
    heater_w: float,
    block_mass_g: float,
    block_metal: Metal,
    loss_w_k: float,
    room_c: float,
    heater_u_w: float = 0.0,
) -> HeatUpResult:
    """Warming at full duty against what watts and block allow.

    The steepest line over 8 s at full duty is held against (P − loss) ÷ (m·c) at its own
    temperature. A loose cartridge warms slower and late; a loose sensor sees it slower.

    Raises
    ------
    FitError
        No 8 s at full duty in the log.
    """
    slopes = []
    time, celsius = log.time_s, log.temperature_c
    for i in range(time.size):
        j = int(np.searchsorted(time, time[i] + SLOPE_WINDOW_S))
        if j >= time.size or j - i < 3 or log.duty[i : j + 1].min() < FULL_DUTY:
            continue
        line = fit_line(time[i : j + 1].tolist(), celsius[i : j + 1].tolist(), x0=float(time[i]))
        slopes.append((line.slope, line.u_slope, float(celsius[i : j + 1].mean())))
    if not slopes:
        raise FitError(
            f"the log has no {SLOPE_WINDOW_S:g} s at full duty (at least {FULL_DUTY:g}).",
            "heater log",
            remedy="Log a cold start to printing temperature, once a second or faster.",
        )
    measured, u_measured, at = max(slopes)
    capacity = block_mass_g * SPECIFIC_HEAT_J_GK[block_metal]
    net = heater_w - loss_w_k * (at - room_c)
    expected = net / capacity
    u_expected = abs(expected) * math.hypot(SPECIFIC_HEAT_U, heater_u_w / max(net, 1e-9))
    share = measured / expected if expected > 0 else math.inf
    doubt = 2.0 * math.hypot(u_measured, share * u_expected) / expected if expected > 0 else 0.0
    verdict, advice = _judge_warming(share, doubt)
    return HeatUpResult(
        measured_k_s=measured,
        u_measured_k_s=u_measured,
        expected_k_s=expected,
        u_expected_k_s=u_expected,
        at_c=at,
        share=share,
        verdict=verdict,
        advice=advice,
    )


def _judge_warming(share: float, doubt: float) -> tuple[Verdict, str]:
    if share < SUSPECT:
        return ("does not fit" if share < LOOSE else "look closer"), (
            f"Warms at {percent(share, 0)} of what watts and block allow (±{percent(doubt, 0)}): "
            "with the power off and cold, check that cartridge and sensor sit tight, and the "
            "supply's voltage under load."
        )
    if share > 1.0 / SUSPECT:
        return "look closer", (
            f"Warms at {percent(share, 0)} of what was expected (±{percent(doubt, 0)}): "
            "the heater is stronger or the block lighter than recorded. Check both before "
            "trusting what rests on them."
        )
    allowed = f"Warms at {percent(share, 0)} of what watts and block allow (±{percent(doubt, 0)})."
    return "fits", allowed
