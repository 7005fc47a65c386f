"""Publications made for a browser: in a thread, on disk, the newest of each trial kept."""

from __future__ import annotations

import shutil
import tempfile
import threading
import weakref
from collections.abc import Collection
from dataclasses import dataclass, field
from pathlib import Path

from beadworth.core import BeadworthError
from beadworth.datapackage import Shown
from beadworth.store import Bench
from beadworth.trial import write_readings_csv
from beadworth.workflow import Part, dossier_data, publish_dossier, zip_folder

ONE_AT_A_TIME = threading.Semaphore(1)
"""A publication keeps both cores busy by itself."""


@dataclass
class Publication:
    """One publication being made, or made."""

    number: int
    trial: str
    parts: frozenset[Part]
    shown: Shown
    file: Path
    what: str = "what the bench knows"
    made: int = 0
    total: int = 1
    error: BeadworthError | None = None
    done: threading.Event = field(default_factory=threading.Event)

    @property
    def share(self) -> float:
        """How much of what is being made now is made, 0 to 1."""
        return self.made / self.total if self.total else 0.0


class Publisher:
    """The publications of a bench; their files go with the app."""

    def __init__(self) -> None:
        self._folder = Path(tempfile.mkdtemp(prefix="beadworth-published-"))
        weakref.finalize(self, shutil.rmtree, self._folder, ignore_errors=True)
        self._lock = threading.Lock()
        self._newest: dict[str, Publication] = {}
        self._count = 0

    def start(self, bench: Bench, trial: str, parts: Collection[Part], shown: Shown) -> Publication:
        """Begin one; an earlier one of the trial gives up its place, unless it is the same.

        The same one that is still being made is handed out again. A licence given cannot be
        taken back, so one that differs is never answered with what was asked before.
        """
        with self._lock:
            earlier = self._newest.get(trial)
            if earlier is not None and not earlier.done.is_set():
                if (earlier.parts, earlier.shown) == (frozenset(parts), shown):
                    return earlier
            elif earlier is not None:
                earlier.file.unlink(missing_ok=True)
            self._count += 1
            home = self._folder / str(self._count)
            home.mkdir()
            made = Publication(self._count, trial, frozenset(parts), shown, home / f"{trial}.zip")
            self._newest[trial] = made
        threading.Thread(
            target=self._run, args=(bench, made), name="publication", daemon=True
        ).start()
        return made

    def find(self, trial: str, number: int) -> Publication | None:
        """The publication of that number, where it still is."""
        made = self._newest.get(trial)
        return made if made is not None and made.number == number else None

    def _run(self, bench: Bench, made: Publication) -> None:
        def tell(what: str, done: int, total: int) -> None:
            made.what, made.made, made.total = what, done, total

        inside = made.file.with_suffix("")
        try:
            with ONE_AT_A_TIME:
                data = dossier_data(bench, made.trial)
                publish_dossier(data, made.trial, inside, made.parts, shown=made.shown, tell=tell)
                readings = write_readings_csv(bench.current_readings(made.trial))
                (inside / f"{made.trial}-readings.csv").write_text(readings, encoding="utf-8")
                zip_folder(inside, made.file)
        except BeadworthError as error:
            made.error = error
        finally:
            shutil.rmtree(inside, ignore_errors=True)
            with self._lock:
                if self._newest[made.trial] is not made:
                    made.file.unlink(missing_ok=True)
                made.done.set()
