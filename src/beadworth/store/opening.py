"""Open a bench: where it is, and bringing its tables up to date."""

from __future__ import annotations

import contextlib
import os
import sqlite3
import threading
from collections import Counter
from pathlib import Path

import platformdirs
from sqlalchemy import Engine, inspect, text
from sqlalchemy.exc import DBAPIError

from beadworth.core import BenchError
from beadworth.store.engines import (
    empty_engine,
    file_engine,
    file_of_address,
    is_address,
    only_read,
    reading_engine,
    server_engine,
)
from beadworth.store.files import aside, cause_of, clear, copy_file, is_damage, is_full
from beadworth.store.trouble import file_identity

REVISION = "0004"
"""The newest migration; a test holds it against the migrations there are."""
MIGRATIONS = Path(__file__).parent / "migrations"
HEADER = b"SQLite format 3\0"


class DamagedError(BenchError):
    """The bench file itself cannot be read."""


def default_bench_path() -> Path:
    """The bench file of this person: ``BEADWORTH_BENCH``, else one in the platform's data folder.

    Where ``BEADWORTH_BENCH`` is a server's address, the file in the platform's data folder.
    """
    named = os.environ.get("BEADWORTH_BENCH")
    if named and not is_address(named):
        return Path(named)
    return platformdirs.user_data_path("beadworth", appauthor=False) / "beadworth.bench"


def place_of(where: str | Path | None) -> str | Path:
    """Where a bench is: the path of a file, or as text the address of a server."""
    place = str(where) if where is not None else os.environ.get("BEADWORTH_BENCH") or ""
    if not place:
        return default_bench_path()
    if not is_address(place):
        return Path(place)
    file = file_of_address(place)
    return Path(file) if file else place


def open_engine(where: str | Path | None) -> tuple[Engine, str]:
    """An engine with up-to-date tables, and what messages call the bench.

    A file of an earlier release is copied aside before its tables are changed.

    Raises
    ------
    BenchError
        Not a bench, of a later release, in a folder that cannot be written, or a
        server that does not answer.
    """
    place = place_of(where)
    if isinstance(place, str):
        engine = server_engine(place)
        name = engine.url.render_as_string(hide_password=True)
    else:
        _prepare(place)
        if only_read(place):
            return _open_to_read(place)
        engine, name = file_engine(place), str(place)
    try:
        if isinstance(place, Path):
            _make(place)
        bring_up(engine, name, place if isinstance(place, Path) else None)
    except BenchError:
        engine.dispose()
        raise
    except (DBAPIError, sqlite3.Error, ValueError) as error:  # ValueError: a NUL in the path
        engine.dispose()
        raise cannot_open(name, error) from None
    return engine, name


def open_empty(where: str | Path | None) -> tuple[Engine, str] | None:
    """A stand-in for a bench file that is not there, and its name; None where one is."""
    place = place_of(where)
    if isinstance(place, str) or "\0" in str(place) or os.path.lexists(place):
        return None
    engine = empty_engine()
    bring_up(engine, str(place), None)
    return engine, str(place)


def require_there(place: Path) -> None:
    """Raise :class:`BenchError` where there is no bench file."""
    if not place.exists():
        raise BenchError(
            "there is no bench here.", str(place), remedy="Check its name; nothing was made."
        )


def _open_to_read(path: Path) -> tuple[Engine, str]:
    """A bench that can be looked at; what it has no room for is told by whoever writes."""
    name = str(path)
    engine = reading_engine(path)
    try:
        have = _revision(engine, name)
    except BenchError:
        engine.dispose()
        raise
    except (DBAPIError, sqlite3.Error) as error:
        engine.dispose()
        raise cannot_open(name, error) from None
    if have != REVISION:
        engine.dispose()
        raise BenchError(
            "this bench can only be read, and is of an earlier release or has no tables.",
            name,
            remedy="Copy it to a folder that can be written and open the copy.",
        )
    return engine, name


def _prepare(path: Path) -> None:
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        if path.is_dir():
            raise BenchError(
                "this is a folder, not a bench file.", str(path), remedy="Name a file in it."
            )
        refuse_other_files(path)
    except BenchError:
        raise
    except (OSError, ValueError) as error:
        raise cannot_open(str(path), error) from None


def _make(path: Path) -> None:
    """A new bench has its name only once its tables are in it; or is there already."""
    if path.exists():
        if path.stat().st_size:
            refuse_without_tables(path, path)
        return
    part = path.with_name(f"{path.name}.making-{os.getpid()}")
    clear(part)
    try:
        engine = file_engine(part)
        try:
            bring_up(engine, str(path), None)
        finally:
            engine.dispose()
        with contextlib.suppress(FileExistsError):  # another was first
            try:
                os.link(part, path)
            except FileExistsError:
                raise
            except OSError:  # a file system without links
                if not path.exists():
                    part.rename(path)
    finally:
        clear(part)


