"""Heat and pressure inside a hot end: predict a ceiling before buying the part.

Use :func:`~beadworth.melt.predict.predict` for a rig and a material;
:mod:`~beadworth.melt.heat` holds the march, :mod:`~beadworth.melt.rheology` the
fluids and the ISO 1133 die, :mod:`~beadworth.melt.calibrate` what a trial teaches,
:mod:`~beadworth.melt.sweep` the predictions over temperature, flow and melt-zone length,
:mod:`~beadworth.melt.plug_flow` the closed form that is the march's simplest case.
"""

from beadworth.melt.calibrate import MeasuredCeiling, calibrate
from beadworth.melt.predict import Prediction, predict
from beadworth.melt.scales import Scales
from beadworth.melt.state import State, state_at

__all__ = [
    "MeasuredCeiling",
    "Prediction",
    "Scales",
    "State",
    "calibrate",
    "predict",
    "state_at",
]
