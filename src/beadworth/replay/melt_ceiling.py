"""A ceiling below the temperatures weighed, from the melt model set by the trial's own ceilings."""

from __future__ import annotations

import functools
from collections.abc import Callable
from typing import TYPE_CHECKING

from beadworth.core import BeadworthError

if TYPE_CHECKING:
    from beadworth.capacity import Ceiling, Fit
    from beadworth.material import Material
    from beadworth.melt import Prediction, Scales
    from beadworth.rig import Rig

Beyond = Callable[[float], "Ceiling | None"]


def melt_ceilings(rig: Rig, material: Material | None, fit: Fit | None) -> Beyond | None:
    """What predicts a ceiling at a temperature that neither readings nor law reach.

    Returns
    -------
    callable or None
        From °C to a ceiling with its interval, or None where the records or the trial do not hold
        what the model needs. None where this rig was not weighed with this material.
    """
    if fit is None or material is None:
        return None
    if not any((g.rig, g.material) == (rig.name, material.name) for g in fit.groups):
        return None
    known, polymer = fit, material

    @functools.cache
    def scales() -> Scales:
        from beadworth.capacity import measured_ceilings
        from beadworth.melt import calibrate

        return calibrate(rig, polymer, measured_ceilings(known, rig.name, polymer.name))

    def at(temperature_c: float) -> Ceiling | None:
        from beadworth.melt import predict

        try:
            found = predict(rig, polymer, temperature_c, scales=scales(), loss=known.loss)
        except BeadworthError:
            return None
        return ceiling_of_prediction(found)

    return at


def ceiling_of_prediction(found: Prediction) -> Ceiling | None:
    """What is predicted at its loss, as a ceiling; None where hardly anything passes."""
    from beadworth.capacity import Ceiling

    if not min(found.at_loss_low, found.at_loss_mm3_s) > 0:
        return None
    return Ceiling(
        found.rig, found.material, found.temperature_c, found.loss, found.at_loss_mm3_s,
        found.at_loss_low, found.at_loss_high, "interval", extrapolated=True, basis="melt",
    )  # fmt: skip
