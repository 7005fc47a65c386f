"""Causes in the browser, without a browser: a print, its walls, a photo, corners, the record."""

from __future__ import annotations

import html
import io
import re
import struct
import zlib

import pytest
from cause_case import wall_case
from PIL import Image
from shaken import shaken, table

from beadworth.demo import LONG_ZONE
from beadworth.demo.cause import seed_cause
from beadworth.store import PrintShelf
from beadworth.workflow import cause_readings, one_cause

FRAGMENT = {"HX-Request": "true"}


@pytest.fixture
def case():
    return wall_case()


@pytest.fixture
def with_print(bench, client, case):
    """A bench with the rig and the print of the case; the print's id."""
    bench.save_rig(case.rig)
    shelf = PrintShelf(bench)
    with shelf.receiving("box.gcode") as upload:
        upload.write(case.program.encode())
        client.print_id = upload.keep().id
    return client


def begin(client, case, content=None, wall="1"):
    sent = {"rig": case.rig.name, "of": client.print_id, "wall": wall}
    photo = case.photos[0][0] if content is None else content
    return client.post("/cause/photo", data=sent, files={"file": ("wall.jpg", photo)})


def begun(client, case):
    made = begin(client, case)
    assert made.status_code == 303, made.text
    return made.headers["Location"]


def fields(*shares, **more):
    found = {
        f"corner-{n}-{c}-{axis}": f"{100 * place[k]:.3f}"
        for n, corners in enumerate(shares, start=1)
        for c, place in enumerate(corners)
        for k, axis in enumerate("xy")
    }
    return found | more


def test_an_empty_bench_says_what_comes_first(client, bench, case):
    assert "record the rig" in client.get("/cause").text
    bench.save_rig(case.rig)
    assert 'href="/witness?kind=cause+wall"' in client.get("/cause").text


def test_the_walls_of_a_print_are_listed_and_drawn(with_print, case):
    page = with_print.get("/cause")
    assert f'<option value="{with_print.print_id}">box.gcode' in page.text
    asked = {"rig": case.rig.name, "of": with_print.print_id}
    walls = with_print.get("/cause/walls", params=asked)
    assert walls.status_code == 200
    assert walls.text.count('name="wall"') == 8
    assert "front, layers 41 to 80, 83 mm/s: 110 mm long, 12 mm tall" in walls.text
    assert "1, 3</text>" in walls.text
    assert with_print.get("/cause/walls").status_code == 422
    assert with_print.get("/cause/walls", params=asked | {"of": "nothing"}).status_code == 404


def test_corners_are_read_as_they_are_dragged_and_the_reading_recorded(with_print, bench, case):
    address = begun(with_print, case)
    assert with_print.get(address).status_code == 200
    shown = with_print.get(f"{address}/1.jpg")
    assert max(Image.open(io.BytesIO(shown.content)).size) == 1600
    assert with_print.get(f"{address}/2.jpg").status_code == 404
    dragged = fields(case.shares(0))
    part = with_print.post(address, data=dragged, headers=FRAGMENT)
    assert part.status_code == 200
    assert "<html" not in part.text
    assert "Most likely: belt tooth, x" in part.text
    assert part.text.count('class="spot"') >= 10
    assert 'src="data:image/png;base64,' in part.text
    whole = with_print.post(address, data=dragged)
    assert 'id="cause-form"' in whole.text, "without scripts: the page again"
    assert f'value="{100 * case.shares(0)[0][0]:.3f}"' in whole.text
    recorded = with_print.post(f"{address}/record")
    assert recorded.status_code == 303
    number = int(re.search(r"/cause/(\d+)", recorded.headers["Location"])[1])
    record = one_cause(bench, number).record
    assert record.causes[0].name == "belt tooth, x"
    assert record.simulated
    assert record.walls[0].corners[1] == pytest.approx(case.shares(0)[1], abs=1e-5)
    page = with_print.get(f"/cause/{number}")
    assert "What the wall showed" in page.text
    assert with_print.get(f"/photo/{record.walls[0].photo_sha256}").status_code == 200
    journal = with_print.post(f"/cause/{number}/journal")
    assert journal.headers["Location"].startswith("/journal/Wader")
    refused = with_print.post(f"/cause/{number}/void", data={"reason": " "})
    assert refused.status_code == 422
    assert "no reason is given" in refused.text
    with_print.post(f"/cause/{number}/void", data={"reason": "wrong wall"})
    assert "does not count any more: wrong wall" in with_print.get(f"/cause/{number}").text
    assert [one.state for one in cause_readings(bench)] == ["voided"]


