"""The melt model asked about a rig and a material that may stand in files."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from beadworth import melt
from beadworth.material import GENERIC

if TYPE_CHECKING:
    from beadworth.material import Material
    from beadworth.melt import MeltFlowEstimate, Prediction, Scales
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


def flow_rate_viscosity(
    mfr_g_10min: float, load_kg: float, temperature_c: float, density_g_cm3: float, index: float
) -> tuple[MeltFlowEstimate, dict[str, float | None]]:
    """A melt-flow rate as a viscosity, and how it compares with each generic polymer.

    Raises
    ------
    InputError
        Every value out of range.
    """
    made = melt.melt_flow_estimate(
        mfr_g_10min, load_kg, temperature_c, density_g_cm3, flow_index=index
    )
    return made, {name: melt.against_material(made, known) for name, known in GENERIC.items()}
