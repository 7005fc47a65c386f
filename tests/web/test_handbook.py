"""Pages of the documentation in the app: they come with an installation, and stay current."""

from __future__ import annotations

import importlib.util
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
    monkeypatch.setattr(handbook, "PLACES", handbook.PLACES[1:])
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
