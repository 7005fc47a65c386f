"""Every page in a real browser: quiet console, nothing sticks out, readable; and bad days."""

from __future__ import annotations

import re

import pytest
from page_checks import open_tab

from beadworth import demo

pytestmark = pytest.mark.browser


def test_every_page_is_quiet_fits_and_is_readable(visit, demo_server):
    pages = [
        "/",
        "/upgrades",
        f"/upgrade?rig={demo.LONG_ZONE.name}",
        f"/upgrades/new?rig={demo.STOCK.name}",
        "/start",
        "/rigs",
        "/rigs/new",
        f"/rig/{demo.STOCK.name}",
        "/materials",
        "/materials/new",
        "/trials/new",
        "/trials/import",
        demo_server.started,
        f"{demo_server.started}/weigh",
        f"{demo_server.started}/import",
        f"{demo_server.started}/replan",
    ]
    seen = visit("about:blank")
    for path in pages:
        seen.go(demo_server.address + path)
        if path.endswith(("/new", "/replan")) and "trials" in path:
            seen.page.locator("#preview .help", has_text="as you type").wait_for(state="detached")
        seen.page.evaluate("document.querySelectorAll('details').forEach((d) => d.open = true)")
        seen.page.locator(".busy.shown").first.wait_for(state="detached")
        seen.check_both()
        assert all(request.startswith(demo_server.address) for request in seen.requests), path


def test_what_a_plan_costs_fits_on_a_phone_when_unfolded(visit, demo_server):
    seen = visit(f"{demo_server.address}{demo_server.started}/replan", width=360, mode="dark")
    seen.page.locator("#preview summary").first.click()
    seen.page.locator("#preview details[open] table").wait_for()
    seen.check_layout()


def test_the_first_page_leads_into_the_demo(visit, demo_server, picture):
    seen = visit(demo_server.address)
    seen.page.locator("[data-live] .chart-live svg").first.wait_for()
    picture(seen, "home-desktop")
    picture(seen, "home-phone", "narrow")
    seen.page.get_by_role("link", name="Does the long melt zone").first.click()
    seen.page.wait_for_url(f"**{demo_server.finished}")
    assert seen.problems == []


def test_a_finished_trial_opens_on_its_answer_and_holds_the_rest_in_tabs(visit, demo_server):
    seen = visit(demo_server.address + demo_server.finished, mode="dark")
    page = seen.page
    page.locator("[data-live] .chart-live svg").first.wait_for()
    page.locator("#speed b", has_text=re.compile(r"\d")).wait_for()
    for number in page.locator("[data-number]").all():
        box = number.bounding_box()
        assert box["y"] + box["height"] < page.viewport_size["height"]
        assert "?" not in number.inner_text()
    seen.check()
    with seen.on_phone("light"):
        seen.check_layout()
        for number in page.locator("[data-number]").all():
            assert number.bounding_box()["y"] < 700
    for name in ("Speeds", "Plan", "Programs", "Budget", "Readings", "Method", "What is typical",
                 "Publish", "Compare"):  # fmt: skip
        open_tab(page, name)
        page.evaluate("document.querySelectorAll('.tabs details').forEach((d) => d.open = true)")
        seen.check_layout()

    # On paper what is for the screen is left out.
    page.emulate_media(media="print")
    assert not page.locator(".tab-nav").is_visible()
    assert not page.locator(".top nav").is_visible()
    assert page.locator("#compare table").first.is_visible()


def test_a_mark_of_a_chart_tells_its_values(visit, demo_server):
    seen = visit(f"{demo_server.address}{demo_server.finished}/capacity")
    live = seen.page.locator("#figure-loss .chart-live svg").first
    live.wait_for()
    live.locator(".mark-symbol path").first.hover(force=True)
    tip = seen.page.locator("#vg-tooltip-element.visible")
    tip.wait_for()
    assert "flow" in tip.inner_text()
    assert seen.problems == []


def test_a_lost_connection_keeps_the_entry_and_says_so(visit, own_demo):
    seen = visit(f"{own_demo.address}{own_demo.started}/weigh", width=360)
    page = seen.page
    coupon = page.locator(".now-coupon").inner_text().split()[-1]
    own_demo.kill()
    page.keyboard.type("1,755")
    page.keyboard.press("Enter")
    page.locator("#line-down:visible").wait_for()
    assert "Not saved" in page.locator("#line-down").inner_text()
    assert page.locator("#mass").input_value() == "1,755"
    own_demo.start()
    page.keyboard.press("Enter")
    page.locator(".answer-head", has_text=coupon).wait_for()
    assert page.locator("#line-down:visible").count() == 0


