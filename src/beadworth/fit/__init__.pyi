from .answer import (
    fit_answer as fit_answer,
)
from .answer import (
    unchanged as unchanged,
)
from .check import (
    Case as Case,
)
from .check import (
    Check as Check,
)
from .check import (
    UnknownError as UnknownError,
)
from .check import (
    Verdict as Verdict,
)
from .load import (
    added_mass_g as added_mass_g,
)
from .run import (
    fit_check as fit_check,
)

__all__ = [
    "Case",
    "Check",
    "UnknownError",
    "Verdict",
    "added_mass_g",
    "fit_answer",
    "fit_check",
    "unchanged",
]
