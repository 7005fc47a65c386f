"""A print in real Chromium: given, replayed, leafed through, asked, retimed; wide and narrow."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from page_checks import until
from print_parts import plate, readings_csv

from beadworth.rig import AxisLimits, Motion
from beadworth.trial import read_readings_csv

FAST = Motion(
    max_speed_mm_s=AxisLimits(x=400.0, y=400.0, z=20.0),
    max_acceleration_mm_s2=AxisLimits(x=9000.0, y=9000.0, z=500.0),
    print_acceleration_mm_s2=9000.0,
    corner_deviation_mm=0.05,
)


SHEET = "!!document.querySelector('[data-layer-map]').layerMap.sheet"


def both_ways(seen):
    """Check the page as it stands, wide and light, narrow and dark."""
    seen.check()
    with seen.on_phone():
        seen.check_layout()


@pytest.fixture
def address(stocked, records, server, tmp_path):
    """A server over a bench that has weighed both rigs."""
    name = records["material"].name
    tables = []
    for rig, ceilings in zip(records["rigs"], ((11.0, 14.0), (15.0, 18.0)), strict=True):
        stocked.save_rig(rig.model_copy(update={"motion": FAST}))
        tables.append(readings_csv(rig.name, name, ((210, ceilings[0]), (220, ceilings[1]))))
    text = tables[0] + tables[1].partition("\n")[2]
    rows = read_readings_csv(text, "invented.csv")
    stocked.create_trial_from_readings("How much do both zones melt?", rows, "invented.csv")
    return server(tmp_path / "test.bench").address


@pytest.mark.browser
def test_a_print_from_upload_to_retimed_copy(visit, address, tmp_path, picture):
    file = tmp_path / "plate.gcode"
    file.write_text(plate())
    seen = visit(f"{address}/prints")
    page = seen.page
    both_ways(seen)
    page.set_input_files("#file", str(file))
    page.get_by_role("button", name="Replay it").click()
    page.wait_for_selector("#verdict", timeout=60_000)
    assert "over the ceiling that may show" in page.inner_text("#verdict")
    title, readout = page.locator(".map-title"), page.locator(".map-readout")
    until(page, SHEET)
    assert "Layer 3 of 5" in title.inner_text()  # it opens on the worst one
    seen.settle()
    picture(seen, "print-desktop")

    # scrub
    page.focus("#sheet")
    page.keyboard.press("ArrowRight")
    assert "Layer 4" in title.inner_text()
    until(page, SHEET)
    drawn = "() => performance.getEntriesByName('layer map redraw').length"
    before = page.evaluate(drawn)
    page.keyboard.press("ArrowLeft")
    until(page, f"({drawn})() > {before}")

    # ask by the keys, and by pointing
    page.focus(".map-plan")
    page.keyboard.press("n")
    told = re.compile(r"Line \d+: \d+ mm/s; [\d.]+ mm³/s asked for, [\d.]+ out of the nozzle")
    assert told.match(readout.inner_text())
    assert readout.inner_text() == page.locator("[data-map-said]").inner_text()
    page.keyboard.press("PageUp")
    assert "Layer 4" in title.inner_text()
    page.keyboard.press("PageDown")
    assert "Layer 3" in title.inner_text()
    page.keyboard.press("End")
    assert "Layer 5" in title.inner_text()
    page.keyboard.press("Home")
    assert "Layer 1" in title.inner_text()
    for _ in range(2):
        page.keyboard.press("PageUp")
    page.keyboard.press("ArrowUp")  # moves the plan, not the layer
    assert "Layer 3" in title.inner_text()
    page.keyboard.press("+")
    page.keyboard.press("0")
    until(page, SHEET)
    plan = page.locator(".map-plan")
    plan.scroll_into_view_if_needed()
    x, y = page.evaluate(
        """() => { const m = document.querySelector('[data-layer-map]').layerMap;
                   const s = m.sheet; const k = s.n - 1;
                   return m.at((s.x0[k] + s.x1[k]) / 2, s.y0[k]); }"""
    )
    box = plan.bounding_box()
    page.mouse.move(box["x"] + x, box["y"] + y)
    assert told.match(readout.inner_text())
    assert "over the ceiling" in readout.inner_text()
    assert "loss" in readout.inner_text()

    # a stretch leads to its place
    page.evaluate("document.querySelector('[data-layer-map]').layerMap.show(0)")
    link = page.locator("a[data-sheet]").first
    line = link.get_attribute("data-line")
    link.click()
    until(page, "document.querySelector('.map-readout').textContent.startsWith('Line')")
    assert "Layer 3" in title.inner_text()
    first, last = int(line), int(link.get_attribute("data-last"))
    asked = int(re.match(r"Line (\d+)", readout.inner_text())[1])
    assert first <= asked <= last
    assert page.evaluate("document.activeElement.className") == "map-plan"
    page.wait_for_timeout(300)
    page.eval_on_selector("#h-map", "e => e.scrollIntoView()")
    picture(seen, "print-map-desktop")

    # the copy
    page.get_by_role("button", name="Make the copy").click()
    page.wait_for_selector("#retimed .button", timeout=60_000)
    with page.expect_download() as waiting:
        page.click("#retimed .button")
    copy = Path(waiting.value.path()).read_text()
    assert waiting.value.suggested_filename == "plate-retimed.gcode"
    assert copy.startswith("; retimed")

    page.get_by_role("button", name="Compare the two rigs").click()
    page.wait_for_selector("#held-against .finding", timeout=60_000)
    # a download is told as a request that came to nothing
    seen.problems = [p for p in seen.problems if "/retimed/file" not in p]
    seen.check_both()


@pytest.mark.browser
def test_the_table_answers_without_scripts(visit, address, tmp_path):
    file = tmp_path / "plate.gcode"
    file.write_text(plate())
    seen = visit(f"{address}/prints", java_script_enabled=False)
    page = seen.page
    page.set_input_files("#file", str(file))
    page.get_by_role("button", name="Replay it").click()
    page.get_by_role("link", name="Open the answer").click()
    for _ in range(60):
        if page.locator("#verdict").count():
            break
        page.get_by_role("link", name="Look again").click()
    assert "over the ceiling" in page.inner_text("#verdict")
    assert page.locator("#stretches tbody tr").count() > 0
    assert "drawn by a script" in page.content()
