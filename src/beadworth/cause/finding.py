"""What is said of a cause once it is found: its period, and its size in µm.

A photo shows slopes, not heights. For small slopes a matt surface lit from one side changes its
brightness by gain × slope (Lambert's cosine law: the gain is the tangent of the lamp's angle from
the wall's normal, along the wall and up it), less what light from all sides fills in; up the wall
the rounding of each bead, much steeper than any wave, leaves less of it. A flank of a bead leans
with the neighbour that it meets, so that a layer shows the mean of its slopes to both; where one
flank is lit better, also what the two differ by. A wave of amplitude A then shows as A times the
root of (gx·2π·kx ± gz·sin(2π·kz)/h)² + (q·gz·(1 − cos(2π·kz))/h)². The gains are known to a factor
of about two, so is the size; calipers settle it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from beadworth.cause.profile import FEWEST_CYCLES, Basis, wave_power
from beadworth.cause.ringing import Ringing
from beadworth.cause.spectrum import SHARED
from beadworth.cause.trying import Reading, Tried
from beadworth.cause.wall import CLOCK_U, WallSide
from beadworth.core import FitError, coverage_factor

GAINS, GAIN_LOG_SD = (0.75, 0.50), 0.45
"""Change of brightness by slope along the wall and up it, and the standard deviation of their
logarithms: medians of simulated walls (a lamp 52° to 76° off the normal, rounded beads), which
scatter by 0.15 to 0.3; a real lamp may lie further off."""
FLANKS = 0.25
"""By how much more of a bead's light one of its two flanks, up and down, gives than the other: half
their difference by their mean. Fitted on simulated walls, like the gain up the wall."""
RULER_U = 0.0015
"""Relative standard uncertainty of lengths along a rectified wall; printed by the benchmark."""
WIDER = 1.3
"""Standard uncertainties from a likelihood are taken this much wider: the floor is estimated too.
Chosen on simulated walls."""
COUNT_U = 0.001
"""Relative standard uncertainty of heights counted in layers."""
SLOW_CYCLES = 6.0
"""Cycles over the wall under which the trend, taken out, draws a period along; by 0.12 ÷ cycles².
Both chosen on simulated walls."""
_DRAWS = 2000


@dataclass(frozen=True)
class Interval:
    """A value with its 95 % interval."""

    value: float
    low: float
    high: float

    @classmethod
    def around(cls, value: float, u: float, least: float = -math.inf) -> Interval:
        """Of a value with a standard uncertainty (normal); the low end is at least ``least``."""
        reach = coverage_factor() * u
        return cls(value, max(least, value - reach), value + reach)


def period_interval(tried: Tried, readings: Sequence[Reading]) -> Interval:
    """Period of a source with its interval, from the walls and what the rig says together.

    Near its best value the log likelihood is the power of its wave (Gaussian noise); a parabola
    through it gives the standard uncertainty, to which the ruler's is added for what goes with
    place.
    """
    source = tried.source
    best = float(tried.periods[tried.best])
    width = 0.6 / max(_cycles(tried, r, best) for r in readings)

    def near() -> tuple[np.ndarray, np.ndarray]:
        p = best * (1 + width * np.linspace(-1, 1, 21))
        return p, sum(_power(tried, r, p) for r in readings) + source.log_prior(p)

    for _ in range(3):
        p, logs = near()
        best = float(p[int(np.argmax(logs))])
        inside = logs > float(np.max(logs)) - 3
        width = max(0.7 * float(np.ptp(p[inside])) / best, 0.15 * width)
    p, logs = near()
    weights = np.exp(logs - np.max(logs))
    mean = float(np.average(p, weights=weights))
    sd = WIDER * math.sqrt(float(np.average((p - mean) ** 2, weights=weights)))
    sd = math.hypot(sd, mean * max(_ruler(tried, r, mean) for r in readings))
    return _with_others(tried, Interval.around(mean, sd))


def _ruler(tried: Tried, reading: Reading, period: float) -> float:
    """Relative uncertainty of a period from that of lengths, layers counted, and the clock."""
    source = tried.source
    kx, kz = source.spot_of(reading.wall, period)
    if source.kind == "place":
        slow = kx * reading.spectrum.width_mm < SLOW_CYCLES
        return math.hypot(RULER_U, 0.12 / (kx * reading.spectrum.width_mm) ** 2 if slow else 0.0)
    seen = abs((kz + 0.5) % 1 - 0.5)
    counted = (COUNT_U * seen + 0.02 / reading.spectrum.layers) / max(kz, 1e-9)
    return math.hypot(counted, CLOCK_U if source.kind == "time" else 0.0)


def _with_others(tried: Tried, near: Interval) -> Interval:
    """The interval, widened to other periods of the source that explain the walls as well."""
    logs = tried.logs + tried.weights
    weights = np.exp(logs - logs.max())
    weights /= weights.sum()
    margin = 0.03 * near.value
    inside = (tried.periods > near.low - margin) & (tried.periods < near.high + margin)
    if float(weights[inside].sum()) > 0.95:
        return near
    order = np.argsort(tried.periods)
    total = np.cumsum(weights[order])
    low, high = (float(tried.periods[order][np.searchsorted(total, q)]) for q in (0.025, 0.975))
    return Interval(near.value, min(low, near.low), max(high, near.high))


def _cycles(tried: Tried, reading: Reading, period: float) -> float:
    kx, kz = tried.source.spot_of(reading.wall, period)
    return max(kx * reading.spectrum.width_mm, kz * reading.spectrum.layers, 1.0)


def _power(tried: Tried, reading: Reading, period: np.ndarray) -> np.ndarray:
    """Power of the wave over the floor, at any period."""
    kx, kz = tried.source.spot(reading.wall, period)
    if tried.source.kind == "place":
        p = reading.profile
        angle = 2 * np.pi * p.step_mm * np.arange(p.mean.size)[:, None] * kx
        basis = Basis(p.whiten @ np.cos(angle), p.whiten @ np.sin(angle))
        return wave_power(p.data, basis)
    values = reading.matrix.values - reading.matrix.values.mean()
    nk, nj = values.shape
    wx, wz = np.hanning(nj + 2)[1:-1], np.hanning(nk + 2)[1:-1]
    along = np.exp(-2j * np.pi * reading.matrix.step_mm * np.arange(nj)[:, None] * kx) * wx[:, None]
    up = np.exp(-2j * np.pi * np.arange(nk)[:, None] * kz) * wz[:, None]
    transform = np.einsum("kp,kp->p", up, values @ along)
    noise = _floor_amplitude(reading, kx, kz) / 2 * wx.sum() * wz.sum()
    # a tapered wave loses what the taper takes: 1.5 of noise for each direction
    return np.asarray(np.abs(transform) ** 2 / noise**2)


def _floor_amplitude(reading: Reading, kx: np.ndarray, kz: np.ndarray) -> np.ndarray:
    s = reading.spectrum
    columns = np.minimum(s.columns(kx), s.along_per_mm.size - 1)
    return np.asarray(s.amplitude_per_root[s.rows(kz), columns])


def brightness_amplitude(tried: Tried, reading: Reading, period: float) -> float:
    """Amplitude of a source's wave in relative brightness; not a number where this wall hides it.

    A wave that all layers share and of which the wall holds too few cycles went with the trend.
    """
    kx, kz = tried.source.spot(reading.wall, np.array([period]))
    away = abs((float(kz[0]) + 0.5) % 1 - 0.5)
    if away < SHARED / reading.spectrum.layers:
        if float(kx[0]) * reading.spectrum.width_mm < FEWEST_CYCLES:
            return math.nan
        p = reading.profile
        angle = 2 * np.pi * float(kx[0]) * p.step_mm * np.arange(p.mean.size)
        pair = np.stack([np.cos(angle), np.sin(angle)], 1)
        fit = np.linalg.lstsq(p.whiten @ pair, p.data, rcond=None)[0]
        return float(np.hypot(*fit))
    power = float(_power(tried, reading, np.array([period]))[0])
    return float(_floor_amplitude(reading, kx, kz)[0]) * math.sqrt(power)


def size_um(
    shown: Sequence[float], spots: Sequence[tuple[float, float]], walls: Sequence[WallSide]
) -> Interval:
    """Amplitude of a wave in µm from how it shows, with an interval for the lamp.

    Parameters
    ----------
    shown : one amplitude per wall, in relative brightness
        Not a number for a wall that hides the wave: the others count.
    spots : (cycles/mm, cycles/layer) on each wall
    walls : sequence of WallSide

    Returns
    -------
    Interval
        Half the height of the wave; the geometric mean over the walls.

    Raises
    ------
    FitError
        No wall shows it.
    """
    seen = [one for one in zip(shown, spots, walls, strict=True) if not math.isnan(one[0])]
    if not seen:
        raise FitError(
            "no wall shows how large this wave is: all layers share it, and it is longer than "
            "the wall.", "walls", len(walls), "Print the wall at another speed.",
        )  # fmt: skip
    rng = np.random.default_rng(1)
    logs = np.zeros(_DRAWS)
    # one lamp lit all photos: its error is no smaller for there being two
    gx, gz = np.array(GAINS)[:, None] * np.exp(GAIN_LOG_SD * rng.standard_normal((2, _DRAWS)))
    for m, (kx, kz), wall in seen:
        angle, up = 2 * math.pi * kz, gz / wall.layer_mm
        sides = rng.choice([-1, 1], _DRAWS)
        slope = np.hypot(gx * 2 * math.pi * kx + sides * up * math.sin(angle),
                         FLANKS * up * (1 - math.cos(angle)))  # fmt: skip
        logs += np.log(max(m, 1e-9) / np.maximum(slope, 1e-6)) / len(seen)
    low, middle, high = np.exp(np.quantile(logs, [0.025, 0.5, 0.975])) * 1e3
    return Interval(float(middle), float(low), float(high))


def ringing_shown(estimate: Ringing, readings: Sequence[Reading]) -> list[float]:
    """Amplitude of the ringing at the corner in relative brightness, by wall."""
    out = []
    for i, r in enumerate(readings):
        basis = estimate.basis(r.profile, i)
        pair = np.concatenate([basis.cos, basis.sin], 1)
        out.append(float(np.hypot(*np.linalg.lstsq(pair, r.profile.data, rcond=None)[0])))
    return out


def ringing_intervals(estimate: Ringing) -> tuple[Interval, Interval]:
    """Frequency (Hz) and damping ratio with their 95 % intervals."""
    f_sd = math.hypot(WIDER * estimate.log_sd[0], RULER_U)
    z_sd = WIDER * estimate.log_sd[1]
    return _log_interval(estimate.hertz, f_sd), _log_interval(estimate.damping, z_sd)


def _log_interval(value: float, sd: float) -> Interval:
    factor = math.exp(coverage_factor() * sd)
    return Interval(value, value / factor, value * factor)