def test_a_second_speed_is_read_beside_the_first(with_print, case):
    address = begun(with_print, case)
    more = with_print.post(
        f"{address}/photo", data={"wall": "3"}, files={"file": ("fast.jpg", case.photos[1][0])}
    )
    assert more.status_code == 303
    part = with_print.post(address, data=fields(case.shares(0), case.shares(1)), headers=FRAGMENT)
    assert part.text.count("wall-seen") == 2
    assert "Most likely: belt tooth, x" in part.text
    for _ in range(2):
        with_print.post(
            f"{address}/photo", data={"wall": "1"}, files={"file": ("w.jpg", case.photos[0][0])}
        )
    fifth = with_print.post(
        f"{address}/photo", data={"wall": "1"}, files={"file": ("w.jpg", case.photos[0][0])}
    )
    assert fifth.status_code == 422
    assert "4 photos are read together at most" in fifth.text


def test_a_test_leads_to_its_witness_print_with_the_form_filled_in(with_print, case):
    """Of an answer that is not sure: told that the pattern is at no place, the list widens."""
    address = begun(with_print, case)
    looked = {"looked same place": "no", "looked lean": "yes", "looked level": "yes"}
    part = with_print.post(address, data=fields(case.shares(0), **looked), headers=FRAGMENT)
    checked = re.findall(r'name="looked ([\w ]+)"[^>]*value="(\w+)" checked', part.text)
    assert ("same place", "no") in checked
    assert ("lean", "yes") in checked
    (address,) = set(re.findall(r'href="(/witness\?kind=cause[^"]*speeds[^"]*)">', part.text))
    assert address == "/witness?kind=cause+wall&amp;rig=Wader&amp;speeds_mm_s=25+50"
    form = with_print.get(html.unescape(address)).text
    assert re.search(r'name="kind" value="cause wall" checked', form)
    assert 'value="25 50"' in form


def test_what_is_no_place_is_refused_in_the_same_fragment(with_print, case):
    address = begun(with_print, case)
    wrong = fields(case.shares(0)) | {"corner-1-2-y": "a lot"}
    part = with_print.post(address, data=wrong, headers=FRAGMENT)
    assert part.status_code == 422
    assert "photo 1, top right" in part.text
    upside = [case.shares(0)[i] for i in (3, 2, 1, 0)]
    part = with_print.post(address, data=fields(upside), headers=FRAGMENT)
    assert part.status_code == 422
    assert "these four corners do not go round a wall" in part.text
    assert "verdict-line" not in part.text
    again = with_print.post(address, data=fields(case.shares(0)), headers=FRAGMENT)
    assert again.status_code == 200


