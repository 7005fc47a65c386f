"""A melt-flow trial: question, plan, run sheet, coupon programs, readings, loss.

Pure: plain data in, plain data out. The store keeps it, page and command show it.
"""

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
