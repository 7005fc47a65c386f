"""Open a bench: where it is, the engine behind it, and bringing its tables up to date."""

from __future__ import annotations

import os
import sqlite3
from pathlib import Path
from typing import Any

import platformdirs
from sqlalchemy import Engine, create_engine, event, inspect, text
from sqlalchemy.exc import DBAPIError, OperationalError
from sqlalchemy.pool import QueuePool

from beadworth.errors import BenchError, Problem

REVISION = "0001"
"""The newest migration; a test holds it against the migrations there are."""
MIGRATIONS = Path(__file__).parent / "migrations"


def default_bench_path() -> Path:
    """The bench of this person: ``BEADWORTH_BENCH``, else a file in the platform's data folder."""
    named = os.environ.get("BEADWORTH_BENCH")
    if named and "://" not in named:
        return Path(named)
    return platformdirs.user_data_path("beadworth", appauthor=False) / "beadworth.bench"


def open_engine(where: str | Path | None) -> tuple[Engine, str]:
    """An engine with up-to-date tables, and what messages call the bench.

    Raises
    ------
    BenchError
        Not a bench, of a later release, in a folder that cannot be written, or a
        server that does not answer.
    """
    place = str(where) if where is not None else os.environ.get("BEADWORTH_BENCH") or ""
    if "://" in place:
        engine = create_engine(place, pool_pre_ping=True)
        name = engine.url.render_as_string(hide_password=True)
    else:
        path = Path(place) if place else default_bench_path()
        _prepare_folder(path)
        engine = _sqlite_engine(path)
        name = str(path)
    try:
        _bring_up(engine, name)
    except BenchError:
        engine.dispose()
        raise
    except (DBAPIError, sqlite3.Error) as error:
        engine.dispose()
        raise _cannot_open(name, error) from None
    return engine, name


def _prepare_folder(path: Path) -> None:
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise _cannot_open(str(path), error) from None
    if path.is_dir():
        raise BenchError(
            Problem("this is a folder, not a bench file.", str(path), remedy="Name a file in it.")
        )
    if path.exists() and path.stat().st_size:
        with path.open("rb") as file:
            if file.read(16) != b"SQLite format 3\0":
                raise BenchError(
                    Problem(
                        "this file is not a bench.",
                        str(path),
                        remedy="Name another file with --bench; nothing in this one was changed.",
                    )
                )


def _cannot_open(name: str, error: Exception) -> BenchError:
    cause = getattr(error, "orig", None) or error
    return BenchError(
        Problem(
            f"the bench cannot be opened: {str(cause).strip().splitlines()[0]}.",
            name,
            remedy="Check that the folder can be written and that the file is a sound bench "
            "(beadworth bench check), or name another with --bench.",
        )
    )


def _sqlite_engine(path: Path) -> Engine:
    engine = create_engine(
        f"sqlite:///{path}",
        poolclass=QueuePool,
        connect_args={"timeout": 30, "check_same_thread": False},
    )

    def connect(connection: Any, _: Any) -> None:
        connection.isolation_level = None  # we say BEGIN ourselves, below
        cursor = connection.cursor()
        cursor.execute("PRAGMA busy_timeout=30000")
        cursor.execute("PRAGMA foreign_keys=ON")
        cursor.execute("PRAGMA journal_mode=WAL")
        cursor.execute("PRAGMA synchronous=FULL")  # what was answered survives a power cut
        cursor.close()

    def begin(connection: Any) -> None:
        # IMMEDIATE: a writer waits at the start instead of failing when it upgrades its lock
        reads = connection.get_execution_options().get("reads")
        connection.exec_driver_sql("BEGIN" if reads else "BEGIN IMMEDIATE")

    event.listen(engine, "connect", connect)
    event.listen(engine, "begin", begin)
    return engine


def _bring_up(engine: Engine, name: str) -> None:
    """Run the migrations that are missing; refuse a bench of a later release."""
    with engine.connect().execution_options(reads=True) as connection:
        tables = inspect(connection).get_table_names()
        have = None
        if "alembic_version" in tables:
            have = connection.execute(text("SELECT version_num FROM alembic_version")).scalar()
    if have == REVISION:
        return
    if have is not None and have > REVISION:
        raise BenchError(
            Problem(
                f"this bench was written by a later release (tables {have}, known {REVISION}).",
                name,
                remedy="Update Beadworth, or name another bench.",
            )
        )
    if have is None and tables:
        raise BenchError(
            Problem(
                "this database holds other tables; it is not a bench.",
                name,
                remedy="Name another file or database; nothing was changed.",
            )
        )
    from alembic import command
    from alembic.config import Config

    config = Config()
    config.set_main_option("script_location", str(MIGRATIONS))
    with engine.begin() as connection:
        if engine.dialect.name == "postgresql":
            # two doors opening a new bench at once take turns
            connection.execute(text("SELECT pg_advisory_xact_lock(8642)"))
        config.attributes["connection"] = connection
        try:
            command.upgrade(config, "head")
        except OperationalError as error:
            if "already exists" not in str(error):
                raise
