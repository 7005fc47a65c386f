"""The trial page as an instrument: the level is dragged, the curve grows, nothing jumps."""

from __future__ import annotations

import pytest
from page_checks import until

pytestmark = pytest.mark.browser

SHIFTS = (
    "window.shifts = 0; new PerformanceObserver((list) => {"
    "for (const one of list.getEntries()) window.shifts += one.value;"
    "}).observe({type: 'layout-shift', buffered: true});"
)
VIEW = "[...document.querySelectorAll('[data-live] [data-chart]')].find((c) => c.view).view"
COUNTED = f"{VIEW}.data('rows').filter((r) => ['reading', 'reference'].includes(r.part)).length"
MOST_SHIFT = 0.02


def drawn(page):
    page.locator("[data-live] .chart-live svg").first.wait_for()


def comes_without_jumps(page, server):
    """Open the finished trial; nothing moves until it stands."""
    page.add_init_script(SHIFTS)
    page.goto(server.address + server.finished)
    drawn(page)
    page.locator("#speed b", has_text="2").wait_for()
    assert page.evaluate("window.shifts") <= MOST_SHIFT


def test_dragging_the_level_moves_numbers_and_speed_together(visit, demo_server):
    seen = visit("about:blank", width=1440)
    page = seen.page
    comes_without_jumps(page, demo_server)
    page.locator("#speed .of", has_text="2.0 % loss").wait_for()
    before = float(page.locator("[data-number]").first.inner_text())
    fast = float(page.locator("#speed b").inner_text())
    at = page.evaluate(
        f"(() => {{ const view = {VIEW}; const svg = document.querySelector("
        "'[data-live] .chart.wide svg'); const box = svg.getBoundingClientRect();"
        "const scale = box.height / svg.viewBox.baseVal.height;"
        "const y = (loss) => box.top + (view.scale('y')(loss) + view.origin()[1]) * scale;"
        "return [box.left + box.width / 2, y(0.02), y(0.1)]; })()"
    )
    page.mouse.move(at[0], at[1])
    page.mouse.down()
    page.mouse.move(at[0], at[2], steps=4)
    page.mouse.up()
    page.locator("#speed .of", has_text="10.0 % loss").wait_for()
    assert page.locator("#level-words").inner_text() == "10.0 %"
    assert float(page.locator("[data-number]").first.inner_text()) > before + 1
    assert float(page.locator("#speed b").inner_text()) > fast + 10

    # The keys do the same.
    level = page.get_by_label("Ceiling at a loss of")
    level.focus()
    level.press("Home")
    page.locator("#speed .of", has_text="0.5 % loss").wait_for()
    assert float(page.locator("[data-number]").first.inner_text()) < before
    page.get_by_label("Line width").press("ArrowRight")
    page.locator("output[for='bead-width']", has_text="0.5 mm").wait_for()
    assert seen.problems == []


@pytest.mark.parametrize(("width", "height"), [(1440, 900), (390, 844)])
def test_each_entry_grows_the_curve_and_nothing_jumps(visit, own_demo, width, height):
    seen = visit("about:blank", width=width)
    page = seen.page
    page.set_viewport_size({"width": width, "height": height})
    page.add_init_script(SHIFTS)
    page.goto(own_demo.address + own_demo.started)
    drawn(page)
    page.locator("[data-live]:not([data-draft])").wait_for()
    place = "document.getElementById('mass').getBoundingClientRect().top + window.scrollY"
    counted, top = page.evaluate(COUNTED), page.evaluate(place)
    field = page.locator("#mass").bounding_box()
    assert field["y"] + field["height"] < height  # in the first screenful
    for mass, words in (("1,2", "Weigh or run this one again"), ("1,6", "on the bench")):
        page.locator("#mass").fill(mass)
        page.keyboard.press("Enter")
        page.locator(".answer-place", has_text=words).wait_for()
        counted += 1
        until(page, COUNTED, counted)
        assert page.evaluate(place) == top
        assert page.evaluate("document.activeElement.id") == "mass"
    assert page.evaluate("window.shifts") <= MOST_SHIFT

    # The coupon that stood out stays marked on the strip.
    page.reload()
    drawn(page)
    page.locator(".strip .bead.doubt").first.wait_for()
    assert seen.problems == []


def test_a_finished_trial_comes_to_a_phone_without_jumps(visit, demo_server):
    seen = visit("about:blank", width=390, height=844)
    comes_without_jumps(seen.page, demo_server)
