from .compiled import (
    kernel as kernel,
)
from .compiled import (
    part as part,
)
from .compiled import (
    side_by_side as side_by_side,
)
from .errors import (
    BeadworthError as BeadworthError,
)
from .errors import (
    BenchError as BenchError,
)
from .errors import (
    ConflictError as ConflictError,
)
from .errors import (
    FitError as FitError,
)
from .errors import (
    GcodeError as GcodeError,
)
from .errors import (
    InputError as InputError,
)
from .errors import (
    LimitError as LimitError,
)
from .errors import (
    NotFoundError as NotFoundError,
)
from .errors import (
    PackageError as PackageError,
)
from .errors import (
    Problem as Problem,
)
from .errors import (
    ReadingsError as ReadingsError,
)
from .errors import (
    RecordError as RecordError,
)
from .errors import (
    RigValueError as RigValueError,
)
from .quantity import (
    bead_section_mm2 as bead_section_mm2,
)
from .quantity import (
    feed_mm_s as feed_mm_s,
)
from .quantity import (
    filament_mass_g as filament_mass_g,
)
from .quantity import (
    filament_section_mm2 as filament_section_mm2,
)
from .quantity import (
    melt_power_w as melt_power_w,
)
from .records import (
    MISSING as MISSING,
)
from .records import (
    R as R,
)
from .records import (
    Record as Record,
)
from .records import (
    from_mapping as from_mapping,
)
from .records import (
    from_toml as from_toml,
)
from .records import (
    parse_toml as parse_toml,
)
from .records import (
    to_mapping as to_mapping,
)
from .records import (
    to_toml as to_toml,
)

__all__ = [
    "MISSING",
    "BeadworthError",
    "BenchError",
    "ConflictError",
    "FitError",
    "GcodeError",
    "InputError",
    "LimitError",
    "NotFoundError",
    "PackageError",
    "Problem",
    "R",
    "ReadingsError",
    "Record",
    "RecordError",
    "RigValueError",
    "bead_section_mm2",
    "feed_mm_s",
    "filament_mass_g",
    "filament_section_mm2",
    "from_mapping",
    "from_toml",
    "kernel",
    "melt_power_w",
    "parse_toml",
    "part",
    "side_by_side",
    "to_mapping",
    "to_toml",
]
