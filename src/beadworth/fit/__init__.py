"""Does an upgrade fit? A table of checks before anything is bought or taken apart.

:func:`fit_check` compares a parent rig with an upgrade; every :class:`Check` has a number, its
limit, the margin, a plain verdict and the reason. What is unknown stays unknown and says what to
measure. The formulas stand in docs/explanation/fit-check.md under the heading a check names.
"""

from beadworth.fit.check import Check, Verdict
from beadworth.fit.run import fit_check

__all__ = ["Check", "Verdict", "fit_check"]
