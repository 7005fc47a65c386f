"""The whole job in a real browser against a real server: plan, program, weigh, read, publish.

``BEADWORTH_SCREENSHOTS=1`` also writes the tutorial's pictures to docs/img.
"""

from __future__ import annotations

import csv
import io
import re
import zipfile
from functools import partial

import httpx2 as httpx
import numpy as np
import pytest
from page_checks import open_tab

from beadworth.core.quantity import filament_mass_g
from beadworth.store import open_bench

pytestmark = pytest.mark.browser


def mass_g(coupon, rng):
    """An invented truth: a soft knee at 13 mm³/s, 19 for the long zone, 2 °C apart a little."""
    knee = {"Stilt, short zone": 13.0, "Stilt, long zone": 17.0}[coupon["rig"]]
    knee += (coupon["temperature_c"] - 210.0) * 0.12
    at_knee = 0.98**-11 - 1
    left = (1 + at_knee * (coupon["flow_mm3_s"] / knee) ** 11) ** (-1 / 11)
    fed = filament_mass_g(coupon["filament_mm"], 1.75, 1.24)
    return fed * 0.99 * left * (1 + 0.004 * rng.standard_normal())


@pytest.fixture
def stocked_server(server, tmp_path, records):
    path = tmp_path / "journey.bench"
    with open_bench(path) as bench:
        for rig in records["rigs"]:
            bench.save_rig(rig)
        bench.save_material(records["material"])
    return server(path)


def plan_it(seen, address):
    page = seen.page
    page.goto(f"{address}/trials/new")
    page.get_by_label("Question").fill("Does the long zone deliver more than the short one?")
    page.get_by_label("Rig as it is").select_option("Stilt, short zone")
    page.get_by_label("Upgraded rig").select_option("Stilt, long zone")
    page.get_by_label("Temperatures").fill("210  220")
    page.get_by_label("Flows").fill("8:22:2")
    page.get_by_label("Reference flow").fill("4")
    page.get_by_text("Spool, counts and order").click()
    page.get_by_label("Coupons per setting").fill("1")
    page.get_by_label("References per temperature block").fill("2")
    page.get_by_label("Filament per coupon").fill("600")
    page.locator("#preview dl.figures").wait_for()
    page.get_by_text("g", exact=False).first.wait_for()


@pytest.fixture
def both(both):
    """Its narrow pictures are light, as the wide ones are."""
    return partial(both, mode="light")


def enter(page, coupon, rng):
    """Type the mass of the coupon that is asked for, and wait for the answer."""
    page.locator(".now-coupon", has_text=coupon["coupon"]).wait_for()
    page.wait_for_function("document.activeElement.id === 'mass'")
    page.keyboard.type(f"{mass_g(coupon, rng):.3f}".replace(".", ","))
    page.keyboard.press("Enter")
    page.locator(".answer-head", has_text=coupon["coupon"]).wait_for()


def followed(page):
    """Wait until chart and intervals have followed the last entry."""
    page.locator("[data-live]:not([data-following], [data-draft])").wait_for()


def bring_in(address, trial, coupons, rng):
    """Weigh coupons by a table: by hand each takes half a second, and is judged by a fit."""
    table = io.StringIO()
    rows = csv.writer(table)
    said = ("rig", "temperature_c", "flow_mm3_s", "filament_mm", "coupon")
    rows.writerow(["material", "mass_g", "reference", *said])
    for coupon in coupons:
        mass, reference = f"{mass_g(coupon, rng):.3f}", int(coupon["reference"])
        rows.writerow(["PLA, test grey", mass, reference, *(coupon[one] for one in said)])
    answered = httpx.post(f"{address}/api/trials/{trial}/import", content=table.getvalue())
    assert answered.status_code == 200, answered.text


def test_from_the_question_to_the_dossier(visit, stocked_server, both, tmp_path):
    address = stocked_server.address
    seen = visit(f"{address}/")
    page = seen.page
    both(seen)

    # Plan: the cost is seen before the plan is kept.
    plan_it(seen, address)
    both(seen, "plan", whole=False)  # whole: the demo's, as all that is not named here
    page.get_by_role("button", name="Store this plan").click()
    page.wait_for_url(re.compile(r"/trials/(?!new)[^/?]+$"))
    trial = re.search(r"/trials/([^/]+)$", page.url)[1]
    open_tab(page, "Plan")
    assert "Open: nothing is weighed yet" in page.locator("#plan").inner_text()

    # Program: the zip holds a program and a map per plate.
    open_tab(page, "Programs")
    with page.expect_download() as downloading:
        page.get_by_role("link", name=re.compile("Download all")).click()
    file = tmp_path / "programs.zip"
    downloading.value.save_as(file)
    names = zipfile.ZipFile(file).namelist()
    assert sum(name.endswith(".gcode") for name in names) >= 2
    assert sum(name.endswith(".png") for name in names) >= 2
    both(seen, whole=False)

    # Weigh-in, by keyboard alone: type, Enter, next.
    coupons = httpx.get(f"{address}/api/trials/{trial}/sheet").json()["coupons"]
    rng = np.random.default_rng(4)
    page.goto(f"{address}/trials/{trial}/weigh")
    part = len(coupons) * 3 // 8
    for coupon in coupons[:5]:
        enter(page, coupon, rng)
    bring_in(address, trial, coupons[5:part], rng)
    followed(page)
    page.reload()
    enter(page, coupons[part], rng)
    both(seen, "weigh-in")
    bring_in(address, trial, coupons[part + 1 : -2], rng)
    followed(page)
    page.reload()
    for coupon in coupons[-2:]:
        enter(page, coupon, rng)
    page.get_by_text(f"All {len(coupons)} weighed").wait_for()
    page.locator("[hx-get*='/next'] p:not(.busy)").first.wait_for()  # asked for at once

    followed(page)

    # The answer, then a tab for each of the rest.
    page.goto(f"{address}/trials/{trial}")
    page.locator("[data-live] .chart-live svg").first.wait_for()
    page.locator("#speed b", has_text=re.compile(r"\d")).wait_for()
    both(seen, "capacity", whole=False)
    open_tab(page, "Plan")
    assert "Locked since the first weighing" in page.locator("#plan").inner_text()
    for name in ("Speeds", "Compare", "Publish"):
        open_tab(page, name)
    open_tab(page, "Method")
    rows = page.locator("#capacity table").first.locator("tbody tr")
    assert rows.count() == 4

    # Dossier: one page that needs nothing else.
    dossier = visit(f"{address}/trials/{trial}/dossier")
    assert "Does the long zone deliver more" in dossier.page.locator("h1").inner_text()
    both(dossier, "dossier", whole=False)  # whole: in tests/report/test_page
    own = [request for request in dossier.requests if not request.startswith("data:")]
    assert own == [f"{address}/trials/{trial}/dossier"]
    assert seen.problems == []
