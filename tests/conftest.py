"""Shared fixtures: a real headless Chromium, and what every page must pass in it.

``visit`` opens HTML text or an address and hands back a :class:`Visit`, which
listens for console errors and requests from the first byte and knows the checks
every page of ours must pass::

    @pytest.mark.browser
    def test_page(visit):
        seen = visit(html)
        seen.check()
        with seen.on_phone():
            seen.check_layout()

One browser serves all tests of a worker. Set ``BEADWORTH_CHROMIUM`` to use a
browser other than Debian's. With ``--long`` the tests marked ``long`` run too,
loops and properties try many more cases, and hypothesis draws fresh ones.
"""

from __future__ import annotations

import asyncio
import gc
import os
import shutil
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

import loops
import page_checks
import pytest
import shared_fits
from hypothesis import settings
from in_memory import in_memory

if TYPE_CHECKING:
    from playwright.sync_api import Browser, BrowserContext, Page, ViewportSize

# Before numpy is loaded, and for all that is started: threads of the algebra only wait for another.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

# A busy machine is slow, not wrong: properties are held to their claims, speed to benchmarks/.
settings.register_profile("beadworth", deadline=None, derandomize=True, max_examples=25)
settings.register_profile("long", deadline=None)
settings.load_profile("beadworth")

pytest_plugins = ["bench_fixtures", "demo_fixtures", "kernels_first", "side_by_side"]

BROWSER_ARGUMENTS = (
    "--no-sandbox",
    "--renderer-process-limit=1",  # each process compiles every script anew
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    # pages live for seconds: code is not worth being made faster, or compiled before it is called
    "--js-flags=--no-maglev --no-turbofan --max-lazy",
)


def pytest_addoption(parser: pytest.Parser) -> None:
    """Add ``--long``."""
    parser.addoption("--long", action="store_true", help="long statistical batches too")


def pytest_configure(config: pytest.Config) -> None:
    """Set how many cases loops and properties try, before any test file is read."""
    if config.getoption("--long"):
        loops.go_long()
        settings.load_profile("long")
    if memory := in_memory():  # benches wait for the disk at every entry
        os.environ.setdefault("PYTEST_DEBUG_TEMPROOT", str(memory))
    gc.disable()  # while tests are collected: hardly anything is garbage, and to look takes a third
    os.environ[shared_fits.EFFORT] = shared_fits.usual()
    os.environ[shared_fits.FOLDER] = folder = tempfile.mkdtemp(prefix="bw-run-", dir=in_memory())
    config.add_cleanup(lambda: shutil.rmtree(folder, ignore_errors=True))


def pytest_collection_finish(session: pytest.Session) -> None:
    """Before the first test: share fits, and let the collector of garbage pass over what stays."""
    if session.items and not session.config.option.collectonly:
        shared_fits.install()
        folders = {item.path.parent.name for item in session.items}
        if session.config.option.processes > 1 and "web" in folders:
            _load_what_pages_need()
        gc.freeze()
    gc.enable()


def _load_what_pages_need() -> None:
    """Once, before processes are forked that would each load it; the kernels still compile."""
    import schemathesis.specs.openapi.schemas  # noqa: F401

    from beadworth.web import create_app

    create_app(None).openapi()


