"""``fit``: readings in, everything the capacity room knows of them out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from beadworth.capacity.law import fit_law
from beadworth.capacity.marginal import Reach, band, marginal, reach
from beadworth.capacity.parameters import describe
from beadworth.capacity.posterior import Posterior, integrate
from beadworth.capacity.prepare import Group, check_loss, groups_of
from beadworth.capacity.result import (
    Ceiling,
    CeilingPosterior,
    Curve,
    Delivery,
    Fit,
    GroupFit,
    Residual,
)
from beadworth.capacity.robust import reweigh
from beadworth.material import Material
from beadworth.quantity import filament_mass_g
from beadworth.rig import Rig
from beadworth.trial import Reading

Array = NDArray[np.float64]

FEED_C = 25.0
"""Temperature of the filament entering the hot end where nothing else is said, °C."""
QUANTILES: Array = np.asarray((np.arange(201) + 0.5) / 201.0, dtype=np.float64)


@dataclass(frozen=True)
class Weighed:
    """A group with its posterior and the weights it was computed with."""

    group: Group
    posterior: Posterior
    weight: Array
    fitted: Array
    """ln(g/mm) per reading, nan where its temperature was not fitted."""
    loss: Array
    """Fitted loss per reading, nan likewise."""
    log_delivery: Array
    """Mean of ln D per block."""
    u_log_delivery: Array
    notes: tuple[str, ...]

    @property
    def sd(self) -> float:
        """Median of the posterior of σ."""
        cumulated = np.cumsum(self.posterior.sigma_weight) - self.posterior.sigma_weight / 2
        return float(np.exp(np.interp(0.5, cumulated, np.log(self.posterior.sigma))))


def fit(
    readings: Sequence[Reading],
    *,
    loss: float = 0.02,
    confidence: float = 0.95,
    materials: Mapping[str, Material] | None = None,
    rigs: Mapping[str, Rig] | None = None,
    feed_c: float = FEED_C,
) -> Fit:
    """Read loss curves, ceilings and the law across temperature from weighed coupons.

    Parameters
    ----------
    readings : sequence of Reading
        Any rigs and materials together; voided readings are left out. Rows marked as
        references count like any other coupon of their temperature: at low flow they fix
        the delivery that loss is relative to.
    loss : float
        Loss at which ceilings are read, 0.005 to 0.2.
    confidence : float
        Of intervals and bands, 0.5 to 0.999.
    materials, rigs : mapping by name, optional
        Density and filament diameter for the absolute delivery factor; nothing else
        depends on them.
    feed_c : float
        Temperature of the filament entering, for the law across temperatures.

    Returns
    -------
    Fit

    Raises
    ------
    FitError
        Readings with an impossible value, or none from which a ceiling can be read; every
        temperature that lacks something is named with what it lacks.
    """
    check_loss(loss, confidence)
    groups, notes = groups_of(readings, rigs)
    fitted, ceilings = [], []
    for group in groups:
        weighed = weigh(group, loss)
        one, own = _group_fit(weighed, loss, confidence, materials or {}, rigs or {}, feed_c)
        fitted.append(one)
        ceilings += own
    return Fit(loss, confidence, tuple(ceilings), tuple(fitted), notes)


def weigh(group: Group, loss: float) -> Weighed:
    """Integrate a group; twice more at most when coupons are out of line or scatter differs."""
    weight = np.ones(len(group.readings))
    notes: tuple[str, ...] = ()
    for _ in range(3):
        weighed = _expect(group, integrate(group.blocks(weight), loss), weight, notes)
        spent = 2 * len(group.temperatures) + 2
        found = reweigh(group, weighed.fitted, weighed.loss, loss, spent)
        if np.allclose(found.weight, weight, rtol=0.05):
            break
        weight, notes = found.weight, found.notes
    return replace(weighed, notes=notes)


def _expect(group: Group, posterior: Posterior, weight: Array, notes: tuple[str, ...]) -> Weighed:
    """Posterior means of the curve at every reading, and of the delivery."""
    fitted = np.full(len(group.readings), np.nan)
    loss = np.full(len(group.readings), np.nan)
    log_delivery, u = [], []
    variance = float(posterior.sigma_weight @ posterior.sigma**2)
    for i, block in enumerate(posterior.blocks):
        mean_f, mean_d, var_d = np.zeros(len(block.flow)), 0.0, 0.0
        total = block.weight.sum()
        at = group.members(block.temperature_c)
        flows, place = np.unique(group.flow[at], return_inverse=True)
        mean_f = np.zeros(len(flows))
        known = np.searchsorted(flows, block.flow)
        second = 0.0
        for cloud in posterior.clouds:
            log_f = posterior.delivery(cloud, i, flows)
            w = cloud.ceiling_weight[i]
            d = (block.mean - log_f[..., known]) @ block.weight / total
            mean_f += np.einsum("nc,nck->k", w, log_f)
            mean_d += float((w * d).sum())
            second += float((w * d * d).sum())
        var_d = max(second - mean_d**2, 0.0) + variance / total
        fitted[at] = (mean_d + mean_f)[place]
        loss[at] = -np.expm1(mean_f)[place]
        log_delivery.append(mean_d)
        u.append(np.sqrt(var_d))
    return Weighed(
        group, posterior, weight, fitted, loss, np.array(log_delivery), np.array(u), notes
    )


def _group_fit(
    weighed: Weighed,
    loss: float,
    confidence: float,
    materials: Mapping[str, Material],
    rigs: Mapping[str, Rig],
    feed_c: float,
) -> tuple[GroupFit, list[Ceiling]]:
    group, posterior = weighed.group, weighed.posterior
    reaches = [reach(posterior, i, confidence) for i in range(len(posterior.blocks))]
    ceilings = [
        Ceiling(group.rig, group.material, t, loss, r.flow, r.low, r.high, r.bound, confidence)
        for t, r in zip(group.temperatures, reaches, strict=True)
    ]
    curves, falls = _curves(weighed, confidence)
    families, lack_of_fit, dof = describe(weighed.posterior)
    result = GroupFit(
        rig=group.rig,
        material=group.material,
        families=families,
        sd_relative=weighed.sd,
        dof=dof,
        lack_of_fit_p=lack_of_fit,
        residuals=_residuals(weighed),
        curves=curves,
        delivery=_delivery(weighed, materials.get(group.material), rigs.get(group.rig)),
        law=fit_law(posterior, ceilings, feed_c, dof),
        notes=(*weighed.notes, *falls, *_one_sided(ceilings, posterior)),
        posteriors=_posteriors(posterior, reaches),
        feed_c=feed_c,
    )
    return result, ceilings


def _posteriors(posterior: Posterior, reaches: list[Reach]) -> tuple[CeilingPosterior, ...]:
    return tuple(
        CeilingPosterior(block.temperature_c, marginal(posterior, i).quantile(QUANTILES))
        for i, (block, r) in enumerate(zip(posterior.blocks, reaches, strict=True))
        if r.bound == "interval"
    )


def _curves(weighed: Weighed, confidence: float) -> tuple[tuple[Curve, ...], list[str]]:
    curves, notes = [], []
    for i, block in enumerate(weighed.posterior.blocks):
        b = band(weighed.posterior, i, confidence)
        curves.append(
            Curve(
                weighed.group.rig,
                weighed.group.material,
                block.temperature_c,
                b.flow,
                b.loss,
                b.low,
                b.high,
                confidence,
                float(block.flow[0]),
                float(block.flow[-1]),
            )
        )
        if b.falls > 0.95:
            notes.append(
                f"at {block.temperature_c:g} °C the delivered flow falls again at the highest "
                "flows: the drive loses its grip or grinds the filament there."
            )
    return tuple(curves), notes


def _residuals(weighed: Weighed) -> tuple[Residual, ...]:
    group, sd = weighed.group, weighed.sd
    out = []
    for i, reading in enumerate(group.readings):
        if not np.isfinite(weighed.fitted[i]):
            continue
        b = group.temperatures.index(float(group.temperature[i]))
        relative = float(np.exp(group.log_delivered[i] - weighed.log_delivery[b]))
        scatter = sd / np.sqrt(weighed.weight[i]) if weighed.weight[i] > 0 else sd
        out.append(
            Residual(
                reading.coupon,
                reading.temperature_c,
                reading.flow_mm3_s,
                1.0 - relative,
                float(relative * np.hypot(scatter, weighed.u_log_delivery[b])),
                float(weighed.loss[i]),
                float((group.log_delivered[i] - weighed.fitted[i]) / scatter),
                bool(weighed.weight[i] == 0),
            )
        )
    return tuple(out)


def _delivery(weighed: Weighed, material: Material | None, rig: Rig | None) -> tuple[Delivery, ...]:
    group = weighed.group
    fed = None
    if material is not None and rig is not None:
        fed = filament_mass_g(1000.0, rig.filament_diameter_mm, material.density_g_cm3)
    out = []
    for i, t in enumerate(group.temperatures):
        g_per_m = 1000.0 * float(np.exp(weighed.log_delivery[i]))
        u = float(weighed.u_log_delivery[i])
        referenced = any(group.readings[j].reference for j in group.members(t))
        out.append(
            Delivery(
                group.rig,
                group.material,
                t,
                g_per_m,
                g_per_m * u,
                None if fed is None else g_per_m / fed,
                None if fed is None else g_per_m / fed * u,
                "references" if referenced else "lowest flows",
            )
        )
    return tuple(out)


def _one_sided(ceilings: list[Ceiling], posterior: Posterior) -> list[str]:
    notes = []
    for ceiling, block in zip(ceilings, posterior.blocks, strict=True):
        where = f"at {ceiling.temperature_c:g} °C"
        if ceiling.bound == "at-least":
            notes.append(
                f"{where} the ladder ends at {block.flow[-1]:g} mm³/s before the loss does: "
                "the ceiling is known from below only; add coupons at higher flows."
            )
        elif ceiling.bound == "at-most":
            notes.append(
                f"{where} the ladder starts at {block.flow[0]:g} mm³/s, already in the knee or "
                "past it: the ceiling is known from above only; add coupons at lower flows."
            )
    return notes
