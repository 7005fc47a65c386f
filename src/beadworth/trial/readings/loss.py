"""What a coupon delivered, what that says of loss, and of the drive: the one place for each."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from beadworth.core import FILAMENT_MM, filament_mass_g
from beadworth.material import Material
from beadworth.rig import Rig
from beadworth.trial.planning.budget import MEASURED_U_MM, coupon_lines
from beadworth.trial.record import Balance, Reading, Spool

Array = NDArray[np.float64]
Anchor = Literal["references", "lowest flows"]
DENSITY_U = 0.005
"""Relative standard uncertainty of a material's density (assumption)."""


def delivered_g_per_mm(
    readings: Sequence[Reading], nominal_diameter_mm: float | None = None
) -> Array:
    """Net mass per commanded mm of filament, freed of the diameter where it was measured.

    A coupon fed from filament thicker than the rest weighs more without the hot end having
    delivered better. Where a reading has its own ``diameter_mm`` its mass is divided by its
    section and multiplied by the nominal one.

    Parameters
    ----------
    readings : sequence of Reading
    nominal_diameter_mm : float, optional
        Diameter that measured ones are referred to; left out: their mean. Only the absolute
        delivery depends on it, loss does not.

    Returns
    -------
    array (readings,), g/mm
        Negative or zero where the net mass is.
    """
    y = np.array([r.net_g / r.filament_mm for r in readings], dtype=np.float64)
    measured = np.array([r.diameter_mm or np.nan for r in readings], dtype=np.float64)
    known = np.isfinite(measured)
    if known.any():
        nominal = nominal_diameter_mm or float(measured[known].mean())
        y[known] *= (nominal / measured[known]) ** 2
    return y


@dataclass(frozen=True)
class CouponLoss:
    """Loss of one coupon against the references of its own block."""

    reading: Reading
    loss: float
    """1 − delivered ÷ what the references say was commanded; below 0 where it weighed more."""
    u_loss: float
    """Standard uncertainty: balance, filament and feed of this coupon, and the references'."""
    anchored_by: Anchor = "references"


def coupon_losses(
    readings: Sequence[Reading], balance: Balance | None = None, spool: Spool | None = None
) -> tuple[CouponLoss, ...]:
    """Loss of every coupon that counts, relative to the references of its block.

    A block is one rig, material and temperature: there spool, drive and density are the same,
    and cancel. Where it has no references, its lowest flow stands in for them.

    Parameters
    ----------
    readings : sequence of Reading
        Void ones, and any without a mass above 0, are left out.
    balance, spool : optional
        For the uncertainties; left out: what a new trial record starts with.

    Returns
    -------
    tuple of CouponLoss
        In the order of the readings.

    Notes
    -----
    With v the relative variance of one coupon, ratio y/ȳ and n references, the variance of loss
    is ratio²·(v + v_ref/n), and the balance's linearity on both. A reference is part of its own
    mean: ratio²·(v·(1 − 2/n) + v_ref/n).
    """
    balance, spool = balance or Balance(), spool or Spool()
    kept = [r for r in readings if not r.void and r.net_g > 0]
    blocks: dict[tuple[str, str, float], list[int]] = {}
    for index, reading in enumerate(kept):
        blocks.setdefault((reading.rig, reading.material, reading.temperature_c), []).append(index)
    found: dict[int, CouponLoss] = {}
    for members in blocks.values():
        found.update(
            zip(members, _block_losses([kept[i] for i in members], balance, spool), strict=True)
        )
    return tuple(found[i] for i in range(len(kept)))


def _block_losses(
    readings: Sequence[Reading], balance: Balance, spool: Spool
) -> Iterator[CouponLoss]:
    """Losses of one block, in order."""
    anchors, by = anchors_of(readings)
    held = [r in anchors for r in readings]
    n = sum(held)
    delivered = delivered_g_per_mm(readings)
    variance = np.array([relative_u(r, balance, spool) ** 2 for r in readings])
    bent = np.array([balance.linearity_g / math.sqrt(3) / r.net_g for r in readings]) ** 2
    mean = float(delivered[held].mean())
    of_mean = float(variance[held].sum()) / n**2
    for i, reading in enumerate(readings):
        ratio = float(delivered[i]) / mean
        if held[i]:
            v = float(variance[i]) * (1 - 2 / n) + of_mean
        else:
            v = float(variance[i] + bent[i]) + of_mean + float(bent[held].mean())
        yield CouponLoss(reading, 1 - ratio, ratio * math.sqrt(max(0.0, v)), by)


def anchors_of(readings: Sequence[Reading]) -> tuple[list[Reading], Anchor]:
    """The coupons delivery is read from: the references, else those of the lowest flow."""
    references = [r for r in readings if r.reference]
    if references:
        return references, "references"
    lowest = min(r.flow_mm3_s for r in readings)
    return [r for r in readings if r.flow_mm3_s == lowest], "lowest flows"


def relative_u(reading: Reading, balance: Balance, spool: Spool) -> float:
    """Standard uncertainty of one coupon's mass per mm and section, relative to it.

    The balance on tare and gross, the filament's section (measured on this coupon's feed, or
    left to the spool) and the feed length: the lines of
    :func:`~beadworth.trial.planning.budget.coupon_lines`. Linearity stands apart, since it does not
    average out.
    """
    measured = (spool.diameter_u_mm or MEASURED_U_MM) if reading.diameter_mm else None
    rows = coupon_lines(
        balance,
        spool.model_copy(update={"diameter_u_mm": measured}),
        per_gram=1 / reading.net_g,
        filament_mm=reading.filament_mm,
        diameter_mm=reading.diameter_mm or FILAMENT_MM,
    )
    return math.hypot(*(row.contribution for row in rows))


def delivery_factor(
    g_per_mm: float,
    u_relative: float,
    anchors: Sequence[Reading],
    material: Material,
    rig: Rig,
    *,
    spool: Spool | None = None,
    density_u: float = DENSITY_U,
) -> tuple[float, float]:
    """Delivered ÷ commanded at low flow, absolute: 1 where the drive is calibrated.

    Unlike loss it needs the density and the true diameter, so its uncertainty holds both.

    Parameters
    ----------
    g_per_mm : float, > 0
        What is delivered per commanded mm at low flow, as :func:`delivered_g_per_mm` refers it
        to the rig's diameter.
    u_relative : float
        Its own relative standard uncertainty, from the weighings.
    anchors : sequence of Reading
        The coupons it is read from (:func:`anchors_of`): they say whether the diameter was
        measured.
    material, rig
        Give density and nominal diameter.
    spool : Spool, optional
        How far the mean diameter of the spool may lie from the nominal one.
    density_u : float
        Relative standard uncertainty of the density (default 0.5 %, assumption).

    Returns
    -------
    factor, u_factor
        The factor and its standard uncertainty.
    """
    nominal = rig.filament_diameter_mm
    factor = g_per_mm / filament_mass_g(1.0, nominal, material.density_g_cm3)
    section = _mean_section_u(anchors, spool or Spool(), nominal)
    return factor, factor * math.hypot(u_relative, section, density_u)


def _mean_section_u(anchors: Sequence[Reading], spool: Spool, nominal_mm: float) -> float:
    """What all anchors share of the section: the spool's mean diameter against the nominal one.

    Where every diameter was measured the micrometer's own error is left; otherwise the mean of
    the spool may lie anywhere in the tolerance.
    """
    if all(r.diameter_mm for r in anchors):
        return 2 * (spool.diameter_u_mm or MEASURED_U_MM) / nominal_mm
    return 2 * spool.diameter_tolerance_mm / math.sqrt(3) / nominal_mm
