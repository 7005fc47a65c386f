from . import ledger, live
from .access import NewGrant
from .authorship import author, entries_by
from .copies import check_bench, restore_bench
from .ledger import StoredEntry
from .live import LiveFinding, StoredLive
from .opening import default_bench_path
from .packing import packed, unpacked
from .photos import (
    LONGEST_PX,
    MEDIA_TYPE,
    PHOTO_LIMIT_BYTES,
    Photo,
    clean_photo,
    photo,
    photos_by_digest,
    store_photo,
)
from .prints import PRINT_LIMIT_BYTES, REPLAYED, PrintShelf, StoredPrint, stored_prints
from .store import Bench, open_bench
from .values import (
    BackupReport,
    CheckReport,
    Grant,
    Note,
    RecordVersion,
    StoredReading,
    TrialOutline,
    TrialRecord,
    TrialSnapshot,
)

__all__ = [
    "LONGEST_PX",
    "MEDIA_TYPE",
    "PHOTO_LIMIT_BYTES",
    "PRINT_LIMIT_BYTES",
    "REPLAYED",
    "BackupReport",
    "Bench",
    "CheckReport",
    "Grant",
    "LiveFinding",
    "NewGrant",
    "Note",
    "Photo",
    "PrintShelf",
    "RecordVersion",
    "StoredEntry",
    "StoredLive",
    "StoredPrint",
    "StoredReading",
    "TrialOutline",
    "TrialRecord",
    "TrialSnapshot",
    "author",
    "check_bench",
    "clean_photo",
    "default_bench_path",
    "entries_by",
    "ledger",
    "live",
    "open_bench",
    "packed",
    "photo",
    "photos_by_digest",
    "restore_bench",
    "store_photo",
    "stored_prints",
    "unpacked",
]
