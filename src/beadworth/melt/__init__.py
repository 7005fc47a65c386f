"""Heat and pressure inside a hot end: predict a ceiling before buying the part.

Use :func:`~beadworth.melt.predict.predict` for a rig and a material;
:mod:`~beadworth.melt.heat` holds the march, :mod:`~beadworth.melt.rheology` the
fluids and the ISO 1133 die, :mod:`~beadworth.melt.calibration` what a trial teaches,
:mod:`~beadworth.melt.sweep` the predictions over temperature, flow and melt-zone length,
:mod:`~beadworth.melt.plug_flow` the closed form that is the march's simplest case.
"""

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