@pytest.fixture(scope="module")
def full_fits() -> Iterator[None]:
    """Fits with the usual effort, for what quotes their figures; ask with ``usefixtures``."""
    with shared_fits.effort("full"):
        yield


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Leave the long tests out unless they are wanted."""
    if config.getoption("--long"):
        return
    long = [item for item in items if item.get_closest_marker("long")]
    if long:
        config.hook.pytest_deselected(items=long)
        items[:] = [item for item in items if item not in long]


WIDE: ViewportSize = {"width": 1280, "height": 900}
NARROW: ViewportSize = {"width": 360, "height": 740}


@dataclass
class Visit:
    """One open page and what was heard from it since before its first byte."""

    page: Page
    problems: list[str] = field(default_factory=list)
    """Console errors and warnings, uncaught errors, failed requests."""
    requests: list[str] = field(default_factory=list)
    """Every address asked for, the page's own first (none when opened from text)."""

    def go(self, address: str) -> None:
        """Open another page of the same server, and forget what this one asked for.

        A page of its own would start a process and compile every script anew.
        """
        assert self.problems == []
        self.requests.clear()
        self.page.goto(address)

    def look(self) -> list[str]:
        """What stands outside the viewport, scrolls out of reach of the keys, or is too faint."""
        return list(self.page.evaluate(page_checks.LOOK))

    def axe(self) -> list[str]:
        """Serious and critical accessibility findings, one line each."""
        if not self.page.evaluate("() => 'axe' in window"):
            self.page.evaluate(page_checks.AXE + "\n;undefined")
        found: Any = self.page.evaluate(page_checks.AXE_RUN)
        return [
            f"{item['impact']}: {item['id']}: {node['html'][:160]} {node['failureSummary']}"
            for item in found
            for node in item["nodes"]
        ]

    def failed(self, request: Any) -> None:
        """Note a request that failed; one that leaving the page cut off did not."""
        if request.failure != "net::ERR_ABORTED":
            self.problems.append(f"failed: {request.url}, {request.failure}")

    def settle(self) -> None:
        """Wait until the charts in sight are drawn by the browser."""
        assert self.page.evaluate(page_checks.DRAWN)

    def check(self) -> None:
        """Fail on what :meth:`check_layout` finds, or a serious accessibility finding."""
        self.check_layout()
        assert self.axe() == []
        assert self.problems == []

    def check_layout(self) -> None:
        """Fail on any console problem, sideways overflow, faint text, or scrolling without keys."""
        self.settle()
        assert self.problems == []
        assert self.look() == []
        assert self.problems == []

    def check_both(self) -> None:
        """Wide and light :meth:`check`, narrow and dark :meth:`check_layout`.

        What the page before was looked at last with comes first: a large page takes longest to
        be laid out anew.
        """
        if self.page.viewport_size == NARROW:
            self.check_layout()
            self._turn(WIDE, "light")
            self.check()
        else:
            self.check()
            self._turn(NARROW, "dark")
            self.check_layout()

    def wide(self) -> None:
        """Wide and light, however :meth:`check_both` left it."""
        if self.page.viewport_size == NARROW:
            self._turn(WIDE, "light")

    def _turn(self, size: ViewportSize, mode: str) -> None:
        self.page.emulate_media(color_scheme=mode)
        self.page.set_viewport_size(size)

    @contextmanager
    def on_phone(self, mode: str = "dark") -> Iterator[None]:
        """The page as it stands, but narrow and in the given mode; wide and light again after."""
        before = self.page.viewport_size
        self._turn(NARROW, mode)
        self.settle()
        yield
        self._turn(before, "light")


def chromium_path() -> str:
    """The browser under test; a missing one is a failure, never a silent skip."""
    named = os.environ.get("BEADWORTH_CHROMIUM")
    path = named or shutil.which("chromium-headless-shell") or shutil.which("chromium")
    if path is None or not Path(path).exists():
        pytest.fail(f"no Chromium at {path}: run `make browser` or set BEADWORTH_CHROMIUM")
    return path


@pytest.fixture(scope="session")
def running_chromium() -> Iterator[tuple[Browser, asyncio.AbstractEventLoop | None]]:
    """One headless Chromium for a whole run, and the event loop its driver left running."""
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(
            executable_path=chromium_path(), args=list(BROWSER_ARGUMENTS)
        )
        loop = asyncio._get_running_loop()
        asyncio._set_running_loop(None)
        try:
            yield browser, loop
        finally:
            asyncio._set_running_loop(loop)
            browser.close()


@pytest.fixture
def chromium(
    running_chromium: tuple[Browser, asyncio.AbstractEventLoop | None],
) -> Iterator[Browser]:
    """The browser, for one test.

    Its driver keeps an event loop suspended in this thread and asyncio takes that
    for running. The loop is announced during a test that drives the browser and
    hidden from every other, which may start loops of its own.
    """
    browser, loop = running_chromium
    asyncio._set_running_loop(loop)
    try:
        yield browser
    finally:
        asyncio._set_running_loop(None)


@pytest.fixture(scope="session")
def contexts() -> dict[str, BrowserContext]:
    """What pages of one kind share for a whole run, by kind; making one takes half a second."""
    return {}


@pytest.fixture
def visit(chromium: Browser, contexts: dict[str, BrowserContext]) -> Iterator[Callable[..., Visit]]:
    """Open a page: ``visit(target, width=1280, height=900, mode="light", **context_options)``.

    ``target`` is an address (``http://…``, ``file://…``) or HTML text. Every
    page opened is closed with the test.
    """
    opened: list[Page] = []

    def open_page(
        target: str, *, width: int = 1280, height: int = 900, mode: str = "light", **options: Any
    ) -> Visit:
        key = repr(sorted(options.items()))
        if key not in contexts:  # pages share what the browser has fetched
            contexts[key] = chromium.new_context(viewport=WIDE, color_scheme="light", **options)
        page = contexts[key].new_page()
        opened.append(page)
        if mode != "light":
            page.emulate_media(color_scheme=mode)
        if (size := {"width": width, "height": height}) != WIDE:
            page.set_viewport_size(size)
        seen = Visit(page)
        page.on(
            "console",
            lambda message: (
                seen.problems.append(f"console {message.type}: {message.text}")
                if message.type in ("error", "warning")
                else None
            ),
        )
        page.on("pageerror", lambda error: seen.problems.append(f"uncaught: {error}"))
        page.on("requestfailed", seen.failed)
        page.on("request", lambda request: seen.requests.append(request.url))
        if target.startswith(("http://", "https://", "file://")):
            page.goto(target)
        else:
            page.set_content(target)
        return seen

    yield open_page
    for page in opened:
        page.close()
    for context in contexts.values():
        context.clear_cookies()
