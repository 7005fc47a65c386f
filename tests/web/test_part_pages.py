"""Part cards and rigs made from them, in the browser: few boxes first, odd values asked about."""

from __future__ import annotations

import re

from beadworth.rig import HotEnd, PartCard

EIGHT = {
    "name": "Own", "layout": "moving bed", "reach_mm": "220 220 250", "drive": "direct",
    "temperature_limit_c": "260", "ptfe_in_melt_zone": "no", "nozzle_mm": "0,4",
    "melt_zone_mm": "12,5",
}  # fmt: skip


def boxes(text):
    """Fields shown at first: those of folded groups are not."""
    unfolded = re.sub(r"<details.*?</details>", "", text, flags=re.S)
    return len(re.findall(r'<div class="field ', unfolded))


def test_a_new_rig_asks_eight_things(client, bench):
    text = client.get("/rigs/new").text
    assert boxes(text) == 8 == text.count('<div class="field ')
    made = client.post("/rigs/new", data=EIGHT)
    assert made.headers["location"] == "/rig/Own"
    rig = bench.rig("Own")
    assert (rig.frame, rig.hot_end.melt_zone_mm) == ("moving bed", 12.5)
    shown = client.get("/rig/Own").text
    assert "typical of this layout, not measured" in shown
    again = client.post("/rigs/new", data=EIGHT)
    assert again.status_code == 409
    assert 'id="f-name-wrong"' in again.text


def test_odd_values_are_asked_about_and_stored_when_confirmed(client, bench):
    wide = EIGHT | {"nozzle_mm": "4", "temperature_limit_c": "2600"}
    asked = client.post("/rigs/new", data=wide)
    assert asked.status_code == 422
    assert "Is this so?" in asked.text
    assert 'id="f-nozzle_mm-wrong"' in asked.text
    assert 'id="f-temperature_limit_c-wrong"' in asked.text
    assert bench.rigs() == []
    assert client.post("/rigs/new", data=wide | {"sure": "1"}).status_code == 303
    assert bench.rig("Own").hot_end.nozzle_mm == 4.0

    lost = {"name": "Child", "parent": "Nobody", "hot_end.nozzle_mm": "0.4"}
    asked = client.post("/rigs", data=lost)
    assert asked.status_code == 422
    assert 'id="f-parent-wrong"' in asked.text
    assert client.post("/rigs", data=lost | {"sure": "1"}).status_code == 303
    # what stands there already is not asked again
    assert (
        client.post("/rig/Own", data={"hot_end.nozzle_mm": "4", "note": "wide"}).status_code == 303
    )
    assert client.post("/rig/Own", data={"hot_end.nozzle_mm": "5"}).status_code == 422


def test_a_rig_nobody_used_is_removed_and_one_in_use_says_why_not(client, bench):
    client.post("/rigs/new", data=EIGHT)
    assert "Nothing on the bench is about it." in client.get("/rig/Own").text
    client.post("/upgrades/new?rig=Own", data={"name": "Next", "hot_end.melt_zone_mm": "20"})
    assert "its upgrade Next is about it" in client.get("/rig/Own").text
    assert client.post("/rig-remove?name=Own").status_code == 409
    for name in ("Next", "Own"):
        assert client.post("/rig-remove", params={"name": name}).headers["location"] == "/rigs"
    assert bench.rigs() == []


def test_a_card_is_made_changed_put_on_a_rig_and_removed(client, bench):
    client.post("/rigs/new", data=EIGHT)
    for kind in ("hot end", "extruder", "guides", "fan"):
        assert 8 <= boxes(client.get("/parts/new", params={"kind": kind}).text) <= 10
    assert client.get("/parts/new?kind=wheel").status_code == 404
    sent = {"name": "Long/1", "price": "54", "currency": "EUR", "mass_g": "71",
            "hot_end.melt_zone_mm": "20", "hot_end.nozzle_mm": "0.4"}  # fmt: skip
    made = client.post("/parts/new?kind=hot end", data=sent)
    assert made.headers["location"] == "/part/Long%2F1"
    assert "54 EUR, 71 g, 20 mm melt zone" in client.get(made.headers["location"]).text
    assert client.post("/parts/new?kind=hot end", data=sent).status_code == 409
    changed = client.post(made.headers["location"], data=sent | {"mass_g": "73"})
    assert changed.headers["location"] == "/part/Long%2F1?saved=1"
    assert bench.part("Long/1").mass_g == 73.0

    form = client.get("/upgrades/new", params={"rig": "Own", "part.hot_end": "Long/1"}).text
    assert '<option value="Long/1" selected>' in form
    assert boxes(form) == 4
    made = client.post("/upgrades/new?rig=Own", data={"part.hot_end": "Long/1"})
    assert made.headers["location"] == "/upgrade?rig=Own%2C+Long%2F1"
    assert bench.rig("Own, Long/1").hot_end.mass_g == 73.0
    assert "On Own, Long/1." in client.get("/parts").text
    assert client.post("/part-remove", params={"name": "Long/1"}).status_code == 409
    client.post("/rig-remove", params={"name": "Own, Long/1"})
    assert client.post("/part-remove", params={"name": "Long/1"}).status_code == 303
    assert bench.parts() == []


def test_odd_and_wrong_values_of_a_card_stand_beside_their_boxes(client, bench):
    sent = {"name": "A", "mass_g": "71000", "hot_end.nozzle_mm": "thin"}
    wrong = client.post("/parts/new?kind=hot end", data=sent)
    assert wrong.status_code == 422
    assert 'id="f-hot_end-nozzle_mm-wrong"' in wrong.text
    asked = client.post("/parts/new?kind=hot end", data=sent | {"hot_end.nozzle_mm": "4"})
    assert "Is this so?" in asked.text
    for path in ("mass_g", "hot_end-nozzle_mm"):
        assert f'id="f-{path}-wrong"' in asked.text
    fan = {"name": "F", "fan.purpose": "part", "fan.airflow_m3_h": "9000", "mass_g": "12"}
    assert 'id="f-fan-airflow_m3_h-wrong"' in client.post("/parts/new?kind=fan", data=fan).text
    rail = {"name": "R", "guide.kind": "rail", "axis.x": "1", "axis.y": "1"}
    assert client.post("/parts/new?kind=guides", data=rail).status_code == 303
    assert bench.part("R").axes == ("x", "y")


def test_a_card_may_start_from_a_rig_and_goes_out_and_in_as_toml(client, bench):
    client.post("/rigs/new", data=EIGHT)
    form = client.get("/parts/new", params={"kind": "hot end", "rig": "Own"}).text
    assert re.search(r'name="hot_end.melt_zone_mm" value="12.5"', form)
    bench.save_part(PartCard(name="P", kind="hot end", hot_end=HotEnd(bore_mm=2.0)))
    text = client.get("/part-toml?name=P").text
    sent = client.post("/parts/toml", data={"text": text.replace("2.0", "2.1")})
    assert sent.status_code == 303
    assert bench.part("P").hot_end.bore_mm == 2.1
    assert client.post("/parts/toml", data={"text": "kind = 3"}).status_code == 422
