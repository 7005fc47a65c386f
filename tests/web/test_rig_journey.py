"""A rig in a real browser: looked at, upgraded by text, checked, predicted, brought up.

``BEADWORTH_SCREENSHOTS=1`` also writes the pictures of the how-to pages to docs/img.
"""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import pytest

from beadworth.bringup.heater_model import simulate
from beadworth.core.records import from_toml
from beadworth.rig import Rig
from beadworth.store import open_bench

pytestmark = pytest.mark.browser
EXAMPLES = Path(__file__).resolve().parents[2] / "docs" / "examples"
STOCK = from_toml(Rig, (EXAMPLES / "rig-stilt-stock.toml").read_text(), "stock")
CHANGES = (EXAMPLES / "upgrade-long-zone.toml").read_text()


@pytest.fixture(scope="module")
def address(module_server, tmp_path_factory):
    path = tmp_path_factory.mktemp("rigs") / "rigs.bench"
    with open_bench(path) as bench:
        bench.save_rig(STOCK)
    return module_server(path).address


def heater_csv(path):
    """An invented log: cold, full heat, hold, off."""
    time = np.arange(0.0, 900.0)
    duty = np.zeros(900)
    duty[30:130], duty[130:600] = 1.0, 0.27
    plant = {"gain_k": 680.0, "time_constant_s": 330.0, "dead_time_s": 6.0, "room_c": 21.0}
    seen = simulate(time, duty, **plant) + np.random.default_rng(1).normal(0, 0.2, 900)
    rows = [f"{t:.0f},{c:.2f},{d:.2f}" for t, c, d in zip(time, seen, duty, strict=True)]
    path.write_text("time_s,temperature_c,duty\n" + "\n".join(rows))
    return path


def test_from_the_record_to_the_bring_up(visit, address, both, tmp_path):
    seen = visit(f"{address}/rigs")
    page = seen.page
    page.get_by_role("link", name=STOCK.name).click()
    page.wait_for_url(re.compile("/rig/"))
    page.evaluate("document.querySelectorAll('details').forEach((d) => { d.open = true; })")
    both(seen, whole=False)  # whole: the demo's, in test_web_browser

    # Fit: a pasted upgrade, checked, and put on the bench.
    page.get_by_role("link", name="Check fit").click()
    page.get_by_text("Paste an upgrade").click()
    page.get_by_label("Changed values as TOML").fill("[hot_end]\nmass_g = -3.0")
    page.get_by_role("button", name="Check the fit").click()
    page.locator(".refusal", has_text="Line 2").wait_for()
    seen.problems[:] = [said for said in seen.problems if "422" not in said]
    both(seen)
    page.get_by_label("Changed values as TOML").fill(CHANGES)
    page.get_by_role("button", name="Check the fit").click()
    page.locator("table.checks").wait_for()
    assert "z holds unpowered" in page.locator("#answer").inner_text()
    assert page.locator(".v-does-not-fit .verdict").first.is_visible()
    both(seen, whole=False)  # whole: with its charts, below
    page.get_by_role("button", name="Put it on the bench").click()
    page.wait_for_url(re.compile("/rig/"))
    assert page.locator("#changed tbody tr").count() > 5
    both(seen, whole=False)
    page.get_by_role("link", name="Check fit").click()
    page.locator("#figure-acceleration").scroll_into_view_if_needed()
    page.locator("#figure-acceleration .chart-live svg").first.wait_for()
    both(seen, "fit")

    # Predict: each answer comes when it is in sight.
    page.get_by_role("link", name="Predict the ceiling").click()
    for part in ("ceilings", "outlet", "force", "length"):
        page.locator(f"#{part}").scroll_into_view_if_needed()
        page.locator(f"#{part} .busy.shown").wait_for(state="detached", timeout=60_000)
        page.locator(f"#{part} .chart-live svg").first.wait_for()
    both(seen, "melt", "document.getElementById('summary').scrollIntoView({behavior: 'instant'})")

    # Bring up: a program, a heater log, a result kept and taken into the record.
    page.goto(f"{address}/bring-up?rig={STOCK.name}")
    with page.expect_download() as downloading:
        page.get_by_role("button", name="Download the moves program").click()
    assert downloading.value.suggested_filename.endswith(".gcode")
    # a form that downloads is, to the browser, a navigation that was broken off
    seen.problems[:] = [said for said in seen.problems if "/bring-up/program" not in said]
    heater = page.locator("#heater")
    heater.get_by_label("Log (CSV)").set_input_files(heater_csv(tmp_path / "heater.csv"))
    heater.get_by_role("button", name="Calculate", exact=True).click()
    page.locator("#heater .answer-box").wait_for()
    page.locator("#figure-heater").scroll_into_view_if_needed()
    page.locator("#figure-heater .chart-live svg").first.wait_for()
    top = "document.querySelector('.answer-box').scrollIntoView({behavior: 'instant'})"
    both(seen, "bring-up", top)
    feed = page.locator("#feed")
    feed.get_by_label("Mark and measure").fill("100 97,6\n100 97,2\n100 97,9")
    feed.get_by_role("button", name="Calculate and store").click()
    page.locator("#history .kept-note").wait_for()
    both(seen, whole=False)
    page.get_by_role("button", name="Write it into the record").click()
    page.wait_for_url(re.compile("/rig/"))
    row = page.locator("#record tr", has_text="Steps per mm").first
    assert "measured: bring-up" in row.inner_text()
    both(seen, whole=False)

    flow = "mfr=6&load=2.16&temperature=210&density=1.08&index=0.4"
    for path in (
        f"/bring-up/sheet?rig={STOCK.name}",
        f"/melt/flow-rate?{flow}",
        f"/rig-edit?rig={STOCK.name}",
    ):
        both(visit(address + path))


def test_the_answers_can_be_had_without_scripts(visit, address):
    seen = visit(f"{address}/melt?rig={STOCK.name}", java_script_enabled=False)
    page = seen.page
    page.locator("#force").get_by_role("link", name="Open on a page of its own").click()
    assert page.locator(".chart-still svg").first.is_visible()
    assert seen.problems == []
