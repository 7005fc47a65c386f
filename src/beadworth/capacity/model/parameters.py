"""Families in words and numbers: shares of the evidence, parameters with standard errors."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from beadworth.capacity.model.depth import lack_of_fit
from beadworth.capacity.model.families import log_delivery
from beadworth.capacity.model.least_squares import Solution, least_squares
from beadworth.capacity.model.posterior import Cloud, Posterior
from beadworth.capacity.result import Family

Array = NDArray[np.float64]

_EVALUATIONS = 400
SHOWN = 0.05
"""A family with less of the evidence is listed without parameters."""


def describe(posterior: Posterior) -> tuple[tuple[Family, ...], float | None, float]:
    """Families by falling share; lack-of-fit probability and dof of the leading one.

    Parameters come from a least-squares refinement started at the family's heaviest node.
    Lack of fit is the F test of the leading family's misfit against replicate scatter;
    None without replicates or without flows to spare.
    """
    clouds = sorted(posterior.clouds, key=lambda c: -float(c.weight.sum()))
    families: list[Family] = []
    lead: Solution | None = None
    for cloud in clouds:
        share = float(cloud.weight.sum())
        if share < SHOWN:
            families.append(Family(cloud.family.name, share, {}, {}))
            continue
        solution, names = _refine(posterior, cloud)
        lead = lead or solution
        families.append(_named(cloud, share, solution, names))
    assert lead is not None
    return (
        tuple(families),
        lack_of_fit(posterior, lead.sum_squares, lead.value.size),
        _dof(posterior, lead),
    )


def _named(cloud: Cloud, share: float, solution: Solution, names: list[str]) -> Family:
    """Parameters by name; no standard error where the readings do not bound the parameter."""
    box = cloud.family.box()
    n = len(box)
    value, u = solution.value.copy(), solution.u.copy()
    if n:
        open_ended = (value[:n] <= box[:, 0]) | (value[:n] >= box[:, 1]) | (u[:n] > 3.0)
        value[:n] = np.exp(np.clip(value[:n], box[:, 0], box[:, 1]))
        u[:n] = np.where(open_ended, np.inf, u[:n] * value[:n])
    u[n:] = np.where(u[n:] > 0.5 * value[n:], np.inf, u[n:])
    known = {k: float(e) for k, e in zip(names, u, strict=True) if np.isfinite(e)}
    parameters = {k: float(v) for k, v in zip(names, value, strict=True)}
    return Family(cloud.family.name, share, parameters, known)


def _refine(posterior: Posterior, cloud: Cloud) -> tuple[Solution, list[str]]:
    """Least squares from the heaviest node: shape parameters (logarithms), then ceilings."""
    shape = int(cloud.weight.argmax())
    d, blocks = len(cloud.family.free), posterior.blocks
    start = [*cloud.x[shape]]
    for i in range(len(blocks)):
        start.append(cloud.ceiling[i][shape, int(cloud.ceiling_weight[i][shape].argmax())])
    names = [*cloud.family.free, *(f"ceiling_{b.temperature_c:g}_c_mm3_s" for b in blocks)]
    box = cloud.family.box()

    def residuals(p: Array) -> Array:
        # outside its box a family is held at the edge: the data then do not bound the parameter
        x = np.clip(p[:d], box[:, 0], box[:, 1])[None, :] if d else np.zeros((1, 0))
        columns = cloud.family.parameters(x)
        parts = []
        for i, b in enumerate(blocks):
            c = np.array([[max(p[d + i], 1e-3)]])
            log_f = log_delivery(
                cloud.family.kind, columns, b.flow, c, posterior.loss, posterior.reference_flow
            )[0, 0]
            away = b.mean - log_f
            away = away - (away @ b.weight) / b.weight.sum()
            parts.append(np.sqrt(b.weight) * away)
        return np.concatenate(parts)

    # a parameter the readings leave open would have the search wander: it need not arrive
    return least_squares(residuals, np.array(start), evaluations=_EVALUATIONS), names


def _dof(posterior: Posterior, solution: Solution) -> float:
    count = sum(b.count for b in posterior.blocks)
    return float(max(count - len(posterior.blocks) - solution.value.size, 0))
