"""A row of the fit check that lacks a value asks for it there, and takes it."""

from __future__ import annotations

import html
import re

import pytest

from beadworth.rig import Axes, Axis, BuildVolume, HotEnd, Rig

BEFORE = Rig(name="Wren", hot_end=HotEnd(temperature_limit_c=260.0),
             build_volume=BuildVolume(x_mm=200.0, y_mm=200.0, z_mm=200.0),
             axes=Axes(x=Axis(drive="belt")))  # fmt: skip
AFTER = BEFORE.model_copy(
    update={"name": "Wren, hot", "parent": "Wren",
            "hot_end": HotEnd(temperature_limit_c=290.0, heater_w=60.0)}
)  # fmt: skip
ADDRESS = {"parent": "Wren", "upgrade": "Wren, hot", "material": "PLA", "temperature": "220"}


@pytest.fixture
def pair(bench):
    bench.save_rig(BEFORE)
    bench.save_rig(AFTER)
    return bench


def row(text, key):
    return re.search(rf'<tr role="row" id="row-{key}".*?</tr>', text, re.S)[0]


def form_in(cell, n=0):
    """The fields of a row's form, hidden ones with what they hold."""
    form = re.findall(r"<form.*?</form>", cell, re.S)[n]
    names = re.findall(r'<(?:input|select)[^>]*name="([^"]+)"', form)
    held = dict(re.findall(r'<input type="hidden" name="([^"]+)" value="([^"]*)"', form))
    return {name: html.unescape(held.get(name, "")) for name in names}


def test_every_value_a_row_lacks_has_a_box_or_a_page_in_it(client, pair):
    text = client.get("/rig-fit", params=ADDRESS).text
    for cell in re.findall(r'<tr role="row" id="row-.*?</tr>', text, re.S):
        said = re.search(r"Not known: (.*?)\. Measure or look it up", cell, re.S)
        for path in re.findall(r"([a-z_]+\.[a-z_.]+) \(", said[1]) if said else ():
            assert f'name="{path}"' in cell or f">Enter {path} of" in cell, path
    assert 'name="flow"' in row(text, "heater-power") or "heater_v" in row(text, "heater-power")


def test_a_value_is_taken_in_its_row_and_the_checks_made_again(client, pair):
    cell = row(client.get("/rig-fit", params=ADDRESS).text, "heater-voltage")
    sent = form_in(cell)
    assert {"of", "hot_end.heater_v", "electrics.supply_v", "both"} <= set(sent)
    sent |= {"hot_end.heater_v": "24", "electrics.supply_v": "24 V"}
    sent.pop("both")
    made = client.post("/rig-fit/value", data=sent)
    assert made.status_code == 303
    assert made.headers["location"].endswith("#row-heater-voltage")
    assert pair.rig("Wren, hot").electrics.supply_v == 24.0
    assert pair.rig("Wren, hot").hot_end.heater_w == 60.0
    assert pair.rig("Wren").electrics.supply_v is None
    again = client.get(made.headers["location"]).text
    assert "measure this" not in row(again, "heater-voltage")
    assert re.search(r'<option value="PLA" selected>', again)


def test_what_the_upgrade_left_alone_is_taken_for_both(client, pair):
    cell = row(client.get("/rig-fit", params=ADDRESS).text, "steps-per-mm-of-x")
    assert re.search(r'name="both" value="1" checked', cell)
    sent = form_in(cell) | {"axes.x.pulley_teeth": "20", "axes.x.belt_pitch_mm": "2", "both": "1"}
    assert client.post("/rig-fit/value", data=sent).status_code == 303
    for name in ("Wren", "Wren, hot"):
        assert pair.rig(name).axes.x.pulley_teeth == 20
    assert len(pair.rig_history("Wren")) == 2


def test_wrong_odd_and_empty_entries_stay_in_the_row(client, pair):
    sent = form_in(row(client.get("/rig-fit", params=ADDRESS).text, "heater-voltage"))
    sent.pop("both")
    for value, says, sure in (("hot", "is not a number", 0), ("", "nothing was entered", 0),
                              ("2400", "is odd: as a rule 5 to 250", 1)):  # fmt: skip
        refused = client.post("/rig-fit/value", data=sent | {"hot_end.heater_v": value})
        cell = row(refused.text, "heater-voltage")
        assert refused.status_code == 422
        assert says in cell
        assert cell.count('name="sure"') == sure
        assert pair.rig("Wren, hot") == AFTER
    confirmed = sent | {"hot_end.heater_v": "2400", "sure": "1"}
    assert client.post("/rig-fit/value", data=confirmed).status_code == 303
    assert pair.rig("Wren, hot").hot_end.heater_v == 2400.0


def test_a_pasted_upgrade_asks_for_nothing_in_its_rows(client, pair):
    sent = {"parent": "Wren", "text": "[hot_end]\nheater_w = 50.0"}
    assert "/rig-fit/value" not in client.post("/rig-fit", data=sent).text
