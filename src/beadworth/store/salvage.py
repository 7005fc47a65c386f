"""What can still be read of a damaged bench file, copied into a new one."""

from __future__ import annotations

import contextlib
import shutil
import sqlite3
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from beadworth.store.engines import file_engine
from beadworth.store.files import COMPANIONS, companions
from beadworth.store.models import Base
from beadworth.store.opening import bring_up

PAGE_SIZE_AT, PAGE_COUNT_AT = 16, 28
"""Bytes of the header of an SQLite file (its format, section 1.3)."""


def salvage(damaged: Path, fresh: Path) -> dict[str, int]:
    """Copy every row that can be read into a new bench file; rows by table.

    Parameters
    ----------
    damaged : Path
        Only read; its log, if there is one, is read with it.
    fresh : Path
        Must not exist.
    """
    engine = file_engine(fresh)
    try:
        bring_up(engine, str(fresh), None)
    finally:
        engine.dispose()
    counts = {}
    with tempfile.TemporaryDirectory(dir=fresh.parent, prefix=f".{fresh.name}-") as folder:
        copy = Path(folder) / "copy"
        shutil.copyfile(damaged, copy)
        for beside, end in zip(companions(damaged), COMPANIONS, strict=True):
            if beside.exists():
                shutil.copyfile(beside, copy.with_name(copy.name + end))
        _fill_up(copy)
        with (
            contextlib.closing(sqlite3.connect(copy)) as old,
            contextlib.closing(sqlite3.connect(fresh)) as new,
        ):
            old.text_factory = _legible
            for table in Base.metadata.sorted_tables:
                counts[table.name] = _copy_rows(old, new, table.name)
            new.commit()
    return counts


def _legible(data: bytes) -> str:
    return data.decode("utf-8", "replace")


def _fill_up(file: Path) -> None:
    """A file cut short gets empty pages up to the size its header says, or nothing is read."""
    with file.open("r+b") as opened:
        head = opened.read(100)
        size = int.from_bytes(head[PAGE_SIZE_AT : PAGE_SIZE_AT + 2], "big")
        size = 65536 if size == 1 else size
        pages = int.from_bytes(head[PAGE_COUNT_AT : PAGE_COUNT_AT + 4], "big")
        whole = size * min(pages, 10 * (file.stat().st_size // max(size, 1) + 1))
        if file.stat().st_size < whole:
            opened.truncate(whole)


def _copy_rows(old: sqlite3.Connection, new: sqlite3.Connection, table: str) -> int:
    there = [row[1] for row in new.execute(f"PRAGMA table_info({table})")]
    try:
        known = {row[1] for row in old.execute(f"PRAGMA table_info({table})")}
    except sqlite3.Error:
        return 0
    columns = [name for name in there if name in known]
    if not columns:
        return 0
    marks = ", ".join("?" * len(columns))
    into = f"INSERT INTO {table} ({', '.join(columns)}) VALUES ({marks})"
    count = 0
    for row in _rows(old, table, columns):
        with contextlib.suppress(sqlite3.Error):  # a row that no bench takes
            new.execute(into, row)
            count += 1
    return count


def _rows(old: sqlite3.Connection, table: str, columns: list[str]) -> Iterator[tuple[Any, ...]]:
    """Rows from the first on, and where one cannot be read, from the last back to it."""
    seen = set()
    listed = ", ".join(columns)
    for order in ("", " DESC"):
        try:
            # NOT INDEXED: rows are in the table's own pages, whatever became of an index
            for key, *row in old.execute(
                f"SELECT rowid, {listed} FROM {table} NOT INDEXED ORDER BY rowid{order}"
            ):
                if key in seen:
                    return
                seen.add(key)
                yield tuple(row)
            return
        except sqlite3.Error:
            continue
