from .classes import ClassPool, HotEndClass, TrialCeiling, Typical, class_of, polymer_of, typical
from .table import TABLE, TypicalRow

__all__ = [
    "TABLE",
    "ClassPool",
    "HotEndClass",
    "TrialCeiling",
    "Typical",
    "TypicalRow",
    "class_of",
    "polymer_of",
    "typical",
]
