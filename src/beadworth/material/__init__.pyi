from .library import GENERIC
from .record import Material, Rheology

__all__ = [
    "GENERIC",
    "Material",
    "Rheology",
]
