"""Witness prints in the browser, without a browser: question, record, blind look, codes, answer."""

from __future__ import annotations

import html
import io
import re

import pytest
from PIL import Image
from witness_rigs import MATERIAL, RIG

from beadworth.workflow import stored_witness

ASKED = {"kind": "melt or motion", "rig": RIG.name, "material": MATERIAL.name,
         "temperature_c": "215", "ceiling_mm3_s": "12", "seed": "3", "fan": "100"}  # fmt: skip


@pytest.fixture
def with_rig(bench, client):
    bench.save_rig(RIG)
    bench.save_material(MATERIAL)
    return client


def recorded(client, **more):
    sent = ASKED | {"graders": "1", "looks": "1"} | more
    made = client.post("/witness", data=sent, follow_redirects=False)
    assert made.status_code == 303, made.text
    return made.headers["Location"]


def number_of(address):
    return int(re.search(r"/witness/(\d+)", address)[1])


def test_a_question_shows_the_print_before_anything_is_recorded(with_rig, bench):
    page = with_rig.get("/witness", params=ASKED)
    assert page.status_code == 200
    assert "16 bands" in page.text
    assert "every band reaches what it claims" in page.text
    (address,) = set(re.findall(r'<img src="(/witness/map\.svg[^"]+)"', page.text))
    drawn = with_rig.get(html.unescape(address))
    assert drawn.headers["content-type"].startswith("image/svg+xml")
    assert "mm³/s" not in drawn.text
    assert "None yet." in page.text


def test_what_cannot_be_printed_is_said_beside_its_field(with_rig):
    page = with_rig.get("/witness", params=ASKED | {"ceiling_mm3_s": ""})
    assert page.status_code in (400, 422)
    assert "none is given" in page.text
    assert 'id="f-ceiling_mm3_s-wrong"' in page.text
    fast = with_rig.get("/witness", params=ASKED | {"ceiling_mm3_s": "80"})
    assert "x and y reach 300 mm/s" in fast.text


def test_a_recorded_print_gives_its_program_and_a_map_without_settings(with_rig, bench):
    address = recorded(with_rig)
    page = with_rig.get(address)
    assert page.status_code == 200
    one = stored_witness(bench, number_of(address))
    assert with_rig.get(f"{address}/program").text == one.program
    for text in (page.text, with_rig.get(f"{address}/map.svg").text):
        assert not re.search(r"flow \d", text)
    assert "Codes stay closed until then" in page.text


def look(client, address, grades, **more):
    return client.post(
        f"{address}/grade", data={"grader": "AB", "look": "1"} | grades | more,
        follow_redirects=False,
    )  # fmt: skip


