"""What all layers of a wall share: its mean profile, whitened, against waves that repeat or decay.

The profile's noise is red. Its covariance comes from a robust floor of its own spectrum; profile
and waves are whitened with it (generalised least squares: Aitken 1935), and the slow trend that
levelling has taken away is projected out of both. A wave's power is then half its chi-square: mean
1 where there is noise alone, as in the two-dimensional spectrum.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from beadworth.cause.evidence import degrees_at
from beadworth.cause.floor import fit_floor, red_design
from beadworth.cause.spectrum import HIGHEST_PER_MM
from beadworth.cause.wall import Matrix, WallSide, speed_along_mm_s, time_along_s

# Chosen on simulated walls, other seeds than those of the page, unless a source is named.
STEP_MM = 0.2
"""Of a profile's samples, about: a fifth of the shortest wave that a bead shows."""
_AROUND = np.array([-1.0, 0.0, 1.0])
NEAR = 1.2
"""Cycles over the wall from the strongest wave within which a wave is taken for it."""
PER_CYCLE = 5
"""Waves tried for each cycle more that the wall holds."""
# where ringing is looked for; common practice, no source
DAMPING = np.array([0.02, 0.035, 0.055, 0.085, 0.13, 0.2])
HERTZ = np.geomspace(15.0, 200.0, 170)
ORDER, MANY = 2, 100
"""Of the floor in log k; 1 where it is held by fewer spots than that."""
TREND = 3
"""Degree of the trend that levelling has taken away."""
SLOW = 10.0
"""Cycles over the wall under which the floor is taken as level: of the few spots there a part that
is out of round takes most, with its second harmonic and what the window spreads, and would lift
the floor under itself. Of a short series the quarter of its spots."""
FEWEST_CYCLES = 2.2
"""A wave of fewer cycles over the wall cannot be told from the lamp's gradient."""


@dataclass(frozen=True)
class Basis:
    """Pairs of whitened waves: ``cos`` and ``sin`` (samples, waves)."""

    cos: np.ndarray
    sin: np.ndarray


