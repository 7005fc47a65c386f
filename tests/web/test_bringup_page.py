"""Bring-up in the browser's forms: worked out, kept with the rig, taken into its record."""

from __future__ import annotations

import html
from pathlib import Path

import numpy as np
import pytest
from page_words import plain

from beadworth.bringup import BringUpResult, move_correction
from beadworth.bringup.heater_model import simulate
from beadworth.core.errors import InputError
from beadworth.core.records import from_toml, to_mapping
from beadworth.rig import Rig
from beadworth.workflow import apply_bring_up, stored_bring_ups

EXAMPLES = Path(__file__).resolve().parents[2] / "docs" / "examples"
STOCK = from_toml(Rig, (EXAMPLES / "rig-stilt-stock.toml").read_text(), "stock")
TRUE = {"gain_k": 680.0, "time_constant_s": 330.0, "dead_time_s": 6.0, "room_c": 21.0}
MOVES = {"kind": "moves", "axis": "x", "reading_u": "0,15", "ruler_u": "0,05", "steps": ""}
FEED = {
    "kind": "feed", "marks": "100 97,6\n100 97,2\n100;97,9", "masses": "", "density": "1.24",
    "diameter": "", "reading_u": "0.3", "mass_u": "0.005", "diameter_u": "0.02",
    "density_u": "0.01",
}  # fmt: skip


@pytest.fixture
def stilt(bench, client):
    bench.save_rig(STOCK)
    return bench


@pytest.fixture(scope="module")
def log():
    """A log of a known plant: cold, full heat, hold, off."""
    time = np.arange(0.0, 900.0)
    duty = np.zeros(900)
    duty[30:130], duty[130:600] = 1.0, 0.27
    seen = simulate(time, duty, **TRUE) + np.random.default_rng(1).normal(0, 0.2, 900)
    rows = [f"{t:.0f},{c:.2f},{d:.2f}" for t, c, d in zip(time, seen, duty, strict=True)]
    return "time_s,temperature_c,duty\n" + "\n".join(rows)


def post(client, **sent):
    return client.post("/bring-up", params={"rig": STOCK.name}, data=sent)


def test_the_page_has_the_steps_of_every_axis_and_what_to_mind(client, stilt):
    text = plain(client.get("/bring-up", params={"rig": STOCK.name}).text)
    assert "x 80 80 fits" in text
    assert "extruder 418.599 418.6 fits" in text
    assert "Mains wiring is work for licensed people" in text


def test_a_result_is_worked_out_and_not_kept_unless_asked(client, stilt):
    # 0.5 % too long over five lengths, read with a decimal comma
    readings = "\n".join(f"{c} {str(round(c * 1.005, 2)).replace('.', ',')}" for c in
                         (33, 78, 124, 169, 205))  # fmt: skip
    answered = post(client, **MOVES, readings=readings)
    assert answered.status_code == 200
    said = plain(answered.text)
    assert "Calculated, not stored" in said
    assert "Set x to 79.6" in said
    assert stilt.notes("bringup", STOCK.name) == []

    kept = post(client, **MOVES, readings=readings, keep="1")
    assert kept.status_code == 303
    (note,) = stilt.notes("bringup", STOCK.name)
    assert note.data["given"]["readings"] == readings
    page = plain(client.get(kept.headers["location"]).text)
    assert "record is unchanged until you write the result into it" in page
    assert "axes.x.steps_per_mm 80 79.6" in page


def test_what_was_kept_goes_into_the_record_on_demand_and_is_marked_measured(client, stilt):
    post(client, **FEED, keep="1")
    (note,) = stilt.notes("bringup", STOCK.name)
    taken = client.post("/bring-up/take", params={"rig": STOCK.name, "note": note.id})
    assert taken.status_code == 303
    rig = stilt.rig(STOCK.name)
    assert rig.extruder.steps_per_mm == pytest.approx(418.6 / 0.97567, rel=1e-4)
    assert rig.known["extruder.steps_per_mm"].origin == "measured"
    assert len(stilt.rig_history(STOCK.name)) == 2
    missing = client.post("/bring-up/take", params={"rig": STOCK.name, "note": 99})
    assert missing.status_code == 404


def test_what_was_kept_stands_on_the_rig_page_the_sheet_and_in_json(client, stilt):
    post(client, kind="square", x="176", y="176", up="249.6", down="248.1", reading_u="0.3", keep=1)
    about = {"rig": STOCK.name}
    for text in (
        client.get(f"/rig/{STOCK.name}").text,
        client.get("/bring-up/sheet", params=about).text,
    ):
        assert "y leans 0.60 mm to the right per 100 mm" in plain(text)
    told = client.get("/api/bringup", params=about).json()
    (one,) = told["results"]
    assert one["result"]["square"]["significant"] is True
    assert one["given"]["up"] == "249.6"
    assert client.get("/api/bringup", params={"rig": "Wren"}).status_code == 404


def test_marks_and_mass_that_disagree_change_nothing(client, stilt):
    said = plain(post(client, **(FEED | {"masses": "100 0.20\n100 0.20\n100 0.20"})).text)
    assert "change nothing yet" in said
    assert "they do not agree" in said


def test_squareness_says_which_way_and_how_sure(client, stilt):
    sent = {"kind": "square", "x": "176", "y": "176", "up": "249.6", "down": "248.1"}
    said = plain(post(client, **sent, reading_u="0.3").text)
    assert "y leans 0.60 mm to the right per 100 mm" in said


