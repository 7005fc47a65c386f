from .format import (
    finite as finite,
)
from .format import (
    legible as legible,
)
from .format import (
    number as number,
)
from .format import (
    percent as percent,
)
from .format import (
    signed as signed,
)
from .format import (
    signed_percent as signed_percent,
)
from .format import (
    span as span,
)
from .parse import (
    ambiguity as ambiguity,
)
from .parse import (
    decimal as decimal,
)
from .parse import (
    numbers as numbers,
)

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
