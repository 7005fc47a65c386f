"""From the first page to a ceiling of one's own: few clicks, few boxes."""

from __future__ import annotations

import pytest
from starlette.testclient import TestClient

from beadworth.web import create_app
from beadworth.workflow import open_bench

ANSWERS = {
    "rig": "Own printer", "reach_mm": "220 220 250", "temperature_limit_c": "285",
    "ptfe_in_melt_zone": "no", "melt_zone_mm": "12,5", "polymer": "PLA", "balance_g": "0.001",
}  # fmt: skip


@pytest.fixture
def client(tmp_path, empty_bench):
    with (
        open_bench(empty_bench(tmp_path / "own.bench")) as bench,
        TestClient(create_app(bench), "http://localhost", follow_redirects=False) as made,
    ):
        made.bench = bench
        yield made


def test_seven_answers_make_rig_material_and_plan(client):
    form = client.get("/start").text
    assert form.count('<div class="field ') == len(ANSWERS) <= 8
    made = client.post("/start", data=ANSWERS)
    assert made.status_code == 303
    trial = client.bench.trials()[0]
    assert made.headers["location"] == f"/trials/{trial.id}"
    assert trial.spec.balance.readability_g == 0.001
    assert client.bench.rig("Own printer").hot_end.melt_zone_mm == 12.5
    assert len(trial.plan.coupons) <= 45
    page = client.get(made.headers["location"]).text
    assert "programs.zip" in page


def test_what_is_wrong_stands_beside_its_box_and_nothing_is_stored(client):
    bad = ANSWERS | {"rig": "", "reach_mm": "220", "temperature_limit_c": "hot"}
    said = client.post("/start", data=bad)
    assert said.status_code == 422
    for path in ("rig", "reach_mm", "temperature_limit_c"):
        assert f'id="f-{path}-wrong"' in said.text, path
    assert 'value="12,5"' in said.text
    assert "1 number where three numbers are needed, x, y and z." in said.text
    assert client.bench.rigs() == []


def test_odd_answers_are_asked_about_first(client):
    odd = ANSWERS | {"temperature_limit_c": "2600", "melt_zone_mm": "1250"}
    asked = client.post("/start", data=odd)
    assert asked.status_code == 422
    assert "Is this so?" in asked.text
    for path in ("temperature_limit_c", "melt_zone_mm"):
        assert f'id="f-{path}-wrong"' in asked.text
    assert client.bench.rigs() == []
    sure = odd | {"melt_zone_mm": "12.5", "sure": "1"}
    assert client.post("/start", data=sure).status_code == 303


@pytest.mark.browser
def test_six_clicks_lead_from_the_first_page_to_the_first_weighing(visit, server, tmp_path):
    seen = visit(server(tmp_path / "own.bench").address)
    page = seen.page
    clicks = 0

    def click(role, name):
        nonlocal clicks
        page.get_by_role(role, name=name).first.click()
        clicks += 1

    click("link", "Start: seven answers")
    page.get_by_label("Name").fill("Own printer")
    page.get_by_label("What the nozzle reaches").fill("220 220 250")
    page.get_by_label("Hot end's temperature limit").fill("285")
    page.get_by_label("PTFE liner").select_option("no")
    page.get_by_label("Melt zone length").fill("12.5")
    seen.check()
    with seen.on_phone():
        seen.check_layout()
    click("button", "Plan it")
    page.locator("[data-live] .chart-live svg").first.wait_for()
    assert "predicted" in page.locator(".live-numbers").inner_text()
    with page.expect_download():
        click("link", "Download the")
    click("link", "Coupons made? Weigh the first")
    page.locator("#mass").wait_for()
    assert clicks <= 6
    assert seen.problems == []
