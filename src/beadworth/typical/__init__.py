"""Typical ceilings by class of hot end, and the pooling of trials behind them."""

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