@dataclass(frozen=True)
class Profile:
    """The whitened profile of one wall and the waves that it is held against."""

    data: np.ndarray
    """Whitened, trend projected out."""
    whiten: np.ndarray
    """Matrix (samples, samples) that whitens and takes the trend out."""
    mean: np.ndarray
    """The profile itself, in the units of the matrix."""
    step_mm: float
    positions_mm: np.ndarray
    wall: WallSide
    along_per_mm: np.ndarray
    steady: Basis
    """Waves of the same strength all along, at ``along_per_mm``."""
    ringing: Basis
    """Decaying waves, frequency the slower index: :data:`HERTZ` × :data:`DAMPING`."""

    def steady_power(self, beside: np.ndarray | None = None) -> np.ndarray:
        """Power of steady waves at ``along_per_mm``; ``beside``: columns taken out before."""
        return wave_power(self.data, self.steady, beside)

    def steady_columns(self, k: float) -> np.ndarray:
        """Orthonormal columns of a wave and its second harmonic, with what a small error of k and a
        strength that changes along the wall leave.
        """
        n = self.mean.size
        x = self.step_mm * (np.arange(n) - n / 2)
        off = 0.3 / (n * self.step_mm)
        ks = np.concatenate([k + off * _AROUND, 2 * k + off * _AROUND])
        angle = 2 * np.pi * ks[ks < HIGHEST_PER_MM] * x[:, None]
        return orthonormal(self.whiten @ np.concatenate([np.cos(angle), np.sin(angle)], axis=1))

    def degrees(self, power: np.ndarray) -> np.ndarray:
        """Degrees of the floor at ``along_per_mm``: on the flank of a wave those of its crest, else
        a flank where the floor is better known would pass for the crest.
        """
        around = np.pad(power, PER_CYCLE, constant_values=-1.0)
        windows = np.lib.stride_tricks.sliding_window_view(around, 2 * PER_CYCLE + 1)
        crest = np.arange(power.size) + np.argmax(windows, 1) - PER_CYCLE
        return degrees_at(self.along_per_mm[crest] * self.mean.size * self.step_mm)

    @property
    def twice(self) -> int:
        """The wave of half the length of the one at index i has the index 2·i and this."""
        return round(FEWEST_CYCLES * PER_CYCLE)

    def side_lobes(self, power: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """What the strongest wave puts elsewhere, twice over: 2·S/(π·cycles apart)², 0 near it; and
        how far from it each wave lies, cycles over the wall.
        """
        i = int(np.argmax(power))
        cycles = np.abs(self.along_per_mm - self.along_per_mm[i]) * self.mean.size * self.step_mm
        lobes = 2 * power[i] / (np.pi * np.maximum(cycles, 1.0)) ** 2
        return np.where(cycles <= NEAR, 0.0, lobes), cycles

    def ringing_power(self, beside: np.ndarray | None = None) -> np.ndarray:
        """Power of decaying waves (frequency, damping)."""
        return wave_power(self.data, self.ringing, beside).reshape(HERTZ.size, DAMPING.size)


def orthonormal(columns: np.ndarray) -> np.ndarray:
    """Orthonormal columns that span the same, without what is nearly nothing."""
    u, sizes, _ = np.linalg.svd(columns, full_matrices=False)
    return np.asarray(u[:, sizes > 1e-4 * max(float(sizes[0]), 1e-12)])


def wave_power(data: np.ndarray, basis: Basis, beside: np.ndarray | None = None) -> np.ndarray:
    """Half the chi-square that each pair of waves takes from the data.

    Parameters
    ----------
    data : array (samples,), whitened
    basis : Basis, whitened
    beside : array (samples, m), optional
        Orthonormal columns that are taken out of data and waves first.

    Returns
    -------
    array (waves,)
        A direction of which the trend (or ``beside``) has eaten all but 2 % counts for nothing.
    """
    c, s = basis.cos, basis.sin
    cc, ss, cs = _dots(c, c), _dots(s, s), _dots(c, s)
    full = cc + ss
    bc, bs = data @ c, data @ s
    if beside is not None:
        qc, qs, qd = beside.T @ c, beside.T @ s, beside.T @ data
        cc, ss, cs = cc - _dots(qc, qc), ss - _dots(qs, qs), cs - _dots(qc, qs)
        bc, bs = bc - qd @ qc, bs - qd @ qs
    # eigenvectors of the 2 × 2 Gram matrix, so that a lost direction can be left out
    half, diff = (cc + ss) / 2, (cc - ss) / 2
    root = np.hypot(diff, cs)
    angle = 0.5 * np.arctan2(cs, diff)
    out = np.zeros(c.shape[1])
    for size, a in ((half + root, angle), (half - root, angle + math.pi / 2)):
        along = np.cos(a) * bc + np.sin(a) * bs
        seen = size > 0.02 * full
        out += np.where(seen, along**2 / np.where(seen, size, 1.0), 0.0)
    return out / 2


def _dots(a: np.ndarray, b: np.ndarray) -> np.ndarray:
    return np.asarray(np.einsum("ij,ij->j", a, b))


def profile(matrix: Matrix, wall: WallSide, without: np.ndarray | None = None) -> Profile:
    """Whitened mean profile of a wall with its waves.

    Parameters
    ----------
    matrix, wall
        What was seen, and what the program knows of it.
    without : array, optional
        A part of the mean profile (on its samples) that the noise is found without.
    """
    mean, step, x = mean_profile(matrix)
    whiten = whitener(mean if without is None else mean - without, step)
    width = x.size * step
    count = int((HIGHEST_PER_MM - FEWEST_CYCLES / width) * width * PER_CYCLE)
    k = FEWEST_CYCLES / width + np.arange(count) / (width * PER_CYCLE)
    angle = 2 * np.pi * k * x[:, None]
    steady = Basis(whiten @ np.cos(angle), whiten @ np.sin(angle))
    pairs = np.stack(np.meshgrid(HERTZ, DAMPING, indexing="ij"), -1).reshape(-1, 2)
    ringing = ringing_basis(whiten, wall, x, pairs)
    return Profile(whiten @ mean, whiten, mean, step, x, wall, k, steady, ringing)


def mean_profile(matrix: Matrix) -> tuple[np.ndarray, float, np.ndarray]:
    """Mean over the layers in steps near :data:`STEP_MM`: values, step (mm), positions (mm)."""
    merge = max(1, round(STEP_MM / matrix.step_mm))
    n = matrix.values.shape[1] // merge
    mean = matrix.values.mean(0)[: n * merge].reshape(n, merge).mean(1)
    step = merge * matrix.step_mm
    return mean, step, matrix.start_mm + step * (np.arange(n) + 0.5)


def ringing_basis(whiten: np.ndarray, wall: WallSide, x_mm: np.ndarray, pairs: np.ndarray) -> Basis:
    """Whitened decaying waves, as slopes: exp(−ζ·ω·t)·cos and sin(ω·√(1−ζ²)·t) by speed.

    A photo shows the slope along the wall, and where the head is slow the same swing is steeper.

    Parameters
    ----------
    whiten : array (n, n)
    wall : WallSide
        Waves shorter than it shows at its speed are set to nothing.
    x_mm : array (n,)
        Positions from the corner.
    pairs : array (m, 2)
        Frequency, Hz, and damping ratio ζ of each wave.
    """
    t_s = time_along_s(wall, x_mm)
    steep = wall.speed_mm_s / np.maximum(speed_along_mm_s(wall, x_mm), 0.05 * wall.speed_mm_s)
    w = 2 * np.pi * pairs[:, 0]
    seen = pairs[:, 0] / wall.speed_mm_s < HIGHEST_PER_MM
    decay = np.exp(-pairs[:, 1] * w * t_s[:, None]) * seen * steep[:, None]
    angle = w * np.sqrt(1 - pairs[:, 1] ** 2) * t_s[:, None]
    return Basis(whiten @ (decay * np.cos(angle)), whiten @ (decay * np.sin(angle)))


def whitener(mean: np.ndarray, step_mm: float) -> np.ndarray:
    """Matrix that whitens red noise like the profile's own and projects a trend out.

    Parameters
    ----------
    mean : array (n,)
    step_mm : float
    """
    from scipy.linalg import cholesky, solve_triangular, toeplitz

    n = mean.size
    window = np.hanning(n + 2)[1:-1]
    power = np.abs(np.fft.rfft((mean - mean.mean()) * window)) ** 2 / np.sum(window**2)
    k = np.arange(power.size) / (n * step_mm)
    slow = min(SLOW, np.count_nonzero(k < HIGHEST_PER_MM) / 4)
    use = (k > slow / (n * step_mm)) & (k < HIGHEST_PER_MM)
    order = ORDER if np.count_nonzero(use) >= MANY else 1
    fit = fit_floor(power[use], red_design(np.log(k[use]), order))
    fine = np.arange(4 * n) / (8 * n * step_mm)
    density = np.exp(red_design(np.log(np.clip(fine, k[use][0], k[use][-1])), order) @ fit)
    # the end of the fit hangs on few spots: below it the noise is as over the next as many cycles
    first, last = (int(np.searchsorted(fine, c * slow / (n * step_mm))) for c in (1, 2))
    density[:first] = np.exp(np.mean(np.log(density[first:last])))
    both = np.concatenate([density, [density[-1]], density[:0:-1]])
    lags = np.fft.irfft(both[: 4 * n + 1], 8 * n)[:n]
    lags[0] *= 1 + 1e-6
    lower = cholesky(toeplitz(lags), lower=True)
    inverse = solve_triangular(lower, np.eye(n), lower=True)
    trend = inverse @ np.polynomial.legendre.legvander(np.linspace(-1, 1, n), TREND)
    q = np.linalg.qr(trend)[0]
    return np.asarray(inverse - q @ (q.T @ inverse))
