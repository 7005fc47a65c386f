"""Where prints are worked on: threads with progress, results kept, maps and copies on disk."""

from __future__ import annotations

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
from beadworth.store import Bench, PrintShelf

KEPT = 12
"""Results kept; the one asked for longest ago goes first."""
AT_ONCE = threading.Semaphore(2)
STALE_S = 86_400.0

Progress = Callable[[int], None]


@dataclass
class Job:
    """One piece of work."""

    what: str
    total: int | None
    """Bytes to read, where that can be known."""
    read: int = 0
    result: Any = None
    error: BaseException | None = None
    done: threading.Event = field(default_factory=threading.Event)

    @property
    def share(self) -> float | None:
        """How much of it is read, 0 to 1."""
        return min(1.0, self.read / self.total) if self.total else None

    def wait(self, seconds: float | None = None) -> bool:
        """Whether it is done, after at most so long."""
        return self.done.wait(seconds)

    def answer(self) -> Any:
        """Its result, or the refusal it ended with; waits for it."""
        self.done.wait()
        if self.error is not None:
            raise self.error
        return self.result


class Desk:
    """The prints of a bench and the work under way on them."""

    def __init__(self, bench: Bench) -> None:
        self.shelf = PrintShelf(bench)
        self._jobs: OrderedDict[Hashable, Job] = OrderedDict()
        self._lock = threading.Lock()
        for left in self.shelf.folder.glob("work-*"):  # of a server that was killed
            if time.time() - left.stat().st_mtime > STALE_S:
                shutil.rmtree(left, ignore_errors=True)
        self.work = Path(tempfile.mkdtemp(prefix="work-", dir=self.shelf.folder))
        """For what is made on the way; it goes with the app."""
        weakref.finalize(self, shutil.rmtree, self.work, ignore_errors=True)

    def job(
        self, key: Hashable, what: str, total: int | None, work: Callable[[Progress], Any]
    ) -> Job:
        """The job of that key, started where there is none (or it failed)."""
        with self._lock:
            job = self._jobs.get(key)
            if job is not None and job.error is None:
                self._jobs.move_to_end(key)
                return job
            job = self._jobs[key] = Job(what, total)
            done = [k for k, old in self._jobs.items() if old.done.is_set()]
            for old in done[: max(0, len(self._jobs) - KEPT)]:
                del self._jobs[old]
        threading.Thread(target=_run, args=(job, work), name=f"print-{what}", daemon=True).start()
        return job

    def known(self, key: Hashable) -> Job | None:
        """The job of that key, where there is one."""
        with self._lock:
            return self._jobs.get(key)


def _run(job: Job, work: Callable[[Progress], Any]) -> None:
    def progress(count: int) -> None:
        job.read = count

    try:
        with AT_ONCE:
            job.result = work(progress)
    except (BeadworthError, OSError, ArithmeticError, MemoryError) as error:
        job.error = error
    except BaseException as error:
        job.error = error
        raise
    finally:
        job.done.set()
