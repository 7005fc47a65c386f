"""What a trial teaches the melt model: its unknowns together, each where it belongs."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from beadworth.core import LOSS, FitError
from beadworth.material import Material
from beadworth.melt.ceilings import ceiling_mm3_s, loss_share
from beadworth.melt.channel import Channel, channel_of
from beadworth.melt.scales import (
    COMPONENTS,
    CONTACT_U,
    GAP_U,
    LENGTH_U,
    NONE,
    WET_SPEED_U,
    CalibrationSource,
    Scales,
    as_rows,
    carried,
    grip_of,
    own_u,
    recorded_u,
)
from beadworth.rig import Rig

Array = NDArray[np.float64]


@dataclass(frozen=True)
class MeasuredCeiling:
    """One measured ceiling with its standard uncertainty, from a trial."""

    temperature_c: float
    flow_mm3_s: float
    u_mm3_s: float
    loss: float = LOSS


def calibrate(
    rig: Rig, material: Material, measured: Sequence[MeasuredCeiling], before: Scales | None = None
) -> Scales:
    """Narrow the model's unknowns with a trial's ceilings.

    Least squares over the ceilings and, as one more reading each, what is known of the nine
    unknowns (:mod:`~beadworth.melt.scales`) before. So one temperature is enough: it fixes what
    they do together there, and leaves open which of them did it. How much holds for another rig
    or polymer is for :func:`~beadworth.melt.scales.carried`.

    Parameters
    ----------
    before : Scales
        What an earlier trial taught, perhaps with another nozzle: two nozzles on one hot end
        part heat, which both share, from the force each of them adds.

    Raises
    ------
    FitError
        No measured ceilings at all.
    """
    from scipy.optimize import least_squares

    if not measured:
        raise FitError(
            "there is no measured ceiling to calibrate the melt model with.",
            where=f"rig {rig.name}, material {material.name}",
            remedy="Give a trial whose flows reach the ceiling at one temperature or more.",
        )
    channel, _ = channel_of(rig)
    grip, _ = grip_of(rig)
    middle = float(np.median([m.temperature_c for m in measured]))
    centre, spread = _prior(rig, material, channel, middle, carried(before, rig, material))
    root = np.linalg.inv(np.linalg.cholesky(spread))
    flows = np.array([m.flow_mm3_s / loss_share(m.loss) for m in measured])
    u_ln = np.array([m.u_mm3_s / m.flow_mm3_s for m in measured])

    def misfit(x: Array) -> Array:
        scales = Scales(tuple(float(v) for v in x))
        made = [
            max(ceiling_mm3_s(channel, material, m.temperature_c, grip, scales), 1e-3)
            for m in measured
        ]
        return np.concatenate([np.log(np.array(made) / flows) / u_ln, root @ (x - centre)])

    scale = np.sqrt(np.diag(spread))

    def slopes(x: Array) -> Array:
        return _slopes(misfit, x, 0.1 * scale)

    solved = least_squares(
        misfit, centre, x_scale=scale, max_nfev=20, xtol=1e-4, ftol=1e-5,
        jac=slopes,
    )  # fmt: skip
    jacobian = np.asarray(solved.jac, dtype=np.float64)
    covariance = np.linalg.inv(jacobian.T @ jacobian)
    return Scales(
        tuple(float(v) for v in solved.x),
        as_rows(covariance),
        COMPONENTS,
        source=CalibrationSource.of(rig, material),
    )


def _slopes(misfit: Callable[[Array], Array], x: Array, steps: Array) -> Array:
    """Central differences with steps of each unknown's own size."""
    columns = []
    for i, step in enumerate(steps):
        up, down = x.copy(), x.copy()
        up[i] += step
        down[i] -= step
        columns.append((misfit(up) - misfit(down)) / (2 * step))
    return np.array(columns).T


def _prior(
    rig: Rig, material: Material, channel: Channel, temperature_c: float, taught: Scales
) -> tuple[Array, Array]:
    """Mean and covariance of the unknowns before this trial."""
    u = own_u(rig, material)
    u["hot_end_heat"] = hot_end_heat_u(rig, material, channel, temperature_c)
    spread = np.diag([u[name] ** 2 for name in COMPONENTS])
    at = [COMPONENTS.index(name) for name in taught.taught]
    if at:
        spread[np.ix_(at, at)] = np.array(taught.covariance)
    return np.array(taught.mean), spread


def hot_end_heat_u(rig: Rig, material: Material, channel: Channel, temperature_c: float) -> float:
    """What is not known of a hot end's contact, gap, wetting and length, as one factor on heat-up.

    Each is moved by its standard uncertainty, and what the ceiling does is put down to heat-up.
    """
    grip, _ = grip_of(rig)

    def ln_ceiling(one: Channel, heat: float = 0.0) -> float:
        scales = Scales((heat, *NONE[1:]))
        return math.log(max(ceiling_mm3_s(one, material, temperature_c, grip, scales), 1e-3))

    slope = (ln_ceiling(channel, 0.1) - ln_ceiling(channel, -0.1)) / 0.2
    total = recorded_u(rig, "hot_end.melt_zone_mm", LENGTH_U) ** 2
    for name, u in (
        ("contact_m2k_w", CONTACT_U),
        ("gap_mm", GAP_U),
        ("wet_speed_mm_s", WET_SPEED_U),
    ):
        value = getattr(channel, name)
        up, down = (
            ln_ceiling(replace(channel, **{name: value * math.exp(sign * u)})) for sign in (1, -1)
        )
        total += ((up - down) / 2 / max(slope, 0.05)) ** 2
    return math.sqrt(total)
