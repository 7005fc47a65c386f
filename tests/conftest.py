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
import os
import shutil
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

import loops
import pytest
from hypothesis import settings

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

# A busy machine is slow, not wrong: properties are held to their claims, speed to benchmarks/.
settings.register_profile("beadworth", deadline=None, derandomize=True, max_examples=50)
settings.register_profile("long", deadline=None)
settings.load_profile("beadworth")

pytest_plugins = ["bench_fixtures", "demo_fixtures"]

# Only what is wrong is wanted: without this most of the time goes into listing what is right.
# What is inside a drawing is one image to a reader of the page, and thousands of elements to the
# checker, which does not know the colour of a text in it: it is taken out meanwhile.
AXE_RUN = """async (rules) => {
  const drawings = [...document.querySelectorAll('svg')].filter((s) => s.closest('[role=img]'));
  const inside = drawings.map((s) => [...s.childNodes]);
  drawings.forEach((s) => s.replaceChildren());
  try {
    const only = rules.length ? {runOnly: rules} : {};
    const options = {resultTypes: ['violations'], preload: false, ...only};
    return (await axe.run(document, options)).violations;
  } finally {
    drawings.forEach((s, k) => s.replaceChildren(...inside[k]));
  }
}"""
BY_WIDTH = ("scrollable-region-focusable",)
"""The accessibility rules whose finding may change with the width of a page."""
AXE = Path(__file__).parent / "vendor" / "axe.min.js"
BROWSER_ARGUMENTS = (
    "--no-sandbox",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)
# Elements that stick out of the viewport, unless an ancestor scrolls them on purpose.
OVERFLOW_SCRIPT = """() => {
  const wide = document.documentElement.clientWidth + 1;
  const scrolls = (element) => {
    for (let e = element; e; e = e.parentElement) {
      const x = getComputedStyle(e).overflowX;
      if (x === 'auto' || x === 'scroll' || x === 'hidden') return true;
    }
    return false;
  };
  const out = [];
  if (document.documentElement.scrollWidth > wide)
    out.push(`page scrolls sideways: ${document.documentElement.scrollWidth} > ${wide - 1}`);
  for (const e of document.body.querySelectorAll('*')) {
    const box = e.getBoundingClientRect();
    if (box.width && box.right > wide && !scrolls(e.parentElement))
      out.push(`${e.tagName.toLowerCase()}.${e.getAttribute('class') || ''} ends at ` +
               `${Math.round(box.right)} px: ${e.textContent.trim().slice(0, 40)}`);
  }
  return out;
}"""


def pytest_addoption(parser: pytest.Parser) -> None:
    """Add ``--long``."""
    parser.addoption("--long", action="store_true", help="long statistical batches too")


def pytest_configure(config: pytest.Config) -> None:
    """Set how many cases loops and properties try, before any test file is read."""
    if config.getoption("--long"):
        loops.go_long()
        settings.load_profile("long")


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Leave the long tests out unless they are wanted."""
    if config.getoption("--long"):
        return
    long = [item for item in items if item.get_closest_marker("long")]
    if long:
        config.hook.pytest_deselected(items=long)
        items[:] = [item for item in items if item not in long]


@dataclass
class Visit:
    """One open page and what was heard from it since before its first byte."""

    page: Page
    problems: list[str] = field(default_factory=list)
    """Console errors and warnings, uncaught errors, failed requests."""
    requests: list[str] = field(default_factory=list)
    """Every address asked for, the page's own first (none when opened from text)."""

    def overflow(self) -> list[str]:
        """What makes the page scroll sideways or stands outside the viewport."""
        return list(self.page.evaluate(OVERFLOW_SCRIPT))

    def axe(
        self,
        impacts: tuple[str, ...] = ("serious", "critical"),
        rules: tuple[str, ...] = (),
    ) -> list[str]:
        """Accessibility findings of the given impacts, one line each; no rules named means all."""
        if not self.page.evaluate("() => 'axe' in window"):
            self.page.evaluate(AXE.read_text(encoding="utf-8") + "\n;undefined")
        found: Any = self.page.evaluate(AXE_RUN, list(rules))
        return [
            f"{item['impact']}: {item['id']}: {node['html'][:160]} {node['failureSummary']}"
            for item in found
            if item["impact"] in impacts
            for node in item["nodes"]
        ]

    def check(self) -> None:
        """Fail on any console problem, sideways overflow or serious accessibility finding."""
        assert self.problems == []
        assert self.overflow() == []
        assert self.axe() == []
        assert self.problems == []

    def check_layout(self) -> None:
        """Fail on what may go wrong at this width though it was right at another."""
        assert self.problems == []
        assert self.overflow() == []
        assert self.axe(rules=BY_WIDTH) == []
        assert self.problems == []

    @contextmanager
    def on_phone(self, mode: str = "dark") -> Iterator[None]:
        """The page as it stands, but narrow and in the given mode; wide and light again after."""
        before = self.page.viewport_size
        self.page.emulate_media(color_scheme=mode)
        self.page.set_viewport_size({"width": 360, "height": 740})
        self.page.wait_for_timeout(200)  # charts of the other width are drawn
        yield
        self.page.set_viewport_size(before)
        self.page.emulate_media(color_scheme="light")


def chromium_path() -> str:
    """The browser under test; a missing one is a failure, never a silent skip."""
    path = os.environ.get("BEADWORTH_CHROMIUM") or shutil.which("chromium") or "/usr/bin/chromium"
    if not Path(path).exists():
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


@pytest.fixture
def visit(chromium: Browser) -> Iterator[Callable[..., Visit]]:
    """Open a page: ``visit(target, width=1280, height=900, mode="light", **context_options)``.

    ``target`` is an address (``http://…``, ``file://…``) or HTML text. Every
    page opened is closed with the test.
    """
    contexts: dict[str, Any] = {}

    def open_page(
        target: str, *, width: int = 1280, height: int = 900, mode: str = "light", **options: Any
    ) -> Visit:
        options |= {"viewport": {"width": width, "height": height}, "color_scheme": mode}
        key = repr(sorted(options.items()))
        if key not in contexts:  # pages of one kind share what the browser has fetched
            contexts[key] = chromium.new_context(**options)
        page = contexts[key].new_page()
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
        page.on("requestfailed", lambda request: seen.problems.append(f"failed: {request.url}"))
        page.on("request", lambda request: seen.requests.append(request.url))
        if target.startswith(("http://", "https://", "file://")):
            page.goto(target)
        else:
            page.set_content(target)
        return seen

    yield open_page
    for context in contexts.values():
        context.close()
