"""A bench opened, found, backed up and restored: what every interface starts with."""

from beadworth.store import (
    LONGEST_PX,
    MEDIA_TYPE,
    PHOTO_LIMIT_BYTES,
    PRINT_LIMIT_BYTES,
    Bench,
    PrintShelf,
    StoredEntry,
    StoredPrint,
    StoredReading,
    TrialRecord,
    TrialSnapshot,
    check_bench,
    default_bench_path,
    open_bench,
    photo,
    restore_bench,
)

__all__ = [
    "LONGEST_PX",
    "MEDIA_TYPE",
    "PHOTO_LIMIT_BYTES",
    "PRINT_LIMIT_BYTES",
    "Bench",
    "PrintShelf",
    "StoredEntry",
    "StoredPrint",
    "StoredReading",
    "TrialRecord",
    "TrialSnapshot",
    "check_bench",
    "default_bench_path",
    "open_bench",
    "photo",
    "restore_bench",
]
