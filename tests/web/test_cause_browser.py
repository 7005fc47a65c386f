"""Causes in a real browser: corners dragged by mouse, finger and keys while the list moves."""

from __future__ import annotations

import pytest
from cause_case import PHOTO_PX, wall_case
from shaken import shaken, table

from beadworth.store import PrintShelf, open_bench
from beadworth.workflow import place_corners, print_walls, rank_causes, store_cause, take_photo

pytestmark = pytest.mark.browser
SETTLED = """async () => {
  const pause = (ms) => new Promise((done) => setTimeout(done, ms));
  for (let quiet = 0, n = 0; n < 1000; n += 1) {  // a queued request begins as the last one ends
    quiet = document.querySelector('.htmx-request') ? 0 : quiet + 1;
    if (quiet > 4) return true;
    await pause(20);
  }
  return false;
}"""


@pytest.fixture(scope="module")
def running(module_server, tmp_path_factory):
    """A bench with a rig, its print, and one reading recorded."""
    case = wall_case()
    path = tmp_path_factory.mktemp("cause") / "cause.bench"
    with open_bench(path) as bench:
        bench.save_rig(case.rig)
        shelf = PrintShelf(bench)
        with shelf.receiving("box.gcode") as upload:
            upload.write(case.program.encode())
            print_id = upload.keep().id
        side = print_walls(case.program.encode(), case.rig, "box.gcode")[0]
        photo = take_photo(case.photos[0][0], "wall.jpg")
        wall = place_corners(photo, side, case.places(0).split())
        answer = rank_causes(case.rig, [wall])
        stored = store_cause(bench, case.rig.name, "box.gcode", [wall], answer)
    running = module_server(path)
    running.asked = f"rig={case.rig.name}&of={print_id}"
    running.number = stored.id
    return running


def give(seen, case):
    """From the list of walls to the photo with its corners."""
    page = seen.page
    page.locator("#file").set_input_files(
        {"name": "wall.jpg", "mimeType": "image/jpeg", "buffer": case.photos[0][0]}
    )
    page.get_by_role("button", name="Read it").click()
    page.locator(".handle").nth(3).wait_for()


def settled(page):
    """The last answer that was asked for has come."""
    assert page.evaluate(SETTLED)


def wanted(page, case, corner):
    """Where a corner belongs on the page."""
    box = page.locator(".stage img").bounding_box()
    u, v = case.photos[0][1][corner]
    return box["x"] + u / PHOTO_PX[0] * box["width"], box["y"] + v / PHOTO_PX[1] * box["height"]


def off_px(page, case):
    """How far each corner is from where it belongs, in pixels of the photo."""
    values = page.evaluate(
        "[...document.querySelectorAll('.corner-fields input')].map((f) => Number(f.value))"
    )
    places = zip(values[::2], values[1::2], strict=True)
    return [
        max(abs(x / 100 * PHOTO_PX[0] - u), abs(y / 100 * PHOTO_PX[1] - v))
        for (x, y), (u, v) in zip(places, case.photos[0][1], strict=True)
    ]


def test_every_page_is_quiet_fits_and_is_readable(visit, running, picture):
    seen = visit("about:blank")
    for path in ("/cause", f"/cause/walls?{running.asked}", f"/cause/{running.number}",
                 "/vibration"):  # fmt: skip
        seen.go(running.address + path)
        seen.check_both()


def test_corners_are_dragged_with_the_mouse_and_moved_by_keys(visit, running, picture):
    case = wall_case()
    seen = visit(f"{running.address}/cause/walls?{running.asked}", width=1440)
    give(seen, case)
    page = seen.page
    assert min(off_px(page, case)) > 20
    for corner in range(4):
        handle = page.locator(".handle").nth(corner)
        box = handle.bounding_box()
        page.mouse.move(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
        page.mouse.down()
        page.mouse.move(*wanted(page, case, corner), steps=3)
        assert page.locator(".loupe").is_visible()
        page.mouse.up()
        assert page.locator(".loupe").is_hidden()
    settled(page)
    assert max(off_px(page, case)) < 4
    assert "belt tooth, x" in page.locator(".verdict-line").inner_text()
    assert "110." in page.locator(".wall-seen figcaption").inner_text()
    page.locator(".handle").first.focus()
    before = page.locator("[name=corner-1-0-x]").input_value()
    page.keyboard.press("ArrowRight")
    page.keyboard.press("Shift+ArrowRight")
    after = page.locator("[name=corner-1-0-x]").input_value()
    assert float(after) - float(before) == pytest.approx(0.55, abs=1e-6)
    settled(page)
    picture(seen, "cause-desktop")
    seen.check()
    with seen.on_phone():
        seen.check_layout()
    page.get_by_role("button", name="Record this reading").click()
    page.get_by_text("Recorded.").wait_for()


def test_corners_are_dragged_with_a_finger(visit, running, picture):
    case = wall_case()
    seen = visit(
        f"{running.address}/cause/walls?{running.asked}", width=390, height=844, has_touch=True
    )
    give(seen, case)
    page = seen.page
    page.locator(".stage").scroll_into_view_if_needed()
    client = page.context.new_cdp_session(page)

    def touch(kind, x=None, y=None):
        points = [] if x is None else [{"x": x, "y": y}]
        client.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points})

    for corner in range(4):
        box = page.locator(".handle").nth(corner).bounding_box()
        x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
        to_x, to_y = wanted(page, case, corner)
        touch("touchStart", x, y)
        for part in (0.3, 0.7, 1.0):
            touch("touchMove", x + part * (to_x - x), y + part * (to_y - y))
        touch("touchEnd")
    settled(page)
    assert max(off_px(page, case)) < 12, "a finger is coarser than a mouse"
    assert "belt tooth, x" in page.locator(".verdict-line").inner_text()
    picture(seen, "cause-phone")
    seen.check_layout()


def test_an_accelerometers_record_is_read(visit, running):
    seen = visit(f"{running.address}/vibration")
    page = seen.page
    t, values = shaken(62.0, 0.05, 3, seconds=4.0)
    record = {"name": "a.csv", "mimeType": "text/csv", "buffer": table(t, x_m_s2=values)}
    page.locator("#file").set_input_files(record)
    page.get_by_role("button", name="Read it").click()
    page.get_by_role("heading", name="Modes").wait_for()
    seen.check_both()
