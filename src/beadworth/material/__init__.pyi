from .heat import melt_heat_w
from .library import GENERIC, generic
from .record import Material, Rheology

__all__ = [
    "GENERIC",
    "Material",
    "Rheology",
    "generic",
    "melt_heat_w",
]
