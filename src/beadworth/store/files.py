"""The file of a bench: copied whole or not at all, never over another, through to the disk."""

from __future__ import annotations

import contextlib
import errno
import glob
import os
import shutil
import sqlite3
from collections.abc import Generator
from datetime import UTC, datetime
from pathlib import Path

from sqlalchemy.exc import DBAPIError

from beadworth.core import BenchError, ConflictError

COMPANIONS = ("-wal", "-shm")
"""What SQLite keeps beside a file that is open, or was when its program was killed."""
COPY_AGAIN = "Check the disk and the folder, then run: beadworth bench check. No copy was left."


def copy_file(file: Path, to: Path) -> None:
    """One whole new file at ``to``, looked through after writing, on disk; or none.

    Raises
    ------
    ConflictError
        There is a file of that name.
    BenchError
        It cannot be written, or the database copied is damaged.
    """
    part = to.with_name(f"{to.name}.part-{os.getpid()}")
    if to.exists():
        raise _taken(to)
    try:
        with disk_trouble(to, "the copy could not be made", COPY_AGAIN):
            make_parent(to)
            copy_pages(file, part)
            sync(part)
            _name(part, to)
    except FileExistsError:
        raise _taken(to) from None
    finally:
        with contextlib.suppress(OSError):  # what cannot be written is told already
            part.unlink(missing_ok=True)


def copy_pages(file: Path, part: Path) -> None:
    """Through SQLite, so that a copy is of one moment and what is in the log comes along."""
    # as_uri quotes ? and #; mode=ro makes no file where there is none
    with (
        contextlib.closing(sqlite3.connect(f"{file.absolute().as_uri()}?mode=ro", uri=True)) as old,
        contextlib.closing(sqlite3.connect(part)) as new,
    ):
        old.backup(new)
        new.execute("PRAGMA journal_mode=DELETE")  # one file, ready to carry away
        damage = new.execute("PRAGMA integrity_check").fetchone()[0]
    if damage != "ok":
        raise sqlite3.DatabaseError(damage)


def make_parent(file: Path) -> None:
    """The folder a file is to stand in; a file in its place is trouble of the disk."""
    try:
        file.parent.mkdir(parents=True, exist_ok=True)
    except FileExistsError:
        raise NotADirectoryError(errno.ENOTDIR, os.strerror(errno.ENOTDIR)) from None


@contextlib.contextmanager
def disk_trouble(to: Path, what: str, remedy: str) -> Generator[None]:
    """Trouble of the disk or of SQLite in our own words; a name that is taken is the caller's."""
    try:
        yield
    except FileExistsError:
        raise
    except (OSError, sqlite3.Error, DBAPIError) as error:
        raise BenchError(f"{what}: {cause_of(error)}.", str(to), remedy=remedy) from None


def is_full(error: BaseException) -> bool:
    """Whether a disk or a quota is full, whoever says it."""
    cause = getattr(error, "orig", None) or error
    if isinstance(cause, sqlite3.Error):
        return getattr(cause, "sqlite_errorcode", 0) & 0xFF == sqlite3.SQLITE_FULL
    return isinstance(cause, OSError) and cause.errno in (errno.ENOSPC, errno.EDQUOT)


def is_read_only(error: BaseException) -> bool:
    """Whether a file was to be written that can only be read."""
    cause = getattr(error, "orig", None) or error
    return getattr(cause, "sqlite_errorcode", 0) & 0xFF == sqlite3.SQLITE_READONLY


def is_damage(error: BaseException) -> bool:
    """Whether it is the file itself that cannot be read as a database."""
    cause = getattr(error, "orig", None) or error
    code = getattr(cause, "sqlite_errorcode", 0) & 0xFF
    return code in (sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB)


def cause_of(error: BaseException) -> str:
    """What went wrong, as the end of a sentence."""
    if is_full(error):
        return "the disk is full"
    lines = str(getattr(error, "orig", None) or error).strip().splitlines()
    return lines[0].removesuffix(".") if lines else type(error).__name__


def _name(part: Path, to: Path) -> None:
    """Give a finished file its name, never over another."""
    try:
        os.link(part, to)  # refuses a name that is taken
    except FileExistsError:
        raise
    except OSError:  # a file system without links
        if to.exists():
            raise FileExistsError(str(to)) from None
        part.rename(to)
    sync(to.parent)


def sync(place: Path) -> None:
    """A file or folder through to the disk; where a system cannot sync a folder, as it is."""
    if place.is_dir() and os.name == "nt":
        return
    handle = os.open(place, os.O_RDONLY if place.is_dir() else os.O_RDWR)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def copy_bytes(place: Path, other: Path) -> None:
    """A whole copy on disk, or none: half of one would pass for the bench that was there."""
    try:
        shutil.copy2(place, other)
        sync(other)
    except OSError:
        other.unlink(missing_ok=True)
        raise


def clear_abandoned(place: Path) -> None:
    """Take away what a killed backup or restore of this file left; never that of one that runs."""
    for ending in ("restoring", "part", "making"):
        for left in place.parent.glob(f"{glob.escape(place.name)}.{ending}-*"):
            number = left.name.rpartition("-")[2]
            if number.isdecimal() and not _runs(int(number)):
                clear(left)


def _runs(process: int) -> bool:
    if process == os.getpid() or os.name == "nt":  # where asking would end it
        return True
    try:
        os.kill(process, 0)
    except ProcessLookupError:
        return False
    except OSError:
        return True
    return True


def clear(fresh: Path) -> None:
    """Take a bench file away, and what lies beside it."""
    for leftover in (fresh, *companions(fresh)):
        leftover.unlink(missing_ok=True)


def companions(path: Path) -> tuple[Path, ...]:
    """What may lie beside a bench file."""
    return tuple(path.with_name(path.name + end) for end in COMPANIONS)


def _taken(to: Path) -> ConflictError:
    return ConflictError("this file is there already.", str(to), remedy="Name a new file.")


def aside(path: Path) -> Path:
    """A name beside a bench, not taken yet, for the file that was there before."""
    stem = f"{path.name}.before-{datetime.now(UTC):%Y%m%dT%H%M%SZ}"
    made, number = path.with_name(stem), 1
    while made.exists():
        number += 1
        made = path.with_name(f"{stem}-{number}")
    return made
