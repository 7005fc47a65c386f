"""Whether an upgrade fits: the checks of a rig of a trial against its parent."""

from __future__ import annotations

from typing import TYPE_CHECKING

from beadworth.core import BeadworthError
from beadworth.fit import Check, fit_answer, fit_check, unchanged
from beadworth.report import FitFound

if TYPE_CHECKING:
    from beadworth.capacity import Fit
    from beadworth.workflow.sections import SectionInputs

__all__ = ["Check", "fit_answer", "fit_check", "gather_fit", "unchanged"]


def gather_fit(inputs: SectionInputs) -> FitFound | None:
    """The checks of a rig of the trial against its parent in the trial, at what was tried."""
    spec, by_name = inputs.snapshot.record.spec, {rig.name: rig for rig in inputs.rigs}
    pair = next(((by_name[r.parent], r) for r in inputs.rigs if r.parent in by_name), None)
    if pair is None or spec is None:
        return None
    parent, child = pair
    celsius = sorted(spec.temperatures_c)[(len(spec.temperatures_c) - 1) // 2]
    flow = _flow(inputs.fit, child.name, celsius) or max(spec.flows_mm3_s)
    try:
        material = inputs.snapshot.materials[spec.material]
        checks = fit_check(parent, child, material, celsius, flow)
        before = fit_check(parent, parent, material, celsius, flow)
    except BeadworthError:  # a record edited since, so that nothing can be checked
        return None
    return FitFound(child.name, checks, unchanged(checks, before), celsius, flow)


def _flow(fit: Fit | None, rig: str, celsius: float) -> float | None:
    """The ceiling of a rig as read at a temperature."""
    found = [
        c.flow_mm3_s
        for c in (fit.ceilings if fit else ())
        if (c.rig, c.temperature_c, c.basis) == (rig, celsius, "readings")
    ]
    return round(found[0], 1) if found and found[0] else None
