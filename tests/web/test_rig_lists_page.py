"""The rest of a rig's record in forms: fans, holes, slots, and how well each value is known."""

from __future__ import annotations

import html
import re
from pathlib import Path

import pytest

from beadworth.core.records import from_toml
from beadworth.rig import Known, Rig
from beadworth.web.forms import fields
from beadworth.web.rig_lists import LISTS, known_groups, known_rows, list_groups

EXAMPLES = Path(__file__).resolve().parents[2] / "docs" / "examples"
STOCK = from_toml(Rig, (EXAMPLES / "rig-stilt-stock.toml").read_text(), "stock")
ABOUT = {"rig": STOCK.name}


@pytest.fixture
def stilt(bench, client):
    bench.save_rig(STOCK)
    return bench


def shown(client, address):
    """What a browser would send back of a page's form as it stands."""
    text = client.get(address, params=None if "?" in address else ABOUT).text
    sent = {}
    for tag in re.findall(r"<input [^>]*name=\"[^\"]+\"[^>]*>", text):
        name = re.search(r'name="([^"]+)"', tag)[1]
        value = re.search(r'value="([^"]*)"', tag)
        sent[name] = html.unescape(value[1]) if value else ""
    for name, body in re.findall(r"<select [^>]*name=\"([^\"]+)\"[^>]*>(.*?)</select>", text, re.S):
        chosen = re.search(r'<option value="([^"]*)" selected', body)
        sent[name] = chosen[1] if chosen else ""
    return sent


@pytest.mark.parametrize("address", ["/rig-lists", "/rig-known"])
def test_a_form_sent_back_as_it_stands_changes_nothing(client, stilt, address):
    answered = client.post(address, params=ABOUT, data=shown(client, address))
    assert answered.status_code == 303, answered.text
    assert stilt.rig(STOCK.name) == STOCK
    assert len(stilt.rig_history(STOCK.name)) == 1


def test_every_value_of_the_record_has_a_place_in_some_form():
    from beadworth.rig.paths import known_paths
    from beadworth.web.fields_records import RIG
    from beadworth.web.record_fields import whole_form

    counts = {rows.path: 1 for rows in LISTS}
    placed = {f.path for f in fields((*whole_form(Rig, RIG), *list_groups(counts)))}
    placed = {re.sub(r"\.\d+\.", ".*.", path) for path in placed}
    left = {p for p in known_paths(Rig) if p not in placed}
    assert left == {"simulated"}, "an invented rig stays marked"


def test_fans_and_holes_are_added_changed_and_taken_away(client, stilt):
    sent = shown(client, "/rig-lists")
    fans = len(STOCK.fans)
    sent |= {f"fans.{fans}.volts_v": "24 V", f"fans.{fans}.current_a": "120 mA",
             "mounting.carriage.holes.0.diameter_mm": "3,2"}  # fmt: skip
    for name in [n for n in sent if n.startswith("mounting.part.holes.0.")]:
        sent[name] = ""
    assert client.post("/rig-lists", params=ABOUT, data=sent).status_code == 303
    rig = stilt.rig(STOCK.name)
    assert rig.fans[:-1] == STOCK.fans
    assert (rig.fans[-1].volts_v, rig.fans[-1].current_a, rig.fans[-1].purpose) == (
        24,
        0.12,
        "part",
    )
    assert rig.mounting.carriage.holes[0].diameter_mm == 3.2
    assert rig.mounting.part.holes == STOCK.mounting.part.holes[1:]
    assert rig.mounting.part.slots == STOCK.mounting.part.slots


def test_what_is_known_of_a_fan_moves_with_its_row(client, stilt):
    known = {"fans.1.current_a": Known(u=0.01, origin="measured"),
             "fans.0.current_a": Known(u=0.02, origin="assumed")}  # fmt: skip
    stilt.save_rig(STOCK.model_copy(update={"known": known | STOCK.known}))
    sent = shown(client, "/rig-lists")
    for name in [n for n in sent if n.startswith("fans.0.")]:
        sent[name] = ""
    client.post("/rig-lists", params=ABOUT, data=sent)
    rig = stilt.rig(STOCK.name)
    assert rig.fans == STOCK.fans[1:]
    assert rig.known["fans.0.current_a"] == known["fans.1.current_a"]
    assert "fans.1.current_a" not in rig.known


def test_more_rows_come_without_losing_what_was_typed(client, stilt):
    sent = shown(client, "/rig-lists") | {"fans.0.volts_v": "11", "more": "fans"}
    before = sum(name.endswith(".volts_v") for name in sent)
    text = client.post("/rig-lists", params=ABOUT, data=sent).text
    assert text.count('.volts_v"') == before + 4
    assert 'value="11"' in text
    assert stilt.rig(STOCK.name) == STOCK


