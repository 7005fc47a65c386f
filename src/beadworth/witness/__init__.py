"""Printed test objects, each a designed experiment; graded blind; thresholds from the grades.

:func:`make_witness` writes one for a rig, every band of it replayed first.
"""

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
