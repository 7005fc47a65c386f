"""A print on a rig: timeline, stretches over the ceiling, retiming, surveys of many.

:func:`replay` reads, plans and judges one print; :func:`retime` writes a copy that stays
under the ceiling; :func:`on_rig` and :func:`compare` hold two rigs against each other;
:func:`survey_row` is one row of many.
"""

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
