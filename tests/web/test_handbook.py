"""Pages of the documentation in the app: they come with an installation, and stay current."""

from __future__ import annotations

import importlib.util
import re
from pathlib import Path

import pytest

from beadworth.web import handbook

ROOT = Path(__file__).resolve().parents[2]


def test_the_copies_in_the_package_are_current():
    spec = importlib.util.spec_from_file_location("made", ROOT / "tools" / "make_handbook.py")
    tool = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(tool)
    assert tool.stale() == [], "run python tools/make_handbook.py"


@pytest.mark.parametrize("page", handbook.PAGES)
def test_pages_show_without_the_source_tree(client, monkeypatch, page):
    monkeypatch.setattr(handbook, "PLACES", handbook.PLACES[-1:])
    assert handbook.PLACES[0].is_relative_to(Path(handbook.__file__).parent)
    shown = client.get(f"/handbook/{page}")
    assert shown.status_code == 200
    assert "<h1" in shown.text
    assert "<img" not in shown.text.partition("<main")[2]


def test_a_page_there_is_not_is_refused(client):
    assert client.get("/handbook/tarot").status_code == 404


def test_a_formula_has_an_address_and_its_heading_is_there(client):
    address = handbook.formula_address("Push force")
    path, _, anchor = address.partition("#")
    assert f'id="{anchor}"' in client.get(path).text
    assert handbook.formula_address("Tarot") is None


def test_pages_lead_to_one_another_and_bring_no_style_of_their_own(client):
    tutorial = client.get("/handbook/first-trial").text.partition("<main")[2]
    assert '<a href="/handbook/run-a-coupon-program">how to run one</a>' in tutorial
    for page in handbook.PAGES:
        shown = client.get(f"/handbook/{page}").text.partition("<main")[2]
        assert "style=" not in shown
        for linked in re.findall(r'href="(/handbook/[^"#]*)', shown):
            assert client.get(linked).status_code == 200, (page, linked)
    assert 'class="to-right"' in client.get("/handbook/melt").text


def test_every_page_of_the_app_leads_to_the_handbook(client):
    foot = client.get("/rigs").text.partition("<footer")[2]
    assert {re.sub(r"[#?].*", "", link) for link in re.findall(r'href="([^"]+)"', foot)} == {
        f"/handbook/{page}" for page in handbook.PAGES
    }
