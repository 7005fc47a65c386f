"""What is on the bench: the printer in one state, and the parts an upgrade changes.

:class:`Rig` is the record (TOML in and out through :mod:`beadworth.core.records`).
Fields left out are unknown, and stay unknown: what needs one says so. The
arithmetic of its parts stands beside it: :mod:`~beadworth.rig.drivetrain`,
:mod:`~beadworth.rig.statics`, :mod:`~beadworth.rig.sensors`,
:mod:`~beadworth.rig.heater` and :mod:`~beadworth.rig.pattern`.
"""

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
