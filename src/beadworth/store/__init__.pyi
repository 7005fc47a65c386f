from .copies import (
    restore_bench as restore_bench,
)
from .ledger import (
    Kept as Kept,
)
from .opening import (
    default_bench_path as default_bench_path,
)
from .photos import (
    LONGEST_PX as LONGEST_PX,
)
from .photos import (
    MEDIA_TYPE as MEDIA_TYPE,
)
from .photos import (
    PHOTO_LIMIT_BYTES as PHOTO_LIMIT_BYTES,
)
from .photos import (
    clean_photo as clean_photo,
)
from .photos import (
    keep_photo as keep_photo,
)
from .photos import (
    photo as photo,
)
from .prints import (
    PRINT_LIMIT_BYTES as PRINT_LIMIT_BYTES,
)
from .prints import (
    REPLAYED as REPLAYED,
)
from .prints import (
    PrintShelf as PrintShelf,
)
from .prints import (
    StoredPrint as StoredPrint,
)
from .store import (
    Bench as Bench,
)
from .store import (
    open_bench as open_bench,
)
from .values import (
    Amendment as Amendment,
)
from .values import (
    BackupReport as BackupReport,
)
from .values import (
    CheckReport as CheckReport,
)
from .values import (
    Note as Note,
)
from .values import (
    RecordVersion as RecordVersion,
)
from .values import (
    StoredReading as StoredReading,
)
from .values import (
    TrialRecord as TrialRecord,
)

__all__ = [
    "LONGEST_PX",
    "MEDIA_TYPE",
    "PHOTO_LIMIT_BYTES",
    "PRINT_LIMIT_BYTES",
    "REPLAYED",
    "Amendment",
    "BackupReport",
    "Bench",
    "CheckReport",
    "Kept",
    "Note",
    "PrintShelf",
    "RecordVersion",
    "StoredPrint",
    "StoredReading",
    "TrialRecord",
    "clean_photo",
    "default_bench_path",
    "keep_photo",
    "open_bench",
    "photo",
    "restore_bench",
]
