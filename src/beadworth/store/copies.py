"""Copies of a bench file: back up, restore, and set aside what was there."""

from __future__ import annotations

import contextlib
import os
import sqlite3
import tempfile
from pathlib import Path

from sqlalchemy import Engine, create_engine
from sqlalchemy.orm import Session

from beadworth.core import BenchError, ConflictError, Problem
from beadworth.store.engines import file_engine, is_address
from beadworth.store.files import (
    COMPANIONS,
    aside,
    cause_of,
    clear,
    clear_abandoned,
    companions,
    copy_bytes,
    copy_file,
    copy_pages,
    disk_trouble,
    is_damage,
    make_parent,
    sync,
)
from beadworth.store.opening import (
    DamagedError,
    bring_up,
    open_engine,
    place_of,
    refuse_other_files,
    refuse_without_tables,
    require_there,
)
from beadworth.store.salvage import salvage
from beadworth.store.upkeep import check
from beadworth.store.values import BackupReport, CheckReport

RESTORE_AGAIN = (
    "Make room on the disk or take another backup, then restore again; nothing was replaced."
)
OR_DAMAGED = (
    "Restore an earlier backup, or add --damaged to take this one as it is; nothing was replaced."
)


def check_bench(where: str | Path | None = None) -> tuple[str, CheckReport]:
    """Look a bench through, also one too damaged to be opened; its name, and what was found.

    Of a file that cannot be opened the report counts what can be read.
    """
    place = place_of(where)
    if isinstance(place, Path):
        require_there(place)
    try:
        engine, name = open_engine(where)
    except DamagedError as error:
        return _check_damaged(Path(place_of(where)), error)
    try:
        with Session(engine.execution_options(reads=True)) as session:
            return name, check(session)
    finally:
        engine.dispose()


def _check_damaged(place: Path, error: DamagedError) -> tuple[str, CheckReport]:
    with tempfile.TemporaryDirectory() as folder:
        found = salvage(place, Path(folder) / "read.bench")
    report = CheckReport(found["trials"], found["readings"], (error.problems[0].what.rstrip("."),))
    return str(place), report


def backup(engine: Engine, name: str, to: Path) -> BackupReport:
    """Copy a bench file with SQLite's online backup, never over another file."""
    if engine.dialect.name != "sqlite":
        raise _on_a_server(name, "Back it up with the server's own dump tool.")
    file = engine.url.database
    assert file is not None
    copy_file(Path(file), to)
    copied = create_engine(engine.url.set(database=str(to)))
    try:
        with Session(copied) as session:
            report = check(session)
    finally:
        copied.dispose()
    return BackupReport(to, to.stat().st_size, report.readings, report.findings)


def restore_bench(
    copy: Path, where: str | Path | None = None, *, replace: bool = False, damaged: bool = False
) -> CheckReport:
    """Put a backup in a bench's place; a bench that was there is set aside beside it.

    Parameters
    ----------
    copy : Path
        The backup; it is only read.
    where : path, optional
        As for :func:`beadworth.store.open_bench`; a damaged bench may be there.
    replace : bool
        Must be given where there is a bench.
    damaged : bool
        Take a backup with findings: whole where its file can be read, else every row that can.

    Raises
    ------
    BenchError
        The backup is missing, damaged, no bench, or of a later release; or the place
        cannot be written. Nothing was replaced.
    ConflictError
        A bench is there and ``replace`` is not given, or another program has it open.
    """
    place = place_of(where)
    if isinstance(place, str) or is_address(str(place)):
        raise _on_a_server(str(place), "Restore it with the server's own tool.")
    if not copy.is_file():
        raise BenchError("there is no such backup.", str(copy), remedy="Check its name.")
    if place.exists() and copy.samefile(place):
        raise ConflictError(
            "the backup and the bench are one file.", str(copy), remedy="Name a backup."
        )
    if place.exists() and not replace:
        raise ConflictError(
            "a bench is there already.",
            str(place),
            remedy="Add --replace: the present one is then saved beside it.",
        )
    refuse_other_files(copy)
    fresh = place.with_name(f"{place.name}.restoring-{os.getpid()}")
    try:
        with disk_trouble(place, f"{copy} could not be restored", RESTORE_AGAIN):
            make_parent(place)
            clear_abandoned(place)
            clear(fresh)
            _take(copy, fresh, damaged)
            report = _checked_copy(fresh, copy, damaged)
            sync(fresh)
            _set_aside(place)
            fresh.replace(place)
            sync(place.parent)
    finally:
        with contextlib.suppress(OSError):  # what cannot be written is told already
            clear(fresh)
    return report


def _take(copy: Path, fresh: Path, damaged: bool) -> None:
    try:
        copy_pages(copy, fresh)
    except sqlite3.DatabaseError as error:
        # the check of the copy reports its damage without a code
        if not (is_damage(error) or not hasattr(error, "sqlite_errorcode")):
            raise
        if not damaged:
            raise BenchError(
                f"the backup is damaged: {cause_of(error)}.", str(copy), remedy=OR_DAMAGED
            ) from None
        clear(fresh)
        salvage(copy, fresh)
    else:
        refuse_without_tables(fresh, copy)


def _checked_copy(fresh: Path, copy: Path, damaged: bool) -> CheckReport:
    """Bring the copy to this release's tables and check it."""
    engine = file_engine(fresh)
    try:
        bring_up(engine, str(copy), None)
        with Session(engine.execution_options(reads=True)) as session:
            report = check(session)
    finally:
        engine.dispose()
    if not report.sound and not damaged:
        raise BenchError(
            [Problem(f"{finding}.", str(copy), remedy=OR_DAMAGED) for finding in report.findings]
        )
    # On a full disk new tables can be in the log and not fit into the file: closing says nothing
    # of it, and the file without its log is no bench. Leaving the log fails where they do not.
    with contextlib.closing(sqlite3.connect(fresh)) as file:
        file.execute("PRAGMA journal_mode=DELETE").fetchall()
    return report


def _set_aside(place: Path) -> None:
    """A second name for the bench that is there, its log with it; the place stays filled."""
    if not place.exists():
        return
    try:
        # Leaving the log needs the file for oneself: what is in it goes into the file, and
        # no log is left behind that would be taken for the restored file's.
        with contextlib.closing(sqlite3.connect(place, timeout=1)) as old:
            old.execute("PRAGMA journal_mode=DELETE").fetchall()
    except sqlite3.Error as error:
        if getattr(error, "sqlite_errorcode", 0) & 0xFF == sqlite3.SQLITE_BUSY:
            raise ConflictError(
                "another program has this bench open.",
                str(place),
                remedy="Stop it (beadworth demo, beadworth bench serve), then restore "
                "again; nothing was replaced.",
            ) from None
        # too damaged to be read: kept as it is, log and all
    other = aside(place)
    try:
        os.link(place, other)
    except OSError:  # a file system without links
        copy_bytes(place, other)
    for companion, end in zip(companions(place), COMPANIONS, strict=True):
        if companion.exists():
            companion.rename(other.with_name(other.name + end))
    sync(place.parent)


def _on_a_server(name: str, remedy: str) -> BenchError:
    return BenchError("this bench is on a database server.", name, remedy=remedy)