def test_a_heater_log_gives_model_loss_warming_and_gains(client, stilt, log):
    sent = {"kind": "heater", "output": "255", "room": "", "text": "", "keep": "1"}
    files = {"file": ("heater.csv", log.encode(), "text/csv")}
    kept = client.post("/bring-up", params={"rig": STOCK.name}, data=sent, files=files)
    assert kept.status_code == 303
    (note,) = stilt.notes("bringup", STOCK.name)
    heater = note.data["result"]["heater"]
    for name, true in TRUE.items():
        if name != "room_c":
            assert abs(heater[name] - true) < 3 * heater[f"u_{name}"] + 0.02 * true
    assert len(note.data["given"]["log"]["time_s"]) <= 600
    page = client.get("/bring-up", params={"rig": STOCK.name}).text
    assert "Ziegler–Nichols 1942" in page
    assert "SIMC 2003" in page
    assert "each is 255 times as large" in plain(page)
    assert 'id="figure-heater"' in page
    assert "hot_end.standing_loss_w_k" in page


@pytest.mark.parametrize(
    ("sent", "words"),
    [
        (
            {**MOVES, "readings": "30 30.1\nlong\n40"},
            ("line 2: 'long' is not two numbers", "line 3: '40'", "30 30.1"),
        ),
        ({**MOVES, "readings": "30 30.1"}, ("2",)),
        (
            {**MOVES, "readings": "30 30\n60 60", "reading_u": "wide"},
            ("uncertainty of one reading, mm",),
        ),
        ({**FEED, "marks": ""}, ("pair up",)),
        ({**FEED, "density": "-1"}, ("Density", "-1.0 is below 0.2", "density, g/cm³")),
        (
            {"kind": "square", "x": "176", "up": "2"},
            ("Side along y : This is needed.", "Back left to front right : This is needed."),
        ),
        ({"kind": "heater", "text": "a,b\n1,2"}, ("no column time_s", "no column duty")),
        ({"kind": "heater", "text": ""}, ("nothing was pasted",)),
    ],
)
def test_a_refusal_stands_in_its_section_with_what_was_typed(client, stilt, sent, words):
    refused = post(client, **sent)
    assert refused.status_code == 422
    said = plain(refused.text)
    assert "Not calculated" in said
    for word in words:
        assert word in said, word
    for value in sent.values():
        if "\n" not in value:
            assert html.escape(value) in refused.text
    assert stilt.notes("bringup", STOCK.name) == []


@pytest.mark.parametrize("kind", ["moves", "feed", "square", "heater"])
def test_programs_download_with_their_cautions(client, stilt, kind):
    asked = {"rig": STOCK.name, "kind": kind, "axis": "y", "material": "PLA", "temperature": "215"}
    got = client.get("/bring-up/program", params=asked)
    assert got.status_code == 200
    assert "attachment" in got.headers["content-disposition"]
    assert "CAUTIONS" in got.text
    assert ("215" in got.text) == (kind != "moves")


def test_a_program_beyond_the_rig_is_refused(client, stilt):
    asked = {"rig": STOCK.name, "kind": "heater", "temperature": "300"}
    refused = client.get("/bring-up/program", params=asked)
    assert refused.status_code == 422
    assert "300 °C is above the limit of 240 °C of hot end and material" in refused.text


def test_the_sheet_prints_with_boxes_and_runs_nothing(client, stilt):
    got = client.get("/bring-up/sheet", params={"rig": STOCK.name})
    assert got.text.count('type="checkbox"') > 15
    assert "about 14.4 Ω" in got.text
    assert "script" not in got.headers["content-security-policy"]


def test_an_unknown_form_or_rig_is_refused(client, stilt):
    assert post(client, kind="tarot").status_code == 422
    assert client.get("/bring-up", params={"rig": "Wren"}).status_code == 404
    assert client.get("/bring-up").headers["location"] == "/rigs"


def test_an_error_too_large_for_a_setting_is_not_stored(client, stilt):
    # centimetres read for millimetres: 80 steps/mm would become 800
    sent = MOVES | {"readings": "33 3.3\n124 12.4\n205 20.5"}
    shown = plain(post(client, **sent).text)
    assert "Set nothing: moves of x are −90.0 % off, beyond 3 %" in shown
    assert "An error this large is a mistake in measuring, so it is not stored." in shown
    kept = post(client, **sent, keep="1")
    assert kept.status_code == 422
    assert "wrong tooth, unit or column" in plain(kept.text)
    assert "Not calculated or stored" in plain(kept.text)
    assert stored_bring_ups(stilt, STOCK.name) == []


def test_one_stored_by_an_earlier_release_opens_and_is_not_written(client, stilt):
    moves = move_correction("x", [30.0, 200.0], [20.0, 133.3], steps_per_mm=80.0,
                            reading_u_mm=0.1)  # fmt: skip
    result = BringUpResult(rig=STOCK.name, axes=(moves,))
    stilt.add_note("bringup", STOCK.name, {"result": to_mapping(result), "given": {}})
    text = plain(client.get("/bring-up", params={"rig": STOCK.name}).text)
    assert "Not to be written into the record" in text
    (stored,) = stored_bring_ups(stilt, STOCK.name)
    with pytest.raises(InputError, match="wrong tooth, unit or column"):
        apply_bring_up(stilt, STOCK.name, stored.number)