def test_a_bad_cell_is_named_in_its_own_row(client, stilt):
    """The row above is empty: the record counts one row fewer than the form."""
    sent = shown(client, "/rig-lists")
    for name in [n for n in sent if n.startswith("fans.0.")]:
        sent[name] = ""
    sent["fans.1.current_a"] = "12 V"
    refused = client.post("/rig-lists", params=ABOUT, data=sent)
    assert refused.status_code == 422
    cell = re.search(r'<input id="f-fans-1-current_a"[^>]*>', refused.text)[0]
    assert 'aria-invalid="true"' in cell
    assert "12 V" in cell
    assert refused.text.count('aria-invalid="true"') == 1
    assert stilt.rig(STOCK.name) == STOCK


def test_a_hole_without_a_diameter_is_asked_for(client, stilt):
    sent = shown(client, "/rig-lists")
    row = len(STOCK.mounting.part.holes)
    sent |= {f"mounting.part.holes.{row}.x_mm": "1", f"mounting.part.holes.{row}.y_mm": "2"}
    refused = client.post("/rig-lists", params=ABOUT, data=sent)
    assert refused.status_code == 422
    cell = re.search(rf'<input id="f-mounting-part-holes-{row}-diameter_mm"[^>]*>', refused.text)
    assert 'aria-invalid="true"' in cell[0]
    assert "This is needed. Fill it in." in refused.text


def test_uncertainty_and_origin_are_kept_value_by_value(client, stilt):
    sent = shown(client, "/rig-known")
    sent |= {"known.hot_end.bore_mm.u": "20 µm", "known.hot_end.bore_mm.origin": "measured",
             "known.hot_end.bore_mm.note": "pin gauges, cold"}  # fmt: skip
    assert client.post("/rig-known", params=ABOUT, data=sent).status_code == 303
    rig = stilt.rig(STOCK.name)
    assert rig.known["hot_end.bore_mm"] == Known(u=0.02, origin="measured", note="pin gauges, cold")
    assert {p: k for p, k in rig.known.items() if p != "hot_end.bore_mm"} == {
        p: k for p, k in STOCK.known.items() if p != "hot_end.bore_mm"
    }
    page = client.get(f"/rig/{STOCK.name}").text
    assert "u 0.02, measured: pin gauges, cold" in re.sub(r"<[^>]+>", "", page)


@pytest.mark.parametrize(
    ("cells", "at"),
    [({"u": "0.02"}, "origin"), ({"u": "-1", "origin": "measured"}, "u"),
     ({"u": "2 N", "origin": "measured"}, "u")],
)  # fmt: skip
def test_half_a_statement_is_refused_beside_its_cell(client, stilt, cells, at):
    sent = shown(client, "/rig-known") | {
        f"known.hot_end.bore_mm.{name}": value for name, value in cells.items()
    }
    refused = client.post("/rig-known", params=ABOUT, data=sent)
    assert refused.status_code == 422
    cell = re.search(rf'<(?:input|select) id="f-known-hot_end-bore_mm-{at}"[^>]*>', refused.text)
    assert 'aria-invalid="true"' in cell[0]
    assert stilt.rig(STOCK.name) == STOCK


def test_an_upgrade_described_in_the_form_keeps_what_the_form_does_not_show(client, stilt):
    """Fans, holes and what is known stay; what belonged to the old hot end goes."""
    known = {"hot_end.melt_zone_mm": Known(u=0.2, origin="measured"),
             "fans.0.current_a": Known(u=0.01, origin="measured")}  # fmt: skip
    stilt.save_rig(STOCK.model_copy(update={"known": STOCK.known | known}))
    sent = shown(client, f"/rigs/whole?parent={STOCK.name}")
    sent |= {"name": "Stilt, longer", "hot_end.melt_zone_mm": "18 mm", "extruder.grip_force_n": "",
             "axes.x.motor.rated_current_a": "1.2"}  # fmt: skip
    answered = client.post("/rigs", data=sent)
    assert answered.status_code == 303, answered.text
    child = stilt.rig("Stilt, longer")
    assert (child.parent, child.hot_end.melt_zone_mm) == (STOCK.name, 18.0)
    assert (child.fans, child.mounting) == (STOCK.fans, STOCK.mounting)
    assert child.extruder.grip_force_n is None
    assert child.axes.x.motor.rated_current_a == 1.2
    assert child.axes.x.motor.holding_torque_nm == STOCK.axes.x.motor.holding_torque_nm
    assert child.hot_end.standing_loss_w_k is None, "it was the old melt zone's"
    assert "hot_end.melt_zone_mm" not in child.known
    assert child.known["fans.0.current_a"] == known["fans.0.current_a"]
    assert child.simulated


def test_words_and_counts_have_no_uncertainty():
    cells = {field.path for field in fields(known_groups(known_rows(STOCK)))}
    assert "known.hot_end.bore_mm.u" in cells
    assert "known.frame.origin" in cells
    assert "known.frame.u" not in cells
    assert "known.axes.x.full_steps.u" not in cells


@pytest.mark.browser
def test_the_forms_in_a_browser(visit, server, bench, tmp_path):
    bench.save_rig(STOCK)
    running = server(tmp_path / "test.bench")
    seen = visit("about:blank")
    for page in ("/rig-lists", "/rig-known"):
        seen.go(f"{running.address}{page}?rig=Stilt, stock")
        seen.check_both()
