from .classes import (
    ClassPool as ClassPool,
)
from .classes import (
    HotEndClass as HotEndClass,
)
from .classes import (
    TrialCeiling as TrialCeiling,
)
from .classes import (
    Typical as Typical,
)
from .classes import (
    class_of as class_of,
)
from .classes import (
    polymer_of as polymer_of,
)
from .classes import (
    typical as typical,
)
from .table import (
    TABLE as TABLE,
)
from .table import (
    TypicalRow as TypicalRow,
)

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
