"""Bring a changed printer up right: steps, feed, squareness, heater, and the sheet to tick.

Everything here takes plain numbers a person measured and hands back records of
:mod:`~beadworth.bringup.result`, to be stored with the rig as one :class:`BringUpResult`.
:mod:`~beadworth.bringup.programs` writes the programs that make the measurements.
"""

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