def test_laying_out_the_demo_says_that_it_takes_long(visit, server, tmp_path):
    seen = visit(server(tmp_path / "new.bench").address)
    page = seen.page
    page.route("**/demo", lambda route: route.fulfill(status=204))  # the page stays
    page.get_by_role("button", name="Put the demo on this bench").click()
    page.get_by_role("status").filter(has_text="Laying out the demo").wait_for()
    assert page.get_by_role("button", name="Put the demo on this bench").is_disabled()


def test_on_a_phone_ceilings_and_steps_are_read_without_scrolling_sideways(visit, demo_server):
    for path, table in (
        (f"{demo_server.finished}/capacity", ".in-words"),
        (f"/bring-up?rig={demo.STOCK.name}", "#steps table"),
        ("/packages", ".worded"),
    ):
        seen = visit(demo_server.address + path, width=360)
        cells = seen.page.locator(f"{table} tbody td:last-child").all()
        assert cells, path
        for cell in cells:
            box = cell.bounding_box()
            assert 0 <= box["x"] < box["x"] + box["width"] <= 360, (path, box)


def test_fill_it_in_opens_the_form_that_lies_folded(visit, demo_server):
    seen = visit(f"{demo_server.address}/rig/{demo.STOCK.name}")
    name = seen.page.locator("#f-name")
    assert not name.is_visible()
    seen.page.goto(f"{demo_server.address}/rig/{demo.STOCK.name}#change")
    name.wait_for()
    folded = "#f-axes-z-start_mm"
    assert not seen.page.locator(folded).is_visible()
    seen.page.goto(f"{demo_server.address}/rig/{demo.STOCK.name}{folded}")
    seen.page.locator(folded).wait_for()


def test_a_refusal_in_a_section_leaves_the_section_standing(visit, demo_server):
    seen = visit(demo_server.address + demo_server.finished + "?tab=speeds")
    speeds = seen.page.locator("#speeds")
    speeds.scroll_into_view_if_needed()
    speeds.locator("#reserve").fill("ten")
    speeds.get_by_role("button", name="Calculate").click()
    speeds.get_by_text("'ten' is not a number from 0 to 90").wait_for()
    assert speeds.locator("#reserve").input_value() == "ten"
    assert speeds.locator("table").count() == 2
    speeds.locator("#reserve").fill("20")
    speeds.get_by_role("button", name="Calculate").click()
    speeds.get_by_text("Top flow with 20 % reserve").wait_for()
    assert speeds.get_by_text("is not a number").count() == 0


def test_what_was_said_of_a_field_goes_when_it_is_mended(visit, demo_server):
    seen = visit(f"{demo_server.address}/materials/new")
    page = seen.page
    page.get_by_label("Name").fill("PETG")
    page.get_by_role("textbox", name="Density needed").fill("heavy")
    page.get_by_role("button", name="Put it on the bench").click()
    wrong = page.locator("#f-density_g_cm3-wrong")
    assert "'heavy' is not a number." in wrong.inner_text()
    assert page.locator("[aria-invalid]").count() == 3
    page.locator("#f-density_g_cm3").fill("1.27")
    assert wrong.count() == 0
    assert page.locator("[aria-invalid]").count() == 2


def test_the_job_can_be_done_without_scripts(visit, own_demo, demo_server):
    seen = visit(f"{own_demo.address}{own_demo.started}/weigh", java_script_enabled=False)
    page = seen.page
    coupon = page.locator(".now-coupon").inner_text().split()[-1]
    page.get_by_label("Mass").fill("1,701")
    page.get_by_role("button", name="Enter").click()
    assert coupon in page.locator(".answer-head").inner_text()
    page.wait_for_load_state()
    page.goto(demo_server.address + demo_server.finished)
    page.locator(".dial").get_by_role("link", name="Open on a page of its own").click()
    assert "?" not in page.locator("[data-number]").first.inner_text()
    assert page.locator(".chart-still svg").first.is_visible()
    page.wait_for_load_state()
    page.goto(demo_server.address + demo_server.finished + "?tab=capacity")
    page.locator("#capacity").get_by_role("link", name="Open on a page of its own").click()
    page.locator("table").first.wait_for()
    assert page.locator(".chart-still svg").first.is_visible()
    assert seen.problems == []


def test_undo_and_weigh_again_by_keyboard(visit, own_demo):
    seen = visit(f"{own_demo.address}{own_demo.started}/weigh?coupon=A01")
    page = seen.page
    assert "Again" in page.locator(".now-coupon").inner_text()
    page.keyboard.type("1,7")
    page.keyboard.press("Enter")
    page.locator(".answer-head", has_text="A01").wait_for()
    row = page.locator(".run-list tr", has_text="A01").first
    row.locator("summary").focus()
    page.keyboard.press("Enter")
    row.get_by_label("Why does A01 not count?").focus()
    page.keyboard.type("torn")
    page.keyboard.press("Enter")
    page.get_by_text("Reading of A01 is void: torn").wait_for()
    page.wait_for_function("document.activeElement.id === 'mass'")
    assert seen.problems == []
