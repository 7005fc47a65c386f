from .answer import FitAnswer, fit_answer, unchanged
from .check import Case, Check, UnknownError, Verdict
from .load import added_mass_g
from .run import fit_check

__all__ = [
    "Case",
    "Check",
    "FitAnswer",
    "UnknownError",
    "Verdict",
    "added_mass_g",
    "fit_answer",
    "fit_check",
    "unchanged",
]
