"""Does an upgrade fit? A table of checks before anything is bought or taken apart.

:func:`fit_check` compares a parent rig with an upgrade; every :class:`Check` has a number, its
limit, the margin, a plain verdict and the reason. What is unknown stays unknown and says what to
measure. The formulas stand in docs/explanation/fit-check.md under the heading a check names.
"""

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
