"""Prints by HTTP: given, replayed, drawn, retimed, held against another rig."""

from __future__ import annotations

import gzip
import hashlib
import html
import json
import re

import numpy as np
import pytest
from cli_support import CliRunner
from page_words import plain
from print_parts import plate, readings_csv

from beadworth.capacity import fit_to_json
from beadworth.cli import app as command
from beadworth.core.records import to_toml
from beadworth.replay import replay
from beadworth.replay.layer_map import COLUMNS
from beadworth.rig import AxisLimits, Motion
from beadworth.store.prints import PrintShelf
from beadworth.trial import read_readings_csv
from beadworth.web import guard
from beadworth.workflow.capacity import trial_fit

PLATE = plate()
FAST = Motion(
    max_speed_mm_s=AxisLimits(x=400.0, y=400.0, z=20.0),
    max_acceleration_mm_s2=AxisLimits(x=9000.0, y=9000.0, z=500.0),
    print_acceleration_mm_s2=9000.0,
    corner_deviation_mm=0.05,
)
FILE = {"file": ("plate.gcode", PLATE.encode())}


@pytest.fixture
def records(records):
    """Rigs quick enough to reach the speeds of the plate."""
    rigs = tuple(rig.model_copy(update={"motion": FAST}) for rig in records["rigs"])
    return {**records, "rigs": rigs}


@pytest.fixture
def weighed(stocked, records):
    """A bench with two rigs, and a trial that weighed both; the long zone melts more."""
    short, long = records["rigs"]
    for rig in (short, long):
        stocked.save_rig(rig)
    name = records["material"].name
    tables = [readings_csv(short.name, name, ((210, 11.0), (220, 14.0))),
              readings_csv(long.name, name, ((210, 15.0), (220, 18.0)))]  # fmt: skip
    text = tables[0] + tables[1].partition("\n")[2]
    rows = read_readings_csv(text, "invented.csv")
    trial = stocked.create_trial_from_readings("How much do both zones melt?", rows, "invented.csv")
    return stocked, trial.id


@pytest.fixture
def given(client, weighed, records):
    """A print on that bench: (id, what it is held against)."""
    _, trial = weighed
    where = client.post("/prints", files=FILE).headers["location"]
    asked = {"rig": records["rigs"][0].name, "trial": trial, "material": records["material"].name}
    return where.removeprefix("/prints/"), asked


def finished(client, address, **params):
    """The page once its work is done."""
    for _ in range(100):
        got = client.get(address, params=params, headers={"hx-request": "true"})
        if 'class="progress"' not in got.text:
            return got
    raise AssertionError("it never came to an end")


def test_a_print_is_kept_by_its_digest_beside_the_bench(client, bench, tmp_path):
    assert "No print was given yet" in client.get("/prints").text
    got = client.post("/prints", files=FILE)
    assert got.status_code == 303
    digest = hashlib.sha256(PLATE.encode()).hexdigest()
    assert got.headers["location"] == f"/prints/{digest[:16]}"
    kept = tmp_path / "prints" / f"{digest}.gcode"
    assert kept.read_text() == PLATE
    assert [note.data["name"] for note in bench.notes("print")] == ["plate.gcode"]
    assert client.post("/prints", files=FILE).headers["location"].endswith(digest[:16])
    assert len(bench.notes("print")) == 1
    page = client.get("/prints").text
    assert "plate.gcode" in page
    assert str(tmp_path / "prints") in page
    kept.unlink()
    assert "give it again to open it" in client.get("/prints").text
    assert client.get(f"/prints/{digest[:16]}").status_code == 404


