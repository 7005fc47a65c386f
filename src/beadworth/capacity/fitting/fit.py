"""``fit``: readings in, everything this package knows of them out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from beadworth.capacity.fitting.law import fit_law
from beadworth.capacity.model.block import scatter_of
from beadworth.capacity.model.depth import NEAR, lack_of_fit
from beadworth.capacity.model.marginal import Reach, band, reach
from beadworth.capacity.model.posterior import Posterior
from beadworth.capacity.model.posterior_fit import Weighed, weigh
from beadworth.capacity.model.prepare import check_loss, groups_of
from beadworth.capacity.model.sampling import FULL, QUICK
from beadworth.capacity.result import (
    METHOD,
    Ceiling,
    CeilingPosterior,
    Curve,
    Delivery,
    Fit,
    GroupFit,
    Residual,
    Sampling,
)
from beadworth.core import CONFIDENCE, LOSS, ROOM_C
from beadworth.material import Material
from beadworth.rig import Rig
from beadworth.trial import JointErrors, Reading, Spool, anchors_of, delivery_factor

Array = NDArray[np.float64]

DRAWS_TOLD = 400
QUANTILES: Array = np.asarray((np.arange(201) + 0.5) / 201.0, dtype=np.float64)


def fit(
    readings: Sequence[Reading],
    *,
    loss: float = LOSS,
    confidence: float = CONFIDENCE,
    materials: Mapping[str, Material] | None = None,
    rigs: Mapping[str, Rig] | None = None,
    spool: Spool | None = None,
    scatter: float | None = None,
    feed_c: float = ROOM_C,
    draft: bool = False,
    joint: Sequence[JointErrors] = (),
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
    spool : Spool, optional
        Diameter tolerance for the uncertainty of that factor; left out: what a new trial
        starts with.
    scatter : float > 0, optional
        Relative standard deviation of a coupon as the budget of the plan has it; it counts as six
        replicates. Left out: 0.5 %, counting as two.
    feed_c : float
        Temperature of the filament entering, for the law across temperatures.
    draft : bool
        Take a sixth of the time, for a picture that follows each weighing: the ends of the
        intervals are then known to a tenth of their width or so, which ``sampling`` says.
    joint : sequence of JointErrors
        Readings whose errors belong together (a flow ramp weighed live), by coupon: their
        covariance takes the place of a scatter each.

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
    groups, notes = groups_of(readings, rigs, scatter_of(scatter), joint)
    fitted, ceilings = [], []
    for group in groups:
        weighed = weigh(group, loss, effort=QUICK if draft else FULL)
        one, own = _group_fit(weighed, loss, confidence, materials or {}, rigs or {}, spool, feed_c)
        fitted.append(one)
        ceilings += own
    return Fit(loss, confidence, tuple(ceilings), tuple(fitted), notes)


def _group_fit(
    weighed: Weighed,
    loss: float,
    confidence: float,
    materials: Mapping[str, Material],
    rigs: Mapping[str, Rig],
    spool: Spool | None,
    feed_c: float,
) -> tuple[GroupFit, list[Ceiling]]:
    group, posterior = weighed.group, weighed.posterior
    reaches = [reach(posterior, i, confidence) for i in range(len(posterior.blocks))]
    ceilings = [
        Ceiling(group.rig, group.material, t, loss, r.flow, r.low, r.high, r.bound, confidence)
        for t, r in zip(group.temperatures, reaches, strict=True)
    ]
    used = posterior.effective_parameters()
    dof = max(sum(b.count for b in posterior.blocks) - used, 1.0)
    result = GroupFit(
        rig=group.rig,
        material=group.material,
        method=METHOD,
        sd_relative=weighed.sd,
        dof=dof,
        lack_of_fit_p=lack_of_fit(posterior),
        lack_near_p=lack_of_fit(posterior, NEAR * loss),
        residuals=_residuals(weighed),
        curves=_curves(weighed, confidence),
        delivery=_delivery(weighed, materials.get(group.material), rigs.get(group.rig), spool),
        law=fit_law(posterior, ceilings, feed_c, dof),
        notes=(*weighed.notes, *_falling(weighed), *_one_sided(ceilings, posterior)),
        posteriors=_posteriors(posterior, reaches),
        feed_c=feed_c,
        sampling=_sampling(posterior),
    )
    return result, ceilings


def _posteriors(posterior: Posterior, reaches: list[Reach]) -> tuple[CeilingPosterior, ...]:
    every = max(1, len(posterior.ceiling) // DRAWS_TOLD)
    return tuple(
        CeilingPosterior(
            block.temperature_c,
            np.quantile(posterior.draws.ceiling[:, i], QUANTILES),
            posterior.ceiling[::every, i][:DRAWS_TOLD],
        )
        for i, (block, r) in enumerate(zip(posterior.blocks, reaches, strict=True))
        if r.bound == "interval"
    )


def _sampling(posterior: Posterior) -> Sampling:
    return Sampling(
        int(posterior.draws.effective.min()), float(posterior.draws.end_error_mm3_s.max())
    )


def _curves(weighed: Weighed, confidence: float) -> tuple[Curve, ...]:
    group = weighed.group
    curves = []
    for i, t in enumerate(group.temperatures):
        flows = group.flow[group.members(t)]
        b = band(weighed.posterior, i, confidence, float(flows.max()))
        curves.append(
            Curve(
                group.rig, group.material, t, b.flow, b.loss, b.low, b.high,
                confidence, float(flows.min()), float(flows.max()),
            )
        )  # fmt: skip
    return tuple(curves)


def _falling(weighed: Weighed) -> list[str]:
    """Where the coupons themselves show the delivered flow falling at the end of the ladder."""
    from scipy.special import ndtri

    notes = []
    group = weighed.group
    for t in group.temperatures:
        at = group.members(t)
        flows = np.unique(group.flow[at])
        cells = [group.log_delivered[at][group.flow[at] == q] for q in flows]
        delivered = np.log(flows) + np.array([np.median(z) for z in cells])
        peak = int(delivered.argmax())
        u = weighed.sd * np.sqrt(1 / len(cells[peak]) + 1 / len(cells[-1]))
        if delivered[peak] - delivered[-1] > np.log(1 / 0.97) + float(ndtri(0.95)) * u:
            notes.append(
                f"at {t:g} °C less comes out at {flows[-1]:g} mm³/s than at {flows[peak]:g}: "
                "the drive may be losing its grip or grinding the filament there."
            )
    return notes


def _residuals(weighed: Weighed) -> tuple[Residual, ...]:
    group, sd = weighed.group, weighed.sd
    out = []
    for i, reading in enumerate(group.readings):
        if not np.isfinite(weighed.fitted[i]):
            continue
        b = group.temperatures.index(float(group.temperature[i]))
        relative = float(np.exp(group.log_delivered[i] - weighed.log_delivery[b]))
        scatter = sd / np.sqrt(weighed.weight[i]) if weighed.weight[i] > 0 else sd
        if group.shared is not None and group.joint[i]:
            scatter = sd * np.sqrt(group.shared[i, i])
        out.append(
            Residual(
                reading.coupon,
                reading.temperature_c,
                reading.flow_mm3_s,
                1.0 - relative,
                float(relative * np.hypot(scatter, weighed.u_log_delivery[b])),
                float(weighed.loss[i]),
                float((group.log_delivered[i] - weighed.fitted[i]) / scatter),
                bool(weighed.weight[i] == 0 and not weighed.deep[i]),
                bool(weighed.deep[i]),
            )
        )
    return tuple(out)


def _delivery(
    weighed: Weighed, material: Material | None, rig: Rig | None, spool: Spool | None
) -> tuple[Delivery, ...]:
    group = weighed.group
    out = []
    for i, t in enumerate(group.temperatures):
        g_per_mm = float(np.exp(weighed.log_delivery[i]))
        g_per_m, u = 1000.0 * g_per_mm, float(weighed.u_log_delivery[i])
        anchors, by = anchors_of([group.readings[j] for j in group.members(t)])
        factor = u_factor = None
        if material is not None and rig is not None:
            factor, u_factor = delivery_factor(g_per_mm, u, anchors, material, rig, spool=spool)
        out.append(
            Delivery(group.rig, group.material, t, g_per_m, g_per_m * u, factor, u_factor, by)
        )
    return tuple(out)


def _one_sided(ceilings: list[Ceiling], posterior: Posterior) -> list[str]:
    notes = []
    for ceiling, block in zip(ceilings, posterior.blocks, strict=True):
        where = f"at {ceiling.temperature_c:g} °C"
        if ceiling.bound == "at-least":
            notes.append(
                f"{where} the highest flow weighed, {block.flow[-1]:g} mm³/s, does not reach the "
                "loss: the ceiling is known from below only; add coupons at higher flows."
            )
        elif ceiling.bound == "at-most":
            notes.append(
                f"{where} the lowest flow weighed, {block.flow[0]:g} mm³/s, is already at the loss "
                "or past it: the ceiling is known from above only; add coupons at lower flows."
            )
    return notes
