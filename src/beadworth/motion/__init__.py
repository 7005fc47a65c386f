"""A path becomes speed over time: look-ahead planning as controllers do it."""

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
