from .library import (
    GENERIC as GENERIC,
)
from .record import (
    Material as Material,
)
from .record import (
    Rheology as Rheology,
)

__all__ = [
    "GENERIC",
    "Material",
    "Rheology",
]
