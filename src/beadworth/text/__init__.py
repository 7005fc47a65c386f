"""Numbers, per cent, durations, slugs and lists of numbers, as people write and read them."""

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