def refuse_without_tables(path: Path, named: Path) -> None:
    """Raise :class:`BenchError` where a file has no tables: its write-ahead log is missing.

    While a bench is open, what was entered last stands in a second file beside it. The first
    alone then opens as an empty database, and would pass for a bench with nothing on it.
    """
    with contextlib.closing(sqlite3.connect(path)) as file:
        if file.execute("SELECT count(*) FROM sqlite_master").fetchone()[0]:
            return
    raise BenchError(
        "this file holds no tables: what was entered stands in the file beside it, "
        f"{named.name}-wal, which was not copied with it.",
        str(named),
        remedy=f"Copy {named.name} and {named.name}-wal together, or copy with: beadworth bench "
        "backup. Nothing was changed.",
    )


_holding = threading.Lock()
_held: Counter[tuple[int, int]] = Counter()
"""Files this process has open as benches, and how often.

Whoever closes a file takes away all locks its process has on it (POSIX, fcntl), those of SQLite
too. Another program then takes itself for the last one, puts the log away under our hands, and the
bench is damaged: a file that is held is never opened in another way than by SQLite.
"""


def hold(file: tuple[int, int] | None) -> tuple[int, int] | None:
    """Note that a bench is open in this file (None: in no file), until :func:`let_go`."""
    if file is not None:
        with _holding:
            _held[file] += 1
    return file


def let_go(file: tuple[int, int] | None) -> None:
    """Note that a bench is no longer open in this file; None is nothing to note."""
    if file is not None:
        with _holding:
            _held[file] -= 1
            if not _held[file]:
                del _held[file]


def refuse_other_files(path: Path) -> None:
    """Raise :class:`BenchError` where there is a file that is no database."""
    if not path.exists() or not path.stat().st_size or file_identity(str(path)) in _held:
        return
    with path.open("rb") as file:
        if file.read(len(HEADER)) == HEADER:
            return
    raise BenchError(
        "this file is not a bench.",
        str(path),
        remedy="Name another file with --bench; nothing in this one was changed.",
    )


def cannot_open(name: str, error: Exception) -> BenchError:
    """The refusal of a bench that cannot be opened, with the cause."""
    what = f"the bench cannot be opened: {cause_of(error)}."
    if is_damage(error):
        return DamagedError(
            what,
            name,
            remedy="See what can be read: beadworth bench check. Then restore a backup: "
            "beadworth bench restore BACKUP --replace.",
        )
    if is_full(error):
        return BenchError(what, name, remedy="Make room on the disk, then try again.")
    return BenchError(
        what,
        name,
        remedy="Check that the folder can be written, or name another bench with --bench.",
    )


def bring_up(engine: Engine, name: str, file: Path | None) -> None:
    """Run the migrations that are missing; refuse a bench of a later release.

    Parameters
    ----------
    file : Path or None
        The bench's file, to be copied aside before its tables are changed; None: it is not.

    Raises
    ------
    BenchError
        The tables are of a later release, or no bench's.
    DBAPIError
        The database fails at it.
    """
    have = _revision(engine, name)
    if have == REVISION:
        return
    if have is not None and file is not None:
        copy_file(file, aside(file))
    from alembic import command
    from alembic.config import Config

    config = Config()
    config.set_main_option("script_location", str(MIGRATIONS).replace("%", "%%"))
    # A writer from the start: of two processes that open a bench at once, the second finds it done.
    with engine.begin() as connection:
        config.attributes["connection"] = connection
        command.upgrade(config, "head")


def _revision(engine: Engine, name: str) -> str | None:
    """The tables a bench has; None where it is empty."""
    with engine.connect().execution_options(reads=True) as connection:
        tables = inspect(connection).get_table_names()
        have = None
        if "alembic_version" in tables:
            have = connection.execute(text("SELECT version_num FROM alembic_version")).scalar()
    known = {file.name.partition("_")[0] for file in (MIGRATIONS / "versions").glob("[0-9]*.py")}
    if have is None and tables:
        raise BenchError(
            "this database holds other tables; it is not a bench.",
            name,
            remedy="Name another file or database; nothing was changed.",
        )
    if have is not None and have not in known:
        later = str(have) > REVISION
        what = "was written by a later release" if later else "has tables no release knows"
        raise BenchError(
            f"this bench {what} (tables {have}, known {REVISION}).",
            name,
            remedy="Update Beadworth, or name another bench."
            if later
            else "Restore a backup (beadworth bench restore), or name another bench.",
        )
    return have
