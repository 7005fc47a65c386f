"""The layer map under fingers, at the width of a phone: tap, pinch, drag; the page still scrolls.

Touches go in through the browser's own input pipeline (DevTools protocol), so that
``touch-action``, pointer capture and the events a tap brings are those of a real finger.
"""

from __future__ import annotations

import re

import pytest
from page_checks import until
from print_parts import plate, readings_csv

from beadworth.store import open_bench
from beadworth.trial import read_readings_csv

TOLD = re.compile(r"Line \d+: \d+ mm/s; [\d.]+ mm³/s asked for")
MAP = "document.querySelector('[data-layer-map]').layerMap"


class Fingers:
    """One or two fingers on the page."""

    def __init__(self, page):
        self.page = page
        self.pipe = page.context.new_cdp_session(page)

    def send(self, kind, *points):
        self.pipe.send(
            "Input.dispatchTouchEvent",
            {"type": kind,
             "touchPoints": [{"x": x, "y": y, "id": k} for k, (x, y) in enumerate(points)]},
        )  # fmt: skip
        self.page.wait_for_timeout(20)

    def drag(self, begins, ends, steps=8):
        """From the begins to the ends, one pair of places per finger."""
        self.send("touchStart", *begins)
        for step in range(1, steps + 1):
            self.send("touchMove", *[
                (x + (u - x) * step / steps, y + (v - y) * step / steps)
                for (x, y), (u, v) in zip(begins, ends, strict=True)
            ])  # fmt: skip
        self.send("touchEnd")


@pytest.fixture(scope="module")
def replayed(module_server, records, empty_bench, tmp_path_factory):
    """A server that has replayed a plate: where its replays are listed."""
    folder = tmp_path_factory.mktemp("touch")
    rig, material = records["rigs"][0], records["material"]
    text = readings_csv(rig.name, material.name, ((210, 11.0), (220, 14.0)))
    with open_bench(empty_bench(folder / "test.bench")) as bench:
        bench.save_rig(rig)
        bench.save_material(material)
        rows = read_readings_csv(text, "invented.csv")
        bench.create_trial_from_readings("How much does it melt?", rows, "invented.csv")
    (folder / "plate.gcode").write_text(plate())
    address = module_server(folder / "test.bench").address
    return {"prints": f"{address}/prints", "file": folder / "plate.gcode"}


@pytest.fixture
def phone(visit, replayed):
    """The replay of a plate on a phone, its map in sight, and fingers."""
    seen = visit(replayed.get("replay", replayed["prints"]), width=360, height=740,
                 has_touch=True, is_mobile=True, device_scale_factor=2)  # fmt: skip
    page = seen.page
    if "replay" not in replayed:  # the first test here gives the print
        page.set_input_files("#file", str(replayed["file"]))
        page.get_by_role("button", name="Replay it").tap()
        page.wait_for_url("**/prints/*")
        replayed["replay"] = page.url
    page.wait_for_selector("#verdict", timeout=60_000)
    until(page, f"!!{MAP}.sheet")
    seen.settle()  # charts move what is below them
    show(page, ".map-plan")
    return seen, Fingers(page)


def show(page, what):
    """Scroll there, and wait until nothing moves any more."""
    before = None
    for _ in range(100):
        page.eval_on_selector(what, "e => e.scrollIntoView({block: 'center', behavior: 'instant'})")
        page.wait_for_timeout(100)
        now = page.locator(what).bounding_box()
        if now == before:
            return
        before = now


def view(page):
    return page.evaluate(f"({{...{MAP}.view, least: {MAP}.least, top: window.scrollY}})")


def middle(page):
    box = page.locator(".map-plan").bounding_box()
    return box["x"] + box["width"] / 2, box["y"] + box["height"] / 2


def bead(page, number):
    """Where on the page the middle of a bead of the sheet in sight is, and its line."""
    box = page.locator(".map-plan").bounding_box()
    x, y, line = page.evaluate(
        f"""k => {{ const m = {MAP}, s = m.sheet;
                   const at = m.at((s.x0[k] + s.x1[k]) / 2, (s.y0[k] + s.y1[k]) / 2);
                   return [...at, s.line[k]]; }}""",
        number,
    )
    return box["x"] + x, box["y"] + y, line


@pytest.mark.browser
def test_a_tap_tells_the_bead_and_it_stays_told(phone):
    seen, _ = phone
    page = seen.page
    readout = page.locator(".map-readout")
    assert "tap" in readout.inner_text()
    x, y, line = bead(page, page.evaluate(f"{MAP}.sheet.n") - 1)
    page.touchscreen.tap(x, y)
    page.wait_for_timeout(400)  # what a browser sends behind a tap must not take it back
    assert readout.inner_text().startswith(f"Line {line}:")
    assert TOLD.match(readout.inner_text())
    assert page.locator("[data-map-said]").inner_text() == readout.inner_text()
    seen.check()


@pytest.mark.browser
def test_one_finger_scrolls_the_page_over_the_whole_plate(phone):
    seen, fingers = phone
    page = seen.page
    before = view(page)
    x, y = middle(page)
    fingers.drag([(x, y + 100)], [(x, y - 150)], steps=20)
    page.wait_for_timeout(300)
    after = view(page)
    assert after["top"] > before["top"] + 150
    assert (after["cx"], after["cy"], after["scale"]) == (
        before["cx"],
        before["cy"],
        before["scale"],
    )


@pytest.mark.browser
def test_two_fingers_come_nearer_and_one_then_moves_the_plan(phone):
    seen, fingers = phone
    page = seen.page
    x, y = middle(page)
    before = view(page)
    page.touchscreen.tap(*bead(page, 1)[:2])
    told = page.locator(".map-readout").inner_text()

    fingers.drag([(x - 25, y), (x + 25, y)], [(x - 75, y), (x + 75, y)])
    near = view(page)
    assert near["scale"] == pytest.approx(3 * before["scale"], rel=0.1)
    assert near["top"] == before["top"]
    assert near["cx"] == pytest.approx(before["cx"], abs=3)  # what is between the fingers stays

    fingers.drag([(x, y)], [(x + 40, y - 60)])
    moved = view(page)
    assert moved["scale"] == near["scale"]
    assert moved["top"] == near["top"]  # the plan moves, not the page
    assert (moved["cx"] - near["cx"]) * near["scale"] == pytest.approx(-40, abs=6)
    assert (moved["cy"] - near["cy"]) * near["scale"] == pytest.approx(-60, abs=6)
    assert page.locator(".map-readout").inner_text() == told  # a drag asks nothing

    fingers.drag([(x - 75, y), (x + 75, y)], [(x - 10, y), (x + 10, y)])
    assert view(page)["scale"] == before["least"]  # no farther than the whole plate
    page.get_by_role("button", name="Zoom in").tap()
    assert view(page)["scale"] > before["least"]
    page.get_by_role("button", name="The whole plate").tap()
    assert view(page)["scale"] == before["least"]
    seen.check()


@pytest.mark.browser
def test_the_strip_of_layers_is_leafed_through_by_a_finger(phone):
    seen, fingers = phone
    page = seen.page
    show(page, ".map-strip")
    box = page.locator(".map-strip").bounding_box()
    y = box["y"] + box["height"] / 2
    page.touchscreen.tap(box["x"] + 0.1 * box["width"], y)
    assert "Layer 1 of 5" in page.locator(".map-title").inner_text()
    fingers.drag([(box["x"] + 10, y)], [(box["x"] + box["width"] - 10, y)])
    assert "Layer 5 of 5" in page.locator(".map-title").inner_text()
