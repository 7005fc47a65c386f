"""The melt model asked about a rig and a material that may stand in files."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from beadworth import melt

if TYPE_CHECKING:
    from beadworth.material import Material
    from beadworth.melt import Prediction, Scales
    from beadworth.rig import Rig


def predict_rig(
    rig: Rig, material: Material, temperatures_c: Sequence[float], scales: Scales | None = None
) -> list[Prediction]:
    """What the melt model predicts for a rig at each temperature.

    Raises
    ------
    InputError
        What the model needs and the records lack.
    """
    return [melt.predict(rig, material, celsius, scales=scales) for celsius in temperatures_c]