def png_that_claims(width, height):
    """A PNG of a few bytes that claims so many pixels."""

    def chunk(kind, data):
        body = kind + data
        return struct.pack(">I", len(data)) + body + struct.pack(">I", zlib.crc32(body))

    head = struct.pack(">IIBBBBB", width, height, 8, 0, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", b"") + chunk(b"IEND", b"")


def test_hostile_photos_are_refused_with_words(with_print, case):
    data = case.photos[0][0]
    for content, words in (
        (b"", "this file is empty"),
        (b"GIF89a" + bytes(200), "this is not a JPEG, PNG or WebP picture"),
        (data[: len(data) // 3], "cut short or damaged"),
        (png_that_claims(30_000, 30_000), "million pixels"),
        (bytes(15_000_001), "15.0 MB is more than the 15 MB taken of a photo"),
    ):
        refused = begin(with_print, case, content)
        assert refused.status_code == 422, words
        assert words in refused.text
    assert begin(with_print, case, wall="9").status_code == 404
    assert begin(with_print, case, wall="x").status_code == 404
    assert begin(with_print, case, wall="²").status_code == 404


def test_a_photo_without_a_wall_says_so_and_keeps_the_corners_to_drag(with_print, case):
    out = io.BytesIO()
    Image.effect_noise((2400, 520), 60).save(out, "PNG")
    made = begin(with_print, case, out.getvalue())
    page = with_print.get(made.headers["Location"])
    assert page.status_code == 200
    assert "no layer lines can be seen" in page.text
    assert 'class="handle"' in page.text
    refused = with_print.post(f"{made.headers['Location']}/record")
    assert "no layer lines can be seen" in refused.text


def test_a_photo_that_was_let_go_says_so(with_print):
    lost = with_print.get("/cause/read/0000")
    assert lost.status_code == 404
    assert "this photo is no longer held" in lost.text


def test_the_oldest_photos_are_let_go(with_print, case, monkeypatch):
    first = begun(with_print, case)
    second = begun(with_print, case)
    assert with_print.get(f"{first}/1.jpg").status_code == 200
    monkeypatch.setattr("beadworth.web.cause_desk.MOST_BYTES", 2 * 2400 * 480)
    third = begun(with_print, case)
    assert with_print.get(f"{second}/1.jpg").status_code == 404, "asked for longest ago"
    assert with_print.get(f"{first}/1.jpg").status_code == 200
    assert with_print.get(f"{third}/1.jpg").status_code == 200


def test_a_record_of_an_accelerometer_is_read_on_its_page(client):
    assert client.get("/vibration").status_code == 200
    t, values = shaken(62.0, 0.05, 3, seconds=4.0)
    sent = {"accelerations": "1000 2000", "speed_step": "80"}
    record = {"file": ("shaken.csv", table(t, x_m_s2=values))}
    page = client.post("/vibration", data=sent, files=record)
    assert page.status_code == 200
    assert "1 mode: x at 6" in page.text
    assert "What command filters leave of 6" in page.text
    assert "one of 80 mm/s" in page.text
    for wrong, words in (
        ({"accelerations": "fast"}, "no list of accelerations"),
        ({"speed_step": "?"}, "no speed"),
        ({"speed_step": "0"}, "0 is not above 0"),
    ):
        refused = client.post("/vibration", data=sent | wrong, files=record)
        assert refused.status_code == 422
        assert words in refused.text
    refused = client.post("/vibration", data=sent, files={"file": ("a.csv", b"a,b\n1,2\n")})
    assert "the column time_s is missing" in refused.text
    assert client.post("/vibration", data=sent).status_code == 422


def test_a_measured_row_settles_the_size_and_a_bad_one_is_told(with_print, case):
    address = begun(with_print, case)
    row = "\n".join(f"{0.4 * n:.1f} {0.02 * (-1) ** (n // 3):.3f}" for n in range(250))
    part = with_print.post(address, data=fields(case.shares(0), gauge=row), headers=FRAGMENT)
    assert part.status_code == 200
    assert ") measured</td>" in part.text
    bad = with_print.post(address, data=fields(case.shares(0), gauge="1 2\nx"), headers=FRAGMENT)
    assert bad.status_code == 422
    assert "no place and offset" in bad.text
    long = "\n".join(f"{n} 0.0{n % 7}" for n in range(130))
    bad = with_print.post(address, data=fields(case.shares(0), gauge=long), headers=FRAGMENT)
    assert "the row is 130 mm long, the wall 110 mm" in bad.text


def test_a_recorded_reading_parts_ringing_alone_from_ringing_beside(client, bench):
    bench.save_rig(LONG_ZONE)
    seed_cause(bench, LONG_ZONE.name)
    (one,) = cause_readings(bench)
    assert "ringing" in [cause.name for cause in one.record.causes], "as it is stored"
    text = client.get(f"/cause/{one.id}").text
    assert '<th scope="row">ringing alone</th>' in text
    assert '<th scope="row">ringing</th>' not in text
    assert "Ringing after the corner (over 99 %)" in text
