"""Live weighing: a flow ramp into a cup on a balance, its trace turned into delivery per flow.

Pure: plain data in, plain data out. Nothing here talks to a printer or a balance.
"""

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
