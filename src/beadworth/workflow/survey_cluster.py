"""Rows of a survey from a Dask scheduler: one at an address, or one of this machine's own.

Loaded only where the libraries of the extra ``cluster`` are there.
"""

from __future__ import annotations

import logging
import os
from collections.abc import Iterator, Sequence
from concurrent.futures import CancelledError
from itertools import islice
from typing import Any

from distributed import Client, LocalCluster, as_completed

from beadworth.core import InputError
from beadworth.replay import Job, prepare, survey_row

AHEAD = 4
"""Tasks kept waiting per worker, so that thousands of files cost no memory."""
PATIENCE_S = 15
"""How long a scheduler may take to answer."""


def cluster_rows(
    waiting: Sequence[str], job: Job, cluster: str | None, workers: int | None
) -> Iterator[dict[str, Any]]:
    """Rows as they finish, in any order; a lost worker's prints are done again.

    Parameters
    ----------
    waiting : sequence of str
        Print files.
    job : Job
        What they are replayed with.
    cluster : str or None
        Address of a scheduler; None: one of our own, with so many ``workers``, else one a core.

    Raises
    ------
    InputError
        No scheduler answers, or it no longer does.
    """
    local = None
    if cluster is None:
        prepare()  # lest every worker compiles for itself
        local = LocalCluster(
            n_workers=workers or os.cpu_count() or 1,
            threads_per_worker=1,
            processes=True,
            dashboard_address=":0",  # a free port: another survey may run beside this one
            silence_logs=logging.CRITICAL,
        )
    for name in ("distributed", "distributed.client", "distributed.gc"):  # each has its own level
        logging.getLogger(name).setLevel(logging.CRITICAL)  # what it would say is said here
    try:
        with _client(local if local is not None else cluster) as client:
            yield from _asked(client, as_completed(), waiting, job)
    except OSError as error:
        raise InputError(
            f"the scheduler no longer answers: {str(error) or type(error).__name__}.",
            "--cluster",
            cluster,
            "What was replayed is in the table: once it answers, the same command does the rest.",
        ) from None
    finally:
        if local is not None:
            local.close()


def _client(where: Any) -> Any:
    """A client of a scheduler.

    Raises
    ------
    InputError
        Nothing answers at the address.
    """
    try:
        return Client(where, timeout=PATIENCE_S)
    except (OSError, ValueError) as error:
        raise InputError(
            f"no scheduler answers: {error}.", "--cluster", str(where),
            "Start one with `dask scheduler` and give its address, as tcp://HOST:8786.",
        ) from None  # fmt: skip


def _asked(client: Any, futures: Any, waiting: Sequence[str], job: Job) -> Iterator[dict[str, Any]]:
    """Rows from a scheduler, with few tasks waiting; the job travels with each of them.

    Scattering it once would be lost with the last worker that holds it. A worker that is lost
    takes prints with it that only waited there, so those that came to nothing are tried again
    at the end, one at a time: what fails then is a row that says so.
    """
    queue = iter(waiting)
    paths: dict[str, str] = {}
    lost: list[str] = []

    def ask(count: int) -> None:
        for path in islice(queue, count):
            future = client.submit(survey_row, path, job, pure=False, retries=2)
            paths[future.key] = path
            futures.add(future)

    ask(AHEAD * max(1, len(client.scheduler_info()["workers"])))
    for future in futures:
        path = paths.pop(future.key)
        row, _ = _outcome(future)
        if row is not None:
            yield row
        else:
            lost.append(path)
        ask(1)
    for path in lost:
        row, error = _outcome(client.submit(survey_row, path, job, pure=False))
        yield row or {
            "file": path, "problem": f"its worker was lost, each time it was tried: {error}"
        }  # fmt: skip


def _outcome(future: Any) -> tuple[dict[str, Any] | None, BaseException | None]:
    """The row of a print, or what it failed with.

    Raises
    ------
    ConnectionError
        The scheduler is gone; it may go between the answer that there is a row and the row.
    """
    try:
        error = future.exception()
        if error is None:
            return future.result(), None
        if not isinstance(error, CancelledError):
            return None, error
    except CancelledError:
        pass
    raise ConnectionError("the connection was lost")  # nobody here cancels
