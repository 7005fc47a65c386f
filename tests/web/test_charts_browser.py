"""Charts are drawn anew near the screen; until then, and on paper, a drawing stands there."""

from __future__ import annotations

import pytest
from page_checks import until

from beadworth import demo

pytestmark = pytest.mark.browser

CHARTS = "[...document.querySelectorAll('.chart')].filter((c) => c.checkVisibility())"
LIVE = f"{CHARTS}.map((c) => c.querySelector('.chart-live') !== null)"
STARTED = f"{CHARTS}.map((c) => c.dataset.drawn === '1')"
TOPS = f"{CHARTS}.map((c) => c.getBoundingClientRect().top / innerHeight)"
# Of each chart of this width: its alt text, and the place and size of its picture in the page.
PICTURES = f"""{CHARTS}.map((c) => {{
    const box = c.querySelector('svg').getBoundingClientRect();
    return [c.querySelector('[role=img]').getAttribute('aria-label'),
      ...[box.left, box.top + scrollY, box.width, box.height].map(Math.round)]; }})"""
MOST_PX = 6
"""Widths of letters differ a little between what draws for the server and the browser."""


def libraries(seen):
    """Which chart libraries the page has asked for, in order."""
    return [at.split("/vendor/")[1].split(".")[0] for at in seen.requests if "/vendor/vega" in at]


def scroll(page, where):
    """Jump there."""
    page.evaluate(f"{where}.scrollIntoView({{block: 'center', behavior: 'instant'}})")


def test_a_chart_is_drawn_when_it_comes_near_and_nothing_moves(visit, demo_server):
    seen = visit("about:blank", height=600)
    page = seen.page
    page.goto(f"{demo_server.address}{demo_server.finished}/capacity")
    until(page, f"{LIVE}[0]")
    page.wait_for_timeout(100)  # one further down would have begun
    tops, started = page.evaluate(TOPS), page.evaluate(STARTED)
    assert tops[0] < 1.5 < tops[-1]
    assert started[0]
    assert not started[-1]
    before = page.evaluate(PICTURES)
    assert all(alt and width > 400 and height > 100 for alt, _, _, width, height in before)

    # Paper gets them all as they stand.
    page.emulate_media(media="print")
    assert page.evaluate(f"{CHARTS}.every((c) => c.querySelector('svg').checkVisibility())")
    assert [one[0] for one in page.evaluate(PICTURES)] == [one[0] for one in before]
    page.emulate_media(media="screen")
    assert not page.evaluate(STARTED)[-1]

    scroll(page, f"{CHARTS}.at(-1)")
    until(page, f"{LIVE}.at(-1)")
    for was, now in zip(before, page.evaluate(PICTURES), strict=True):
        assert now[0] == was[0]
        assert now[1:] == pytest.approx(was[1:], abs=MOST_PX)

    # Narrow, the drawings for that width take their place, and are drawn anew where they are near.
    page.set_viewport_size({"width": 390, "height": 500})
    scroll(page, f"{CHARTS}.at(-1)")
    until(page, f"{LIVE}.at(-1)")
    assert len(page.evaluate(LIVE)) == len(before)
    assert seen.problems == []


def test_the_library_is_fetched_for_the_first_chart_that_is_near(visit, demo_server):
    address = f"{demo_server.address}/rig-fit?upgrade={demo.LONG_ZONE.name}"
    seen = visit("about:blank", height=300)
    page = seen.page
    page.goto(address)
    page.wait_for_timeout(100)  # it would have been asked for
    assert page.evaluate(TOPS)[0] > 1.5
    assert libraries(seen) == []
    scroll(page, f"{CHARTS}[0]")
    until(page, f"{LIVE}[0]")
    assert libraries(seen) == ["vega", "vega-lite", "vega-embed"]

    # An address that names the chart leads to it.
    page.goto("about:blank")
    page.goto(f"{address}#figure-acceleration")
    until(page, f"{LIVE}[0]")
    until(page, f"((top) => top > -0.1 && top < 1)({TOPS}[0])")  # it glides there
    assert seen.problems == []


def test_a_chart_stays_a_drawing_where_the_library_does_not_come(visit, demo_server):
    seen = visit("about:blank")
    page = seen.page
    page.route("**/vega-lite.min.js*", lambda route: route.abort())
    page.goto(f"{demo_server.address}{demo_server.finished}/capacity")
    until(page, f"{STARTED}[0]")
    for _ in range(100):
        if any("did not come" in said for said in seen.problems):
            break
        page.wait_for_timeout(20)
    assert any("vega-lite.min.js" in said and "did not come" in said for said in seen.problems)
    assert not any(page.evaluate(LIVE))
    assert page.locator(".chart-still svg").first.is_visible()
