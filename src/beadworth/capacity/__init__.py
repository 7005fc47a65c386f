"""Readings become a loss curve, ceilings, a law across temperature, speeds, the next coupons.

``fit(readings, loss=0.02)`` needs plain data only: no store, no plan, no rig record.
"""

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
