"""The first page and the pages of upgrades: the job as a picture, every link leads somewhere."""

from __future__ import annotations

import html
import re

import pytest
from starlette.testclient import TestClient

from beadworth import demo
from beadworth.web import create_app
from beadworth.workflow import open_bench


@pytest.fixture(scope="module")
def client(demo_copy, tmp_path_factory):
    path = demo_copy(tmp_path_factory.mktemp("upgrades"))
    with open_bench(path) as bench, TestClient(create_app(bench), "http://localhost") as made:
        yield made


def job(text):
    """Title, state and address of each stage."""
    return [
        (title, state, html.unescape(address))
        for state, address, title in re.findall(
            r'<li class="stage (\w+)">.*?<a href="([^"]*)">([^<]*)</a>', text, re.S
        )
    ]


def test_every_stage_of_an_upgrade_leads_to_where_it_is_done(client):
    text = client.get("/upgrade", params={"rig": demo.LONG_ZONE.name}).text
    found = job(text)
    assert [title for title, _, _ in found] == [
        "Does it fit?", "Bring it up", "How much can it melt?", "How fast?", "Which prints?",
        "Worth it?", "Months later", "Publish",
    ]  # fmt: skip
    for title, _, address in found:
        assert client.get(address).status_code == 200, (title, address)
    assert "Next: " in text
    assert "What changed" in text


def test_the_list_names_before_and_after(client):
    text = client.get("/upgrades").text
    assert text.count('class="card"') == 2
    assert f"Before: {demo.STOCK.name}." in text
    assert client.get("/upgrade", params={"rig": "None"}).status_code == 404


def test_the_first_page_is_the_newest_trial_and_the_job_of_its_upgrade(client):
    text = client.get("/").text
    assert re.search(r'class="dial"[^>]*hx-get="/trials/[^"]*/live"', text)
    assert len(job(text)) == 8
    assert demo.LONG_ZONE.name in text


def test_an_empty_bench_opens_on_the_whole_job(tmp_path):
    with open_bench(tmp_path / "new.bench") as bench, TestClient(create_app(bench)) as new:
        text = new.get("/", headers={"host": "localhost"}).text
        found = job(text)
        assert len(found) == 8
        assert {state for _, state, _ in found} == {"open"}
        for _, _, address in found:
            assert new.get(address, headers={"host": "localhost"}).status_code == 200
        assert "Put the demo on this bench" in text


def test_a_new_part_makes_the_upgraded_rig(tmp_path, demo_copy):
    with open_bench(demo_copy(tmp_path)) as bench:
        own = TestClient(create_app(bench), "http://localhost", follow_redirects=False)
        address = f"/upgrades/new?rig={demo.STOCK.name}"
        form = own.get(address).text
        zone = demo.STOCK.hot_end.melt_zone_mm
        assert re.search(rf'name="hot_end.melt_zone_mm" value=""[^>]*placeholder="{zone:g}"', form)
        new = {"name": "Tern, wide zone", "hot_end.melt_zone_mm": "21,5", "price": "80"}
        made = own.post(address, data=new)
        assert made.headers["location"] == "/upgrade?rig=Tern%2C+wide+zone"
        after = bench.rig("Tern, wide zone")
        assert after.parent == demo.STOCK.name
        assert after.hot_end.melt_zone_mm == 21.5
        assert after.hot_end.nozzle_mm == demo.STOCK.hot_end.nozzle_mm
        assert after.motion == demo.STOCK.motion
        page = own.get(made.headers["location"]).text
        assert "What changed: " in page
        assert "hot_end.melt_zone_mm" in page

        for bad, words in (
            (new, "is on the bench already"),
            ({"name": "Same"}, "nothing changes."),
            ({"name": "Odd", "hot_end.melt_zone_mm": "-3"}, 'id="f-hot_end-melt_zone_mm-wrong"'),
        ):
            said = own.post(address, data=bad)
            assert said.status_code == 422
            assert words in said.text
        assert {rig.name for rig in bench.rigs()}.isdisjoint({"Same", "Odd"})
        assert own.get("/upgrades/new?rig=None").status_code == 404
