"""Worth in a real browser: quiet, readable, worked with the keyboard, on a phone, in the dark."""

from __future__ import annotations

from urllib.parse import quote

import pytest

from beadworth import demo
from beadworth.demo.worth import HOT_END, RAILS
from beadworth.store import open_bench
from beadworth.workflow.worth import stored_worth

pytestmark = pytest.mark.browser


def address(name):
    return f"/worth/case?name={quote(name)}"


def test_every_page_is_quiet_fits_and_is_readable(visit, demo_server):
    seen = visit("about:blank")
    for path in ("/worth", address(HOT_END), address(RAILS), f"/worth/edit?name={quote(RAILS)}"):
        seen.go(demo_server.address + path)
        seen.page.evaluate("document.querySelectorAll('details').forEach((d) => d.open = true)")
        seen.check_both()
        assert all(request.startswith(demo_server.address) for request in seen.requests), path


def test_the_answer_stands_on_the_first_screen(visit, demo_server, picture):
    seen = visit(demo_server.address + address(HOT_END))

    def stands(size):
        picture(seen, f"worth-{size}")
        said = seen.page.locator("#answer")
        assert said.inner_text().startswith("It saves")
        box = said.bounding_box()
        assert box["y"] + box["height"] < seen.page.viewport_size["height"]

    stands("desktop")
    with seen.on_phone("light"):
        stands("phone")


def test_weights_are_tried_and_kept_with_the_keyboard_alone(visit, own_demo):
    seen = visit(own_demo.address + address(RAILS))
    page = seen.page
    weight = page.get_by_role("textbox", name="weight of hours saved", exact=True).last
    weight.focus()
    page.keyboard.press("Control+A")
    page.keyboard.type("8")
    page.keyboard.press("Enter")
    page.wait_for_url("**weight.hours**")
    assert page.get_by_text("Calculated, not stored.").is_visible()
    assert "89 %" in page.get_by_role("group", name="Weights").inner_text().replace("\u00a0", " ")
    keep = page.get_by_role("button", name="Store them in the case")
    keep.focus()
    page.keyboard.press("Enter")
    page.wait_for_url(lambda url: "weight" not in url)
    assert not page.get_by_text("Calculated, not stored.").is_visible()
    with open_bench(own_demo.path) as bench:
        assert {c.name: c.weight for c in stored_worth(bench, RAILS).case.criteria} == {
            "cost": 1.0, "hours saved": 8.0,
        }  # fmt: skip
    assert seen.problems == []


def test_a_new_case_from_the_form_shows_progress_and_ends_on_its_page(visit, own_demo):
    seen = visit(f"{own_demo.address}/worth", width=360, height=740)
    page = seen.page
    assert page.locator("main form input:visible, main form select:visible").count() == 3
    page.get_by_label("Which upgrade?").select_option(demo.LONG_ZONE.name)
    for folded in ("Your prints, one by one", "Two rigs,", "What an hour is worth to you, with"):
        page.locator("summary", has_text=folded).click()
    page.get_by_label("solid bracket.gcode: best estimate").fill("250")
    page.get_by_label("An hour of printer time: not below").fill("1")
    page.get_by_label("An hour of printer time: not above").fill("2")
    page.get_by_label("Name of the case").fill("typed on a phone")
    page.get_by_role("button", name="Calculate").click()
    page.wait_for_url("**/worth/case?name=typed%20on%20a%20phone", timeout=60_000)
    assert page.locator("#answer").inner_text().startswith("It saves")
    assert seen.problems == []
