"""Words in (compiled scanner) and words out (writer): RS274 and common desktop-printer practice."""

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
