"""The store of everything one workshop has measured: tables, migrations, history, backup.

Importing this is cheap; the database library comes with the first :func:`open_bench`.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from beadworth.bench.copies import restore_bench
    from beadworth.bench.opening import default_bench_path
    from beadworth.bench.store import Bench, open_bench
    from beadworth.bench.values import (
        Amendment,
        BackupReport,
        CheckReport,
        Note,
        RecordVersion,
        StoredReading,
        TrialRecord,
    )

_HOMES = {
    "Amendment": "values",
    "BackupReport": "values",
    "Bench": "store",
    "CheckReport": "values",
    "Note": "values",
    "RecordVersion": "values",
    "StoredReading": "values",
    "TrialRecord": "values",
    "default_bench_path": "opening",
    "open_bench": "store",
    "restore_bench": "copies",
}

__all__ = [
    "Amendment",
    "BackupReport",
    "Bench",
    "CheckReport",
    "Note",
    "RecordVersion",
    "StoredReading",
    "TrialRecord",
    "default_bench_path",
    "open_bench",
    "restore_bench",
]


def __getattr__(name: str) -> Any:
    if name not in _HOMES:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(f"{__name__}.{_HOMES[name]}"), name)