@pytest.mark.parametrize(
    ("content", "word"), [(b"", "empty"), (b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR", "not a print file")]
)
def test_what_is_no_print_is_refused_and_leaves_nothing(client, tmp_path, content, word):
    got = client.post("/prints", files={"file": ("x.gcode", content)})
    assert got.status_code == 422
    assert word in got.text
    assert list((tmp_path / "prints").glob("*.gcode")) == []
    assert list((tmp_path / "prints").glob("*.part")) == []
    got = client.post("/prints", data={"other": "1"})
    assert got.status_code == 422
    assert "no file was chosen" in got.text


def test_a_text_that_moves_nothing_gets_no_verdict(client, weighed):
    rig = b'name = "My rig"\n\n[hot_end]\nnozzle_mm = 0.4\n'
    sent = client.post("/prints", files={"file": ("my-rig.toml", rig)})
    refused = finished(client, f"{sent.headers['location']}/answer")
    assert refused.status_code == 422
    assert "no line of it moves anything (4 read)" in refused.text
    assert "under the ceiling" not in refused.text
    assert "not replayed" in client.get("/prints").text


def test_a_print_too_large_is_refused_while_it_comes(client, tmp_path, monkeypatch, refusal):
    monkeypatch.setattr(guard, "PRINT_BODY_BYTES", 5000)
    got = client.post("/api/prints", params={"name": "x.gcode"}, content=b"G1 X1\n" * 1000)
    refusal(got, 413, "too-large", mentions=("command line",))
    assert list((tmp_path / "prints").glob("*.part")) == []
    assert client.post("/prints", files={"file": ("x.gcode", b"G1\n" * 9000)}).status_code == 413


def test_more_than_the_limit_of_other_bodies_is_taken(client, tmp_path):
    content = b"; x\n" * 1_500_000
    got = client.post("/api/prints", params={"name": "long.gcode"}, content=content)
    assert got.status_code == 201
    assert got.json()["bytes"] == 6_000_000


def test_the_answer_says_what_the_replay_says(client, weighed, given, records):
    bench, trial = weighed
    print_id, asked = given
    got = finished(client, f"/prints/{print_id}/answer", **asked)
    assert got.status_code == 200, got.text
    found = replay(PLATE.encode(), records["rigs"][0], trial_fit(bench.snapshot(trial)),
                   fit_rig=records["rigs"][0].name, material=records["material"])  # fmt: skip
    said = plain(got.text)
    assert found.verdict in said
    assert f"{found.flow.max_mm3_s:.1f} mm³/s" in said
    assert f"mean {found.flow.mean_mm3_s:.1f}" in said
    assert f"{found.mass_g:.1f} g of" in said
    assert f"One speed for all that stays under it: {found.uniform_speed_share * 100:.0f} %" in said
    assert found.sustained > 0
    worst = max(found.stretches, key=lambda s: s.over_s)
    row = re.search(rf'data-line="{worst.line}".*?</tr>', got.text, re.S)[0]
    assert "sustained" in row
    assert f"{worst.asked_mm3_s:.1f}" in row
    assert got.text.count('class="chart ') == 8
    assert found.verdict in plain(client.get("/prints").text)
    last = bench.notes("print-replay")[-1].data
    assert (last["rig"], last["trial"]) == (asked["rig"], asked["trial"])
    # the page remembers what it was held against, and the full page holds the answer too
    assert trial in client.get(f"/prints/{print_id}").text
    assert found.verdict in plain(client.get(f"/prints/{print_id}/answer", params=asked).text)


def test_without_a_capacity_flows_are_told_and_no_ceiling(client, given):
    print_id, asked = given
    got = finished(client, f"/prints/{print_id}/answer", rig=asked["rig"], trial="", material="")
    said = plain(got.text)
    assert "it is not known" in said
    assert "no capacity was chosen, so no ceiling is drawn" in said
    assert 'id="stretches"' not in got.text
    assert 'id="retime"' not in got.text
    assert "by-flow" in got.text
    assert "null" in re.search(r'"sheets":(.*?)]]', got.text)[1]


def test_conservative_defaults_stand_in_for_a_rig(client, bench):
    where = client.post("/prints", files=FILE).headers["location"]
    page = client.get(where).text
    assert "On <b>conservative defaults</b>, no capacity" in page
    said = plain(finished(client, f"{where}/answer", rig="").text)
    assert re.search(r"The time rests on \d+ motion limits not recorded", said)
    assert "neither the rig nor the file states these limits" in said
    assert "Limits in force" in said


def test_progress_is_shown_while_it_takes_long(client, given, monkeypatch):
    from beadworth.web.routes import prints as routes

    print_id, asked = given
    monkeypatch.setattr(routes, "PATIENCE_S", 0.0)
    held = client.app.state.desk.jobs.turns
    with held, held:  # nothing can begin
        got = client.get(f"/prints/{print_id}/answer", params=asked,
                         headers={"hx-request": "true"})  # fmt: skip
        assert 'hx-trigger="load delay' in got.text
        assert "<progress" in got.text
        assert "Replaying" in got.text
        full = client.get(f"/prints/{print_id}/answer", params=asked).text
        assert 'class="progress"' in full
        assert "<html" in full
    assert "verdict" in finished(client, f"/prints/{print_id}/answer", **asked).text


def test_a_sheet_is_the_layer_in_columns(client, given):
    print_id, asked = given
    got = client.get(f"/prints/{print_id}/sheets/2", params=asked)
    assert got.headers["content-type"] == "application/octet-stream"
    n = len(got.content) // (4 * len(COLUMNS))
    rows = np.frombuffer(got.content, "<f4").reshape(len(COLUMNS), n)
    at = dict(zip(COLUMNS, rows, strict=True))
    lines = np.frombuffer(got.content[-4 * n :], "<i4")
    text = PLATE.splitlines()
    assert all(text[line - 1].startswith(("G1", "G2")) for line in lines)
    assert at["headroom"].min() < 0
    assert 0 < at["loss"].max() < 0.9
    assert (at["loss_low"] <= at["loss"] + 1e-6).all()
    ring = [text[line - 1].startswith("G2") for line in lines]
    assert np.hypot(at["x0"][ring] - 70, at["y0"][ring] - 70) == pytest.approx(8.0, abs=1e-4)
    every = [client.get(f"/prints/{print_id}/sheets/{k}", params=asked).content for k in range(5)]
    assert len({len(sheet) for sheet in every}) == 1
    assert client.get(f"/prints/{print_id}/sheets/5", params=asked).status_code == 404


def test_a_retimed_copy_differs_in_feeds_alone_and_stays_under(client, weighed, given, records):
    bench, trial = weighed
    print_id, asked = given
    form = {**asked, "reserve": "12"}
    started = client.post(f"/prints/{print_id}/retime", data=form, headers={"hx-request": "true"})
    assert started.status_code == 200
    got = finished(client, f"/prints/{print_id}/retimed", **form)
    assert "moves are slower" in plain(got.text)
    address = html.unescape(re.search(r'href="([^"]+/retimed/file[^"]+)"', got.text)[1])
    copy = client.get(address)
    assert 'filename="plate-retimed.gcode"' in copy.headers["content-disposition"]
    body = [line for line in copy.text.splitlines() if not line.startswith("; ")]
    feeds = re.compile(r" F[\d.]+")
    original = [line for line in PLATE.splitlines() if not line.startswith("; ")]
    assert [feeds.sub("", line) for line in body] == [feeds.sub("", line) for line in original]
    rig = records["rigs"][0]
    after = replay(copy.content, rig, trial_fit(bench.snapshot(trial)), fit_rig=rig.name)
    least = min(layer.headroom for layer in after.layers)
    assert least >= 1 / 0.88 - 1 - 1e-3
    assert after.verdict in plain(got.text)


def test_retiming_refuses_with_a_remedy(client, given, bench, records):
    print_id, asked = given
    post = {"headers": {"hx-request": "true"}}
    address = f"/prints/{print_id}/retime"
    bare = client.post(address, data={**asked, "trial": "", "reserve": "10"}, **post)
    assert bare.status_code == 422
    assert "Choose a trial that weighed this rig" in bare.text
    for reserve in ("", "lots", "95"):
        got = client.post(address, data={**asked, "reserve": reserve}, **post)
        assert got.status_code == 422
        assert "field reserve" in got.text
    small = records["rigs"][0].model_copy(deep=True)
    small = small.model_copy(
        update={"build_volume": small.build_volume.model_copy(update={"x_mm": 70.0})}
    )
    bench.save_rig(small)
    client.post(address, data={**asked, "reserve": "10"}, **post)
    got = finished(client, f"/prints/{print_id}/retimed", **asked, reserve="10")
    assert got.status_code == 422
    assert "build_volume.x_mm" in got.text
    assert "Name the rig the print is meant for" in got.text


def test_what_if_puts_the_stock_rig_first_and_says_it_in_a_sentence(client, given, records):
    print_id, asked = given
    short, long = records["rigs"]
    params = {**asked, "rig": long.name, "other_rig": short.name, "other_trial": asked["trial"]}
    got = finished(client, f"/prints/{print_id}/what-if", **params)
    said = plain(got.text)
    assert f"on {long.name} instead of" in said
    assert got.text.index(f"{short.name}, As written") < got.text.index(f"{long.name}, As written")
    assert got.text.count('class="chart ') == 2
    full = client.get(f"/prints/{print_id}/what-if", params=params).text
    assert "<html" in full


def test_another_file_is_held_against_the_print_on_the_same_rig(client, given):
    print_id, asked = given
    assert 'id="against"' not in finished(client, f"/prints/{print_id}/answer", **asked).text
    text = "G21\nG90\nM83\nM104 S220\nG1 X10 Y10 Z0.2 F1200\n" + "G1 X60 E2\nG1 X10 E2\n" * 9
    where = client.post("/prints", files={"file": ("small.gcode", text.encode())})
    other = where.headers["location"].rpartition("/")[2]
    answer = finished(client, f"/prints/{print_id}/answer", **asked).text
    assert f'<option value="{other}">small.gcode</option>' in answer
    got = finished(client, f"/prints/{print_id}/against", other=other, **asked)
    said = plain(got.text)
    assert "longer: " in said
    assert ", against small.gcode; it asks for up to " in said
    for row in ("time as written", "filament, mm", "highest flow, mm³/s", "time over the ceiling"):
        assert row in said
    full = client.get(f"/prints/{print_id}/against", params={**asked, "other": other}).text
    assert "<html" in full
    for wrong in ("", "nothing-here"):
        params = {**asked, "other": wrong}
        assert client.get(f"/prints/{print_id}/against", params=params).status_code == 404


def test_sliders_answer_as_they_stand_and_change_nothing_where_they_started(client, given):
    print_id, asked = given
    answer = finished(client, f"/prints/{print_id}/answer", **asked).text
    at = {
        name: re.search(rf'name="{name}"[^>]* value="([^"]+)"', answer)[1]
        for name in ("acceleration", "temperature", "ceiling")
    }
    assert at == {"acceleration": "9000.0", "temperature": "220.0", "ceiling": "100"}

    def said(**values):
        got = client.get(f"/prints/{print_id}/otherwise", params={**asked, **at, **values},
                         headers={"hx-request": "true"})  # fmt: skip
        assert got.status_code == 200, got.text
        return plain(got.text)

    as_it_is = said()
    assert as_it_is == plain(client.get(f"/prints/{print_id}/otherwise", params=asked,
                                        headers={"hx-request": "true"}).text)  # fmt: skip
    assert re.search(r"against a ceiling of [0-9.]+ \([0-9.]+ to [0-9.]+\) mm³/s it is", as_it_is)
    assert (
        len({as_it_is, said(acceleration="700"), said(temperature="210"), said(ceiling="60")}) == 4
    )
    assert said(ceiling="9999") == said(ceiling="200")
    wrong = client.get(f"/prints/{print_id}/otherwise", params={**asked, "ceiling": "much"})
    assert wrong.status_code == 422
    assert "this is no number" in wrong.text


def test_a_capacity_of_another_rig_is_refused_with_the_ones_it_weighed(client, given, bench):
    from beadworth.rig import Rig

    print_id, asked = given
    bench.save_rig(Rig(name="Wren"))
    got = client.get(f"/prints/{print_id}/answer", params={**asked, "rig": "Wren"},
                     headers={"hx-request": "true"})  # fmt: skip
    assert got.status_code == 422
    assert "did not weigh Wren" in got.text
    assert asked["rig"] in got.text
    choice = client.get(f"/prints/{print_id}/capacities", params={"rig": "Wren"}).text
    assert "No trial on this bench has weighed this rig" in choice
    choice = client.get(f"/prints/{print_id}/capacities", params={"rig": asked["rig"]}).text
    assert f'value="{asked["trial"]}" selected' in choice


def test_unknown_ids_and_rigs_are_not_found(client, given):
    print_id, asked = given
    for address in ("", "/answer", "/sheets/0", "/retimed", "/what-if"):
        got = client.get(f"/prints/nothing-here{address}", params={**asked, "reserve": "10"})
        assert got.status_code == 404
    got = client.get(f"/prints/{print_id}/answer", params={**asked, "rig": "Wren"})
    assert got.status_code == 404


def test_a_file_in_which_little_can_be_read_is_told_with_its_lines(client, bench):
    text = "G21\nG90\nM83\nQ7 wibble\nG1 X1.2.3 E1\nM987 S1\nG1 X10 Y10 E1 F1200\n<b>\n"
    where = client.post("/prints", files={"file": ("odd <i>.gcode", text.encode())})
    where = where.headers["location"]
    got = finished(client, f"{where}/answer", rig="")
    assert "<b>" not in got.text.partition('id="file"')[2].replace("<b>&", "")
    said = plain(got.text)
    assert "M987" in said
    assert "line 5" in said
    empty = client.post("/prints", files={"file": ("no.gcode", b"; nothing\n")})
    got = finished(client, f"{empty.headers['location']}/answer", rig="")
    assert got.status_code == 422
    assert "no line of it moves anything (1 read)" in got.text


def test_the_api_says_what_the_command_says(client, given, tmp_path, weighed, records):
    bench, trial = weighed
    _, asked = given
    file, rig = tmp_path / "plate.gcode.gz", tmp_path / "rig.toml"
    file.write_bytes(gzip.compress(PLATE.encode()))
    rig.write_text(to_toml(records["rigs"][0]))
    made = client.post("/api/prints", params={"name": file.name}, content=file.read_bytes())
    assert made.status_code == 201
    assert made.json()["name"] == "plate.gcode.gz"
    listed = client.get("/api/prints").json()["prints"]
    assert listed[0]["id"] == made.json()["id"]
    got = client.get(f"/api/prints/{made.json()['id']}/replay", params=asked)
    fit = tmp_path / "fit.json"
    fit.write_text(json.dumps(fit_to_json(trial_fit(bench.snapshot(trial)))))
    said = CliRunner().invoke(
        command, ["print", "replay", str(file), "--rig", str(rig), "--capacity", str(fit), "--json"]
    )
    ours, theirs = got.json(), json.loads(said.stdout)
    for different in ("source", "mass_g", "heater_w"):  # a name for a path; a material was named
        ours.pop(different), theirs.pop(different)
    assert ours.keys() == theirs.keys()
    assert ours["verdict"] == theirs["verdict"]
    assert ours["moves"] == theirs["moves"]
    assert ours["time_s"] == pytest.approx(theirs["time_s"])
    assert len(ours["stretches"]) == len(theirs["stretches"])


def test_the_api_refuses_in_the_one_shape(client, given, refusal):
    print_id, asked = given
    refusal(client.get("/api/prints/nothing/replay"), 404, "not-found")
    address = f"/api/prints/{print_id}/replay"
    refusal(client.get(address, params={"rig": "Wren"}), 404, "not-found")
    refusal(client.get(address, params={"rig": "", "trial": asked["trial"]}), 422, "input")
    refusal(client.post("/api/prints", params={"name": "x"}, content=b""), 422, "input")
    refusal(client.post("/api/prints", content=b"G1 X1\n"), 422, "input")
    evil = {"Origin": "http://evil.test"}
    refusal(client.post("/api/prints?name=x", content=b"G1\n", headers=evil), 403,
            "foreign-origin")  # fmt: skip


def test_a_bench_without_a_folder_says_that_prints_do_not_stay(bench):
    class Elsewhere:
        name = "postgresql+psycopg://somebody@somewhere/bench"
        notes, add_note = bench.notes, bench.add_note

    shelf = PrintShelf(Elsewhere())
    assert shelf.temporary
    with shelf.receiving("../../plate.gcode") as upload:
        upload.write(b"G1 X1\n")
        stored = upload.keep()
    assert stored.name == "plate.gcode"
    folder = shelf.folder
    assert shelf.file(stored).parent == folder
    del shelf, upload
    assert not folder.exists()


def test_surveys_on_the_bench_stand_under_the_prints(client, bench):
    assert 'id="surveys"' not in client.get("/prints").text
    about = {"table": "/somewhere/all.parquet", "rig": "Stilt", "capacity": "0123456789ab"}
    rows = [
        {"file": "/a/one.gcode", "problem": None, "time_s": 7200.0, "sustained": 2},
        {"file": "/a/two.gcode", "problem": None, "time_s": 3600.0, "sustained": 0},
        {"file": "/a/<bad>.gcode", "problem": "the gz data end in the middle"},
    ]
    bench.add_note("survey", "all", {"about": about, "rows": rows[:2]})
    bench.add_note("survey", "all", {"about": about, "rows": rows[2:]})
    text = client.get("/prints").text
    assert "&lt;bad&gt;" in text
    said = plain(text.partition('id="surveys"')[2])
    assert (
        "On Stilt: 1 of 2 prints in 3 h is over the ceiling, for 0.0 s in all (0.0 % of the time); "
        "1 not known to show." in said
    )
    assert "1 could not be read." in said
    assert "the gz data end in the middle" in said
