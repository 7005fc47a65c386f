"""The engines behind a bench: a file that survives a power cut, or a server."""

from __future__ import annotations

import functools
import os
import re
import sqlite3
from pathlib import Path
from typing import Any

from sqlalchemy import URL, Dialect, Engine, create_engine, event
from sqlalchemy.engine import make_url
from sqlalchemy.exc import ArgumentError
from sqlalchemy.pool import QueuePool, StaticPool
from sqlalchemy.util import LRUCache

from beadworth.core import BenchError, extra_remedy

WAIT_S = 30
"""How long a writer waits for another to finish."""
WRITERS = 8642
"""The advisory lock every writer of a server takes, so that they come one after another."""
_ADDRESS = re.compile(r"(?P<kind>[A-Za-z]\w+)(?:\+\w+)?:/")  # two letters: C:/ is a path


_WORDS: LRUCache[Any, Any] = LRUCache(500)
"""Statements in the words of SQLite, for every bench file this process opens."""


def is_address(place: str) -> bool:
    """True for a database address, even where a path has swallowed one of its slashes."""
    return _ADDRESS.match(place) is not None


def file_of_address(place: str) -> str | None:
    """The file of an ``sqlite:///`` address; None for any other."""
    if not place.lower().startswith("sqlite"):
        return None
    return make_url(place).database


def only_read(path: Path) -> bool:
    """Whether a bench file can be read here, and it or its folder, for the log, not written."""
    if not path.is_file() or not os.access(path, os.R_OK):
        return False
    return not (os.access(path, os.W_OK) and os.access(path.absolute().parent, os.W_OK))


def reading_engine(path: Path) -> Engine:
    """SQLite on a file that can only be read; every write fails."""
    log = path.with_name(path.name + "-wal")
    # Without a log to read, SQLite must not look for one: it would have to make it.
    still = "" if log.exists() and log.stat().st_size else "&immutable=1"
    address = f"{path.absolute().as_uri()}?mode=ro{still}"
    engine = create_engine(
        URL.create("sqlite", database=str(path)),
        poolclass=QueuePool,
        creator=lambda: sqlite3.connect(
            address, uri=True, timeout=WAIT_S, check_same_thread=False, isolation_level=None
        ),
    )

    event.listen(engine, "begin", _begin)
    return _sharing_words(engine)


def empty_engine() -> Engine:
    """SQLite in memory: stands for a bench that is not there, until something is stored."""
    engine = create_engine(
        "sqlite://",
        poolclass=StaticPool,
        connect_args={"check_same_thread": False, "isolation_level": None},
    )
    event.listen(engine, "begin", _begin)
    return _sharing_words(engine)


@functools.cache
def _sqlite() -> Dialect:
    """One speaker of SQLite for all files: what it once put into words is found again by it."""
    engine = create_engine("sqlite://", poolclass=StaticPool)
    engine.connect().close()  # it learns what the library can
    engine.dispose()
    return engine.dialect


def _sharing_words(engine: Engine) -> Engine:
    """Let an engine find what one on another file put into words: a millisecond a statement."""
    engine.dialect = _sqlite()
    engine.update_execution_options(compiled_cache=_WORDS)
    return engine


def _begin(connection: Any) -> None:
    # IMMEDIATE: a writer waits at the start instead of failing when it upgrades its lock
    options = connection.get_execution_options()
    if not options.get("single"):
        connection.exec_driver_sql("BEGIN" if options.get("reads") else "BEGIN IMMEDIATE")


def file_engine(path: Path) -> Engine:
    """SQLite with a write-ahead log; a commit returns once it is on disk."""
    engine = create_engine(
        URL.create("sqlite", database=str(path)),
        poolclass=QueuePool,
        connect_args={"timeout": WAIT_S, "check_same_thread": False},
    )

    def connect(connection: Any, _: Any) -> None:
        connection.isolation_level = None  # we say BEGIN ourselves, below
        cursor = connection.cursor()
        cursor.execute(f"PRAGMA busy_timeout={WAIT_S * 1000}")
        cursor.execute("PRAGMA foreign_keys=ON")
        cursor.execute("PRAGMA journal_mode=WAL")
        cursor.execute("PRAGMA synchronous=FULL")  # what was answered survives a power cut
        cursor.execute("PRAGMA fullfsync=ON")  # macOS: through the drive's own cache too
        cursor.close()

    event.listen(engine, "connect", connect)
    event.listen(engine, "begin", _begin)
    return _sharing_words(engine)


def server_engine(place: str) -> Engine:
    """PostgreSQL through psycopg 3; writers take turns as they do on a file.

    Raises
    ------
    BenchError
        Another kind of server, an address that cannot be read, or no driver installed.
    """
    match = _ADDRESS.match(place)
    if match is None or match["kind"].lower() not in ("postgresql", "postgres"):
        raise _no_server(place.partition(":")[0], "a bench is a file or a PostgreSQL database.")
    try:
        url = make_url(place).set(drivername="postgresql+psycopg")
        engine = create_engine(url, pool_pre_ping=True, pool_size=20, max_overflow=20)
    except ModuleNotFoundError:
        raise BenchError(
            "the PostgreSQL driver is not installed.",
            "bench",
            remedy=extra_remedy("postgres"),
        ) from None
    except (ArgumentError, ValueError):  # its own message would show the password
        raise _no_server(match["kind"], "this address cannot be read.") from None

    def connect(connection: Any, _: Any) -> None:
        connection.execute(f"SET lock_timeout = '{WAIT_S}s'")
        connection.commit()

    def begin(connection: Any) -> None:
        if not connection.get_execution_options().get("reads"):
            connection.exec_driver_sql(f"SELECT pg_advisory_xact_lock({WRITERS})")

    event.listen(engine, "connect", connect)
    event.listen(engine, "begin", begin)
    return engine


def single_reads_of(engine: Engine) -> Engine:
    """The same engine for statements that read, each alone: without a transaction about them."""
    if engine.dialect.name == "postgresql":
        return engine.execution_options(reads=True, isolation_level="AUTOCOMMIT")
    return engine.execution_options(reads=True, single=True)


def reads_of(engine: Engine) -> Engine:
    """The same engine for transactions that only read: each sees the bench at one moment."""
    if engine.dialect.name == "postgresql":  # said where a transaction begins, at no cost
        return engine.execution_options(
            reads=True, isolation_level="REPEATABLE READ", postgresql_readonly=True
        )
    return engine.execution_options(reads=True)


def _no_server(kind: str, what: str) -> BenchError:
    return BenchError(what, "bench", kind, "Name a file, or postgresql+psycopg://user@host/name.")
