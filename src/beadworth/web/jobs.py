"""Work that takes longer than an answer may: threads with progress, the newest results kept.

A job is known by its key. Asked for again while it runs, or once it is done, it is handed out
again; one that failed is tried anew. Finished jobs are few: the one asked for longest ago goes
first, and the folder it worked in goes with it.
"""

from __future__ import annotations

import contextvars
import itertools
import logging
import shutil
import tempfile
import threading
import time
import weakref
from collections import OrderedDict
from collections.abc import Callable, Hashable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from beadworth.core import BeadworthError

STORED_MOST = 12
"""Finished jobs held at once."""
PREFIX = "beadworth-work-"
STALE_S = 86_400.0
_log = logging.getLogger(__name__)


@dataclass
class Job:
    """One piece of work."""

    key: Hashable
    number: int
    """Counts up from 1 over all jobs of its :class:`Jobs`."""
    folder: Path
    """For what it writes; it goes with the job."""
    words: str
    """What is being done, for its progress: ``Replaying``."""
    detail: Callable[[Job], str]
    """How far it is, in words; empty where there is nothing to say."""
    total: int | None = None
    """What there is to do, in the unit of ``count``; None where that is not known."""
    count: int = 0
    step: str = ""
    """What is being made now, where there are steps."""
    result: Any = None
    error: BaseException | None = None
    finished: threading.Event = field(default_factory=threading.Event)

    @property
    def share(self) -> float | None:
        """How much of it is done, 0 to 1; None where that is not known."""
        return min(1.0, self.count / self.total) if self.total else None

    def progress(self, count: int, total: int | None = None, step: str = "") -> None:
        """Say how far the work is; the work itself calls this."""
        self.count, self.step = count, step or self.step
        self.total = self.total if total is None else total

    def wait(self, seconds: float | None = None) -> bool:
        """Whether it is done, after at most so long."""
        return self.finished.wait(seconds)

    def answer(self) -> Any:
        """Its result, or the refusal it ended with; waits for it."""
        self.finished.wait()
        if self.error is not None:
            raise self.error
        return self.result


class Jobs:
    """The work under way and what came of it.

    Parameters
    ----------
    at_once : int
        How many run at the same time; the others wait their turn.
    within : Path, optional
        Folder for what they write, beside other files; left out, a temporary one.
    """

    def __init__(self, at_once: int, within: Path | None = None) -> None:
        self.turns = threading.Semaphore(at_once)
        for left in within.glob(f"{PREFIX}*") if within else ():  # of a server that was killed
            if time.time() - left.stat().st_mtime > STALE_S:
                shutil.rmtree(left, ignore_errors=True)
        self.folder = Path(tempfile.mkdtemp(prefix=PREFIX, dir=within))
        weakref.finalize(self, shutil.rmtree, self.folder, ignore_errors=True)
        self._jobs: OrderedDict[Hashable, Job] = OrderedDict()
        self._numbers = itertools.count(1)
        self._lock = threading.Lock()

    def start(
        self,
        key: Hashable,
        work: Callable[[Job], Any],
        *,
        words: str,
        total: int | None = None,
        detail: Callable[[Job], str] = lambda _: "",
        anew: bool = False,
    ) -> Job:
        """The job of that key, begun where there is none, it failed, or it is wanted ``anew``.

        One that still runs is handed out in any case.
        """
        with self._lock:
            job = self._jobs.get(key)
            if job is not None and not (job.finished.is_set() and (anew or job.error)):
                self._jobs.move_to_end(key)
                return job
            if job is not None:
                self._forget(job)
            number = next(self._numbers)
            folder = self.folder / str(number)
            folder.mkdir()
            job = self._jobs[key] = Job(key, number, folder, words, detail, total)
            done = [old for old in self._jobs.values() if old.finished.is_set()]
            for old in done[: max(0, len(self._jobs) - STORED_MOST)]:
                self._forget(old)
        # In the request's context: what the job stores bears the name of who asked for it.
        run = contextvars.copy_context().run
        threading.Thread(target=run, args=(self._run, job, work), name=words, daemon=True).start()
        return job

    def find(self, key: Hashable) -> Job | None:
        """The job of that key, where there is one."""
        with self._lock:
            return self._jobs.get(key)

    def numbered(self, number: int) -> Job | None:
        """The job of that number, where it still is."""
        with self._lock:
            return next((job for job in self._jobs.values() if job.number == number), None)

    def drop(self, which: Callable[[Hashable], bool]) -> None:
        """Give up the jobs whose key is meant; one that runs leaves nothing behind when done."""
        with self._lock:
            for job in [job for key, job in self._jobs.items() if which(key)]:
                self._forget(job)

    def _forget(self, job: Job) -> None:
        del self._jobs[job.key]
        if job.finished.is_set():
            shutil.rmtree(job.folder, ignore_errors=True)

    def _run(self, job: Job, work: Callable[[Job], Any]) -> None:
        try:
            with self.turns:
                job.result = work(job)
        except BeadworthError as error:
            job.error = error
        except BaseException as error:
            _log.error("%s failed", job.words, exc_info=error)
            job.error = error
        finally:
            with self._lock:
                if self._jobs.get(job.key) is not job:
                    shutil.rmtree(job.folder, ignore_errors=True)
                job.finished.set()
