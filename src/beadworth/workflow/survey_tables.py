"""The table of a survey: Parquet, or CSV where its name ends so."""

from __future__ import annotations

import csv
from pathlib import Path
from typing import Any

from beadworth.core import InputError, extra_remedy, written_whole

CSV = ".csv"
"""What needs no extra package to be written."""


def need_tables(out: Path) -> None:
    """Say before the first print is replayed that no table can be written."""
    if out.suffix == CSV:
        return
    try:
        import pyarrow.parquet  # noqa: F401
    except ImportError:
        raise InputError(
            "what writes Parquet tables is not installed.",
            "--out",
            str(out),
            f"{extra_remedy('tables')}; or name a table that ends in {CSV}",
        ) from None


def write_table(rows: list[dict[str, Any]], out: Path) -> None:
    """The table, whole or not at all."""
    names = list(dict.fromkeys(name for row in rows for name in row))
    with written_whole(out) as part:
        _write(rows, names, out.suffix, part)


def _write(rows: list[dict[str, Any]], names: list[str], suffix: str, part: Path) -> None:
    if suffix == CSV:
        with part.open("w", encoding="utf-8", newline="") as file:
            table = csv.DictWriter(file, names)
            table.writeheader()
            table.writerows(rows)
    else:
        import pyarrow.parquet as pq
        from pyarrow import Table

        columns = {name: [row.get(name) for row in rows] for name in names}
        pq.write_table(Table.from_pydict(columns), part)
