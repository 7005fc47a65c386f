from .format import finite, legible, number, percent, signed, signed_percent, span
from .parse import ambiguity, decimal, numbers

__all__ = [
    "ambiguity",
    "decimal",
    "finite",
    "legible",
    "number",
    "numbers",
    "percent",
    "signed",
    "signed_percent",
    "span",
]
