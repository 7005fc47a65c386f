"""The browser fixture itself: it must hear and see what it is there to catch."""

from __future__ import annotations

import pytest

pytestmark = pytest.mark.browser
HEAD = "<!doctype html><html lang='en'><head><title>t</title></head><body><main><h1>t</h1>"


def test_a_clean_page_passes(visit):
    seen = visit(HEAD + "<p>calm</p></main></body></html>", width=360)
    seen.check()
    assert seen.requests == []


def test_faults_are_heard_and_seen(visit):
    seen = visit(
        HEAD + "<img src='data:image/png;base64,AA'><p style='width:900px'>wide</p></main>"
        "<script>console.error('boo'); throw new Error('bang')</script></body></html>",
        width=360,
    )
    assert any("boo" in item for item in seen.problems)
    assert any("bang" in item for item in seen.problems)
    assert any("scrolls sideways" in item for item in seen.overflow())
    assert any("image-alt" in item for item in seen.axe())


def test_mode_reaches_the_page(visit):
    script = "() => matchMedia('(prefers-color-scheme: dark)').matches"
    assert visit(HEAD, mode="dark").page.evaluate(script) is True
    assert visit(HEAD, mode="light").page.evaluate(script) is False
