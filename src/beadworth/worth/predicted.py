"""Ceilings of a rig that nobody weighed, predicted from its drawing, for a case.

What is not known of two predictions is partly the same: the polymer, the model, the drive where
both rigs have it. That part moves both ceilings together and says little of what an upgrade gains.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

from beadworth.capacity import Ceiling
from beadworth.core import BeadworthError
from beadworth.material import Material
from beadworth.melt import Prediction, Scales, in_common, predict
from beadworth.replay import ceiling_of_prediction
from beadworth.rig import Rig


@dataclass
class PredictedCeilings:
    """The ceilings of one rig and material, predicted where a print asks for them.

    Called with a temperature, °C: the ceiling with its interval, or None where the melt model
    gives none (hardly anything passes there).
    """

    rig: Rig
    material: Material
    loss: float
    scales: Scales | None = None
    """What a trial of another rig taught."""
    trial: str = ""
    """That trial; empty without one."""
    found: dict[float, Prediction] = field(default_factory=dict)
    """By temperature, as far as asked."""

    def __call__(self, temperature_c: float) -> Ceiling | None:
        """The ceiling at a temperature."""
        if temperature_c not in self.found:
            try:
                self.found[temperature_c] = predict(
                    self.rig, self.material, temperature_c, scales=self.scales, loss=self.loss
                )
            except BeadworthError:
                return None
        return ceiling_of_prediction(self.found[temperature_c])


def common_share(before: PredictedCeilings, after: PredictedCeilings) -> float:
    """How much two predictions have in common: the correlation of their ceilings' logarithms.

    From the share of the variance that each input makes: an input that both rigs share moves both
    the same way (linear propagation with correlated inputs, JCGM 100:2008, 5.2.2). The mean over
    the temperatures asked of both; 0 where they have none in common.
    """
    same = in_common(
        before.rig, after.rig, same_material=before.material.name == after.material.name
    )
    found = []
    for celsius in sorted(set(before.found) & set(after.found)):
        mine, theirs = (
            {share.of: share.share for share in side.found[celsius].shares}
            for side in (before, after)
        )
        found.append(
            sum(
                part * math.sqrt(mine.get(name, 0.0) * theirs.get(name, 0.0))
                for name, part in same.items()
            )
        )
    return min(sum(found) / len(found), 1.0) if found else 0.0
