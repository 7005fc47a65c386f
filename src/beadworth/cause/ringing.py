"""Ringing after a corner: its frequency and damping from the profiles of one wall or several."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from beadworth.cause.profile import Basis, Profile, orthonormal, ringing_basis

if TYPE_CHECKING:
    from scipy.optimize import OptimizeResult

LEAST_DAMPING, MOST_DAMPING = 0.012, 0.3
"""Damping ratios of a printer's axes; assumed, wide on purpose."""
REACH = 0.2
"""A fit stays within this of its first guess of the frequency."""
START_U_MM = 0.13
"""Standard uncertainty of the place of a corner dragged 3 pixels off, as the benchmarks drag it;
where the head still speeds up, a tenth of a millimetre counts."""


@dataclass(frozen=True)
class Ringing:
    """Frequency and damping of a decaying wave that begins at the corner.

    The damping is the ratio ζ of exp(−ζ·ω·t); the frequency that of the undamped oscillator.
    """

    hertz: float
    damping: float
    starts_mm: tuple[float, ...] = ()
    """By how much each wall begins later than the dragged corner says; 0 where left out."""
    log_sd: tuple[float, float] = (0.0, 0.0)
    """Standard uncertainties of the logarithms of frequency and damping."""

    def basis(self, profile: Profile, index: int) -> Basis:
        """The whitened wave on one of the walls."""
        return _basis(profile, self.hertz, self.damping, self._start(index))

    def columns(self, profile: Profile, index: int) -> np.ndarray:
        """Orthonormal whitened columns: the wave, and what small errors of its fit leave of it."""
        f, z, off = self.hertz, self.damping, self._start(index)
        near = [(f, z, off), (f * 1.01, z, off), (f * 0.99, z, off), (f, z * 1.1, off),
                (f, z * 0.9, off), (f, z, off + 0.1), (f, z, off - 0.1)]  # fmt: skip
        pairs = [_basis(profile, *one) for one in near]
        return orthonormal(np.concatenate([b for p in pairs for b in (p.cos, p.sin)], axis=1))

    def waveform(self, profile: Profile, index: int) -> np.ndarray:
        """The fitted wave on the samples of the profile, in its own units."""
        plain = replace(profile, whiten=np.eye(profile.mean.size))
        b = _basis(plain, self.hertz, self.damping, self._start(index))
        pair = np.concatenate([b.cos, b.sin], axis=1)
        fit = np.linalg.lstsq(profile.whiten @ pair, profile.data, rcond=None)[0]
        return np.asarray(pair @ fit)

    def _start(self, index: int) -> float:
        return self.starts_mm[index] if self.starts_mm else 0.0


def _basis(profile: Profile, hertz: float, damping: float, start_mm: float) -> Basis:
    return ringing_basis(
        profile.whiten, profile.wall, profile.positions_mm - start_mm,
        np.array([(hertz, damping)]),
    )  # fmt: skip


def refine_ringing(
    profiles: Sequence[Profile],
    first: Ringing,
    beside: Sequence[np.ndarray] | None = None,
    *,
    restarts: bool = True,
) -> Ringing:
    """Most probable frequency and damping near a first guess, all walls together.

    Least squares of the whitened profiles; amplitude and phase of each wall are solved for inside
    (variable projection: Golub & Pereyra 1973), and where each wall's corner truly lies is fitted
    with :data:`START_U_MM` as its prior.

    Parameters
    ----------
    profiles : one Profile per wall
    first : Ringing
    beside : one array per wall, optional
        Orthonormal columns of what else is there.
    restarts : bool
        Whether to begin from frequencies beside the first guess too: a guess off a grid needs it.
    """
    from scipy.optimize import least_squares

    free = beside or [np.zeros((p.mean.size, 0)) for p in profiles]
    cleaned = [p.data - q @ (q.T @ p.data) for p, q in zip(profiles, free, strict=True)]

    def rest(theta: np.ndarray) -> np.ndarray:
        f, z, starts = np.exp(theta[0]), np.exp(theta[1]), theta[2:] * START_U_MM
        parts = [theta[2:]]
        for p, q, data, start in zip(profiles, free, cleaned, starts, strict=True):
            b = _basis(p, f, z, start)
            pair = np.concatenate([b.cos, b.sin], axis=1)
            pair -= q @ (q.T @ pair)
            u = np.linalg.qr(pair)[0]
            parts.append(data - u @ (u.T @ data))
        return np.concatenate(parts)

    zeros = [0.0] * len(profiles)
    low = [np.log(first.hertz * (1 - REACH)), np.log(LEAST_DAMPING), *(-4.0 for _ in profiles)]
    high = [np.log(first.hertz * (1 + REACH)), np.log(MOST_DAMPING), *(4.0 for _ in profiles)]
    damping = float(np.clip(first.damping, 1.1 * LEAST_DAMPING, 0.9 * MOST_DAMPING))
    best: OptimizeResult | None = None
    for off in (0.0, -0.03, 0.03) if restarts else (0.0,):
        start = [np.log(first.hertz * (1 + off)), np.log(damping), *(first.starts_mm or zeros)]
        start[2:] = [s / START_U_MM for s in start[2:]]
        fit = least_squares(rest, np.clip(start, low, high), bounds=(low, high), max_nfev=25)
        if best is None or fit.cost < best.cost:
            best = fit
    assert best is not None
    jacobian = np.asarray(best.jac)
    covariance = np.linalg.pinv(jacobian.T @ jacobian)
    sd = np.sqrt(np.diag(covariance)[:2])
    return Ringing(
        float(np.exp(best.x[0])), float(np.exp(best.x[1])),
        tuple(float(s) for s in best.x[2:] * START_U_MM), (float(sd[0]), float(sd[1])),
    )  # fmt: skip
