"""Pages of the documentation in the app: they come with an installation, and stay current."""

from __future__ import annotations

import os
import re
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest
from hatchling.builders.wheel import WheelBuilder

from beadworth.web import handbook

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture(scope="module")
def installed(tmp_path_factory):
    """The package as it is installed from a wheel built of this tree."""
    folder = tmp_path_factory.mktemp("wheel")
    wheel = next(WheelBuilder(str(ROOT)).build(directory=str(folder), versions=["standard"]))
    with zipfile.ZipFile(wheel) as made:
        made.extractall(folder / "site")
    return folder / "site"


def test_an_installation_brings_the_pages_as_they_stand_in_the_documents(installed):
    folder = installed / "beadworth" / "web" / "handbook"
    assert {file.name for file in folder.iterdir()} == {f"{page}.md" for page in handbook.PAGES}
    for page in handbook.PAGES:
        assert (folder / f"{page}.md").read_text("utf-8") == handbook.text_of(page)


def test_an_installation_shows_its_own_pages(installed):
    said = "from beadworth.web import handbook as h; print(h.__file__, *map(h.text_of, h.PAGES))"
    run = subprocess.run(
        [sys.executable, "-c", said], env={**os.environ, "PYTHONPATH": str(installed)},
        capture_output=True, text=True, check=True, cwd=installed,
    )  # fmt: skip
    assert run.stdout.startswith(str(installed))
    for page in handbook.PAGES:
        assert handbook.text_of(page).strip() in run.stdout


@pytest.mark.parametrize("page", handbook.PAGES)
def test_pages_are_shown_without_their_pictures(client, page):
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
    linked = set()
    for page in handbook.PAGES:
        shown = client.get(f"/handbook/{page}").text.partition("<main")[2]
        assert "style=" not in shown
        linked |= set(re.findall(r'href="(/handbook/[^"#]*)', shown))
    assert len(linked) > 3
    for address in linked:
        assert client.get(address).status_code == 200, address
    assert 'class="to-right"' in client.get("/handbook/melt").text


def test_every_page_of_the_app_leads_to_the_handbook(client):
    foot = client.get("/rigs").text.partition("<footer")[2]
    assert {re.sub(r"[#?].*", "", link) for link in re.findall(r'href="([^"]+)"', foot)} == {
        f"/handbook/{page}" for page in handbook.PAGES
    }
