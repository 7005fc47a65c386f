"""``--processes N``: the tests in N processes, forked once every test is collected.

Test files are read, rewritten and imported, and what they need is loaded, once for all; processes
that each collect for themselves spend a tenth of the run on it. A process asks for another file of
tests when it is done with one. Reports come back as they are made, and the process that collected
says and counts them as if it had run the tests.
"""

from __future__ import annotations

import os
import shutil
import signal
import sys
import tempfile
import traceback
from collections import deque
from collections.abc import Iterator
from itertools import groupby, zip_longest
from multiprocessing import Pipe
from multiprocessing.connection import Connection, wait
from pathlib import Path
from typing import Any, Literal, NoReturn

import pytest
from _pytest.runner import pytest_sessionfinish as tear_all_down

TEMPROOT = "PYTEST_DEBUG_TEMPROOT"
"""Environment: where pytest makes the folders of tests."""


def pytest_addoption(parser: pytest.Parser) -> None:
    """Add ``--processes``."""
    parser.addoption("--processes", type=int, default=1, help="run the tests in so many processes")


def pytest_configure(config: pytest.Config) -> None:
    """Refuse what cannot be had together."""
    if config.option.processes > 1 and config.option.basetemp:
        raise pytest.UsageError("each of --processes has folders of its own: leave --basetemp out")


def pytest_runtestloop(session: pytest.Session) -> bool | None:
    """Run the files of tests side by side, where more than one process is asked for."""
    option = session.config.option
    if option.processes < 2 or option.collectonly or session.testsfailed:
        return None
    Run(session).go(option.processes)
    return True


def in_files(numbers: list[int], items: list[pytest.Item]) -> list[list[int]]:
    """Numbers of tests by file, in the order in which they are handed out.

    Files of a browser take longest and often wait, so they come early, each followed by one that
    does not wait; within both kinds long files come first, lest one of them be the last.
    """
    files = [list(own) for _, own in groupby(numbers, lambda k: items[k].path)]
    files.sort(key=lambda own: -items[own[0]].path.stat().st_size)
    kinds: list[list[list[int]]] = [[], []]
    for own in files:
        kinds[items[own[0]].get_closest_marker("browser") is None].append(own)
    return [own for pair in zip_longest(*kinds) for own in pair if own]


class Run:
    """The process that collected; it hands out files, and says what comes back."""

    def __init__(self, session: pytest.Session):
        self.session, self.config, self.items = session, session.config, session.items
        self.left = deque(in_files(list(range(len(self.items))), self.items))
        self.given: dict[Connection, list[int]] = {}
        self.process: dict[Connection, int] = {}
        self.done: set[str] = set()
        self.place = Path(tempfile.mkdtemp(prefix="bw-tests-", dir=os.environ.get(TEMPROOT)))

    def go(self, count: int) -> None:
        """Fork so many, and go on until nothing is left or it is enough."""
        try:
            for _ in range(min(count, len(self.left))):
                self.fork()
            while self.given:
                for way in wait(list(self.given)):
                    self.hear(way)
                if self.session.shouldfail:
                    raise self.session.Failed(self.session.shouldfail)
                if self.session.shouldstop:
                    raise self.session.Interrupted(self.session.shouldstop)
        finally:
            for process in self.process.values():
                os.kill(process, signal.SIGINT)
            for way in list(self.given):
                self.end(way)
            shutil.rmtree(self.place, ignore_errors=True)

    def fork(self) -> None:
        """Fork a process that runs what it is given."""
        ours, theirs = Pipe()
        sys.stdout.flush()
        sys.stderr.flush()
        process = os.fork()
        if not process:
            for other in (ours, *self.given):
                other.close()
            live(self.session, theirs, self.place)
        theirs.close()
        self.given[ours], self.process[ours] = [], process

    def hear(self, way: Connection) -> None:
        """What a process sends: a report; None where it asks for a file; nothing any more."""
        try:
            sent = way.recv()
        except (EOFError, ConnectionResetError):
            self.gone(way)
            return
        if sent is None:
            numbers = self.left.popleft() if self.left else []
            self.given[way] += numbers
            way.send(numbers)
            return
        hook = self.config.hook
        report = hook.pytest_report_from_serializable(config=self.config, data=sent)
        hook.pytest_runtest_logreport(report=report)
        if report.when == "teardown":
            self.done.add(report.nodeid)
            hook.pytest_runtest_logfinish(nodeid=report.nodeid, location=report.location)

    def gone(self, way: Connection) -> None:
        """A process has ended; if with tests left, the first of them did it and has failed."""
        given = self.given[way]
        left = [k for k in given if self.items[k].nodeid not in self.done]
        how = self.end(way)
        if left:
            self.failed(left[0], "call", f"its process ended with it: {how}")
        elif how:
            self.failed(given[-1], "teardown", f"what stayed set up could not be put away: {how}")
        self.left.extendleft(in_files(left[1:], self.items))
        if self.left:
            self.fork()

    def failed(self, number: int, when: Literal["call", "teardown"], words: str) -> None:
        """Report a test that could not do so itself."""
        item = self.items[number]
        report = pytest.TestReport(item.nodeid, item.location, {}, "failed", words, when)
        self.config.hook.pytest_runtest_logreport(report=report)

    def end(self, way: Connection) -> int:
        """See a process off; gives its exit code, or below 0 the signal that ended it."""
        del self.given[way]
        way.close()
        return os.waitstatus_to_exitcode(os.waitpid(self.process.pop(way), 0)[1])


def live(session: pytest.Session, way: Connection, place: Path) -> NoReturn:
    """Run what is handed out, and end."""
    how = 1
    try:
        session.config.pluginmanager.register(Sender(session.config, way))
        os.environ[TEMPROOT] = str(place / str(os.getpid()))
        os.mkdir(os.environ[TEMPROOT])
        _be_quiet(session.config.pluginmanager)
        try:
            for tests in _handed_out(session.items, way):
                # the last of a file is followed by nothing but the session, which stays set up
                for item, following in zip(tests, [*tests[1:], session], strict=True):
                    item.config.hook.pytest_runtest_protocol(item=item, nextitem=following)
        finally:
            tear_all_down(session)
        how = 0
    except KeyboardInterrupt:
        pass
    except BaseException:
        traceback.print_exc()
    finally:
        os._exit(how)


class Sender:
    """In a forked process: hands each report over."""

    def __init__(self, config: pytest.Config, way: Connection):
        self.config, self.way = config, way

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        """Send it."""
        hook = self.config.hook
        made = hook.pytest_report_to_serializable(config=self.config, report=report)
        self.way.send(made)


def _be_quiet(plugins: Any) -> None:
    """Say nothing here, and catch what tests say in files of this process."""
    plugins.unregister(name="terminalreporter")
    if capture := plugins.getplugin("capturemanager"):
        capture.stop_global_capturing()
        capture.start_global_capturing()
        capture.suspend_global_capture()


def _handed_out(items: list[pytest.Item], way: Connection) -> Iterator[list[pytest.Item]]:
    """Files of tests, one after another, until there is none."""
    while True:
        way.send(None)
        numbers = way.recv()
        if not numbers:
            return
        yield [items[number] for number in numbers]