def grades_of(one, over=11.0):
    """As somebody sees a loop whose melt falls short from 11 mm³/s on."""
    return {
        f"grade {band.code} {side}": str(
            min(4, max(0, 2 + int((band.settings["flow_mm3_s"] - over) // 0.8)))
        )
        for band in one.bands
        for side in band.sides
    }


def test_a_look_is_entered_blind_opened_and_read(with_rig, bench):
    address = recorded(with_rig)
    one = stored_witness(bench, number_of(address))
    first = with_rig.get(f"{address}/grade?grader=AB&look=1")
    other = with_rig.get(f"{address}/grade?grader=CD&look=1")
    orders = [re.findall(r"<legend><b>(\w)</b> (\w+)", text.text) for text in (first, other)]
    assert len(orders[0]) == 32
    assert orders[0] != orders[1], "each look has an order of its own"
    assert with_rig.get("/witness-grade/wall/2.svg").status_code == 200
    half = grades_of(one)
    gone = sorted(half)[0]
    value = half.pop(gone)
    refused = look(with_rig, address, half)
    assert refused.status_code in (400, 422)
    assert f"{gone.removeprefix('grade ')} has no grade." in refused.text
    assert refused.text.count(" checked") == 31, "what was chosen is still there"
    assert with_rig.post(f"{address}/open").status_code == 409
    assert look(with_rig, address, half | {gone: value}).status_code == 303
    opened = with_rig.post(f"{address}/open", follow_redirects=True)
    assert "The hot end: walls worsen with flow" in opened.text
    assert "figure-thresholds-flow" in opened.text
    assert "flow 1" in with_rig.get(f"{address}/map.svg").text
    noted = with_rig.post(f"{address}/journal", follow_redirects=True)
    assert "melt or motion: melt" in noted.text
    again = look(with_rig, address, grades_of(one))
    assert again.status_code == 409
    assert "would not be blind" in again.text


def test_two_open_prints_are_held_against_each_other(with_rig, bench):
    addresses = []
    for over in (11.0, 13.5):
        address = recorded(with_rig)
        look(with_rig, address, grades_of(stored_witness(bench, number_of(address)), over))
        with_rig.post(f"{address}/open")
        addresses.append(address)
    page = with_rig.get(f"{addresses[1]}?against={number_of(addresses[0])}")
    assert f"This one less number {number_of(addresses[0])}" in page.text
    assert re.search(r"Front, bands that climb in flow: flow .* they differ\.", page.text)


def test_a_ladder_takes_its_own_levels(with_rig):
    page = with_rig.get("/witness", params=ASKED | {"kind": "grip", "passes": "1 4 7"})
    assert "3 bands" in page.text
    wrong = with_rig.get("/witness", params=ASKED | {"kind": "grip", "passes": "1"})
    assert 'id="f-passes-wrong"' in wrong.text


def test_photos_of_bands_are_shown_without_what_a_camera_adds(with_rig, bench):
    address = recorded(with_rig)
    one = stored_witness(bench, number_of(address))
    exif = Image.Exif()
    exif[0x010E] = "at home"
    out = io.BytesIO()
    Image.new("RGB", (40, 30), "red").save(out, "JPEG", exif=exif)
    code = one.bands[2].code
    made = with_rig.post(
        f"{address}/grade",
        data={"grader": "AB", "look": "1", "code1": code, "alt1": "matt"} | grades_of(one),
        files={"photo1": ("IMG_at_home.jpg", out.getvalue(), "image/jpeg")},
        follow_redirects=False,
    )
    assert made.status_code == 303, made.text
    page = with_rig.get(address)
    (source,) = set(re.findall(r'<img src="(/photo/\w+)"', page.text))
    assert b"at home" not in with_rig.get(source).content
    assert f"{code}: matt" in page.text


def test_a_pair_is_weighed(with_rig, bench):
    address = recorded(with_rig, kind="weighed pair")
    one = stored_witness(bench, number_of(address))
    slow, fast = sorted(one.walls, key=lambda c: one.walls[c].flow_mm3_s)
    page = with_rig.get(f"{address}/grade?grader=AB&look=1")
    assert f'name="mass {slow}"' in page.text
    bad = look(with_rig, address, {f"mass {slow}": "two", f"mass {fast}": "1.9"})
    assert bad.status_code in (400, 422)
    masses = {slow: one.walls[slow].mass_g, fast: 0.95 * one.walls[fast].mass_g}
    sent = {f"mass {c}": f"{m:.3f}".replace(".", ",") for c, m in masses.items()}
    assert look(with_rig, address, sent).status_code == 303
    opened = with_rig.post(f"{address}/open", follow_redirects=True)
    assert "The melt falls short: at " in opened.text


def test_what_is_not_there_is_said(with_rig):
    assert with_rig.get("/witness/99").status_code == 404
    assert with_rig.get("/witness-grade/wall/7.svg").status_code == 404
    assert with_rig.get("/witness", params=ASKED | {"rig": "nobody"}).status_code == 404


def test_a_cause_wall_leads_to_the_reading_of_its_photo(with_rig):
    address = recorded(with_rig, kind="cause wall", ceiling_mm3_s="", speeds_mm_s="40 70")
    page = with_rig.get(address)
    (link,) = re.findall(r'href="(/cause/walls[^"]+)"', page.text)
    walls = with_rig.get(html.unescape(link))
    while "Looking for walls" in walls.text:
        walls = with_rig.get(html.unescape(link))
    assert walls.text.count('name="wall"') == 16
