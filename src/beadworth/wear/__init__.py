"""Wear over months: the log of a rig, control charts, life of parts, before and after."""

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
