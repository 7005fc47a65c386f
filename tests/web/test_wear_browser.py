"""Wear log and journal in a real browser: quiet, readable, and written from a phone."""

from __future__ import annotations

import io

import pytest
from PIL import Image

from beadworth.demo import LONG_ZONE, STOCK
from beadworth.demo.wear import seed_wear
from beadworth.store import open_bench
from beadworth.store.photos import photo
from beadworth.workflow.journal import journal_entries
from beadworth.workflow.wear import wear_entries

pytestmark = pytest.mark.browser
RIG = LONG_ZONE.name


@pytest.fixture(scope="module")
def running(module_server, tmp_path_factory):
    """One server for all: what a test writes is of the rig as it was, which has no log yet."""
    path = tmp_path_factory.mktemp("wear") / "wear.bench"
    with open_bench(path) as bench:
        bench.save_rig(STOCK)
        bench.save_rig(LONG_ZONE)
        seed_wear(bench, RIG)
    return module_server(path)


def test_both_pages_are_quiet_fit_and_are_readable(visit, running, picture):
    paths = [f"/{page}/{rig}" for page in ("wear", "journal") for rig in (RIG, STOCK.name)]
    paths += [f"/wear/{RIG}?correct=5", f"/wear/{RIG}?compare=play at the bed&day=2026-07-10"]
    seen = visit("about:blank")
    for path in paths:
        seen.go(running.address + path)
        if path == f"/wear/{RIG}":
            picture(seen, "wear-desktop", "wide")
        if path == f"/journal/{RIG}":
            picture(seen, "journal-phone", "narrow")
        seen.page.evaluate("document.querySelectorAll('details').forEach((d) => d.open = true)")
        seen.check_both()
        assert all(request.startswith(running.address) for request in seen.requests), path


def test_a_page_with_a_photo_is_written_on_a_phone(visit, running):
    exif = Image.Exif()
    exif[0x010F], exif[0x0112] = "Invented Optics of Nowhere", 6
    shot = io.BytesIO()
    Image.new("RGB", (2400, 1800), "orange").save(shot, "JPEG", exif=exif)
    seen = visit(f"{running.address}/journal/{STOCK.name}", width=360, height=740)
    page = seen.page
    page.get_by_label("Stage").select_option("fit")
    page.get_by_label("In a line").fill("The belt rubbed")
    page.get_by_label("What went wrong").fill("It touched the frame")
    page.get_by_label("Time it cost").fill("0,5")
    page.get_by_label("Photo", exact=True).set_input_files(
        {"name": "IMG_0001.jpg", "mimeType": "image/jpeg", "buffer": shot.getvalue()}
    )
    page.get_by_role("button", name="Add to the journal").click()
    page.wait_for_url("**/journal/**")
    # no words for the photo: refused with what was typed still there
    assert page.get_by_role("alert").is_visible()
    assert page.get_by_label("In a line").input_value() == "The belt rubbed"
    page.get_by_label("Photo", exact=True).set_input_files(
        {"name": "IMG_0001.jpg", "mimeType": "image/jpeg", "buffer": shot.getvalue()}
    )
    page.get_by_label("What it shows, in words").first.fill("a belt beside a frame")
    page.get_by_role("button", name="Add to the journal").click()
    page.wait_for_selector("img[alt='a belt beside a frame']")
    size = page.evaluate(
        "async () => { const i = document.querySelector('.photos img'); i.loading = 'eager';"
        " await i.decode(); return [i.naturalWidth, i.naturalHeight]; }"
    )
    assert size == [1200, 1600]
    with open_bench(running.path) as bench:
        (kept,) = journal_entries(bench, STOCK.name)
        assert kept.record.lost_h == 0.5
        assert b"Invented" not in photo(bench, kept.record.photos[0].sha256).data


def test_hours_and_a_check_are_logged_by_keyboard(visit, running):
    seen = visit(f"{running.address}/wear/{STOCK.name}")
    page = seen.page
    page.get_by_label("Print hours", exact=True).fill("12.5")
    page.keyboard.press("Enter")
    page.wait_for_selector(".saved")
    page.get_by_text("A check", exact=True).click()
    page.locator("#check-f-what").fill("belt tension")
    page.locator("#check-f-place").fill("y belt")
    page.locator("#check-f-value").fill("104")
    page.locator("#check-f-unit").fill("Hz")
    page.keyboard.press("Enter")
    page.wait_for_selector(".saved")
    assert seen.problems == []
    with open_bench(running.path) as bench:
        assert [e.kind for e in wear_entries(bench, STOCK.name)] == ["hours", "check"]
