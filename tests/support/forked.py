"""Scripts in processes of their own, forked from one that has loaded the store.

A Python that starts anew spends a second on imports before its first line. ``started`` and
``ran`` behave as ``subprocess`` does with ``[sys.executable, "-c", code, *arguments]``: own
process, own exit code, ended by the signals it is sent.
"""

from __future__ import annotations

import multiprocessing
import os
import subprocess
import sys
import traceback
from pathlib import Path

import shared_fits

CONTEXT = multiprocessing.get_context("forkserver")
CONTEXT.set_forkserver_preload(
    [
        "alembic.command",
        "psycopg",
        "beadworth.store.store",
        "beadworth.workflow.readings",
        *shared_fits.ASKING,
        *shared_fits.WORKING_OUT,
    ]
)


def _live(code, arguments, pipes, effort):
    os.environ[shared_fits.EFFORT] = effort
    shared_fits.install()
    for number, pipe in enumerate(pipes):
        os.dup2(pipe.fileno(), number)
    for number, mode in enumerate("rww"):
        setattr(sys, ("stdin", "stdout", "stderr")[number], os.fdopen(number, mode, closefd=False))
    sys.argv = ["-c", *arguments]
    ended = 0
    try:
        exec(compile(code, "<script>", "exec"), {"__name__": "__main__"})
    except SystemExit as error:
        ended = error.code or 0
    except BaseException:
        traceback.print_exc()
        ended = 1
    sys.stdout.flush()
    sys.stderr.flush()
    os._exit(ended)


class Started:
    """A script that runs: ``stdin``, ``stdout`` and ``stderr`` as text, and its process."""

    def __init__(self, code, arguments):
        ours, theirs = [], []
        for number in range(3):
            reader, writer = CONTEXT.Pipe(duplex=False)
            ours.append(reader if number else writer)
            theirs.append(writer if number else reader)
        effort = os.environ[shared_fits.EFFORT]
        self.process = CONTEXT.Process(target=_live, args=(code, arguments, theirs, effort))
        self.process.start()
        for pipe in theirs:
            pipe.close()
        self.stdin, self.stdout, self.stderr = (
            os.fdopen(os.dup(pipe.fileno()), "wr"[bool(number)]) for number, pipe in enumerate(ours)
        )
        for pipe in ours:
            pipe.close()

    def end(self, timeout=60):
        """Wait for it; what it said since, and how it ended (a signal is below 0)."""
        self.stdin.close()
        said, complained = self.stdout.read(), self.stderr.read()
        self.process.join(timeout)
        code = self.process.exitcode
        assert code is not None, "it still runs"
        self.stdout.close()
        self.stderr.close()
        self.process.close()
        return subprocess.CompletedProcess("script", code, said, complained)

    def kill(self):
        """As a power cut would."""
        self.process.kill()


def started(code: str, *arguments: str | Path) -> Started:
    """Start a script and go on."""
    return Started(code, [str(one) for one in arguments])


def ran(code: str, *arguments: str | Path, check: bool = True) -> subprocess.CompletedProcess[str]:
    """Run a script to its end; with ``check`` it must end well."""
    done = started(code, *arguments).end()
    if check:
        assert done.returncode == 0, done.stderr
    return done
