"""The demo: an invented workshop, its rigs, and simulated readings with a stated truth."""

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
