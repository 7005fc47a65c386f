"""An open bench as such: its engine, and the one way in which it is read and written."""

from __future__ import annotations

import threading
from collections.abc import Generator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, Self

from sqlalchemy import Engine
from sqlalchemy.orm import Session

from beadworth.store.engines import reads_of, single_reads_of
from beadworth.store.opening import hold, let_go, open_empty, open_engine
from beadworth.store.trouble import file_identity, own_words, require_same_file


class OpenBench:
    """What is open, and how a session on it begins and ends."""

    def __init__(self, where: str | Path | None = None, *, make: bool = True) -> None:
        self._where = where
        self.writes = 0
        """How often something was stored since it was opened."""
        self._turn = threading.RLock()
        self._moment = threading.local()
        self._open(None if make else open_empty(where))

    def _open(self, empty: tuple[Engine, str] | None) -> None:
        self._made = empty is None
        self._engine, self.name = empty or open_engine(self._where)
        self._file = file_identity(self.name)
        self._held: tuple[int, int] | None = hold(self._file)
        self._reads = reads_of(self._engine)
        self._single_reads = single_reads_of(self._engine)

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def close(self) -> None:
        """Let go of the file or server."""
        self._engine.dispose()
        let_go(self._held)
        self._held = None

    def make(self) -> None:
        """Make the file, where it was opened without one and there is none yet."""
        if not self._made:
            self._engine.dispose()
            self._open(None)

    def settle(self) -> None:
        """Bring what stands in the log into the file, without holding anybody up."""
        if self._engine.dialect.name == "sqlite":
            with own_words(self.name), self._engine.connect() as connection:
                raw: Any = connection.connection.dbapi_connection
                raw.execute("PRAGMA wal_checkpoint(PASSIVE)").fetchall()

    @contextmanager
    def reading(self) -> Generator[None]:
        """Whatever this thread reads inside is of one moment of the bench.

        Only ``outlines`` is not: it says what there is when it is asked. Other threads are not
        held up; what is written inside is not seen inside, so write before or after.
        """
        with self._read() as session:
            outer, self._moment.session = self._shared(), session
            try:
                yield
            finally:
                self._moment.session = outer

    def _shared(self) -> Session | None:
        found: Session | None = getattr(self._moment, "session", None)
        return found

    @contextmanager
    def _read(self) -> Generator[Session]:
        if (shared := self._shared()) is not None:
            yield shared
            return
        with own_words(self.name), Session(self._reads) as session:
            yield session

    @contextmanager
    def _read_once(self) -> Generator[Session]:
        """Outside of any transaction, a shared one too: each statement sees what is there then."""
        with own_words(self.name), Session(self._single_reads) as session:
            yield session

    @contextmanager
    def _write(self) -> Generator[Session]:
        self.make()
        require_same_file(self.name, self._file)
        # Writers take turns in the database anyway: who waits for that here holds no connection.
        with (
            self._turn, own_words(self.name), Session(self._engine) as session, session.begin(),
        ):  # fmt: skip
            yield session
            self.writes += 1
