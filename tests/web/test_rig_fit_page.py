"""The page of a rig, its record as TOML, and the fit check in the browser and as JSON."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
from cli_support import CliRunner
from page_words import plain

from beadworth.cli import app as command
from beadworth.core.records import from_toml, parse_toml, to_mapping, to_toml
from beadworth.fit import fit_check
from beadworth.material.library import generic
from beadworth.rig import Known, Rig, upgrade
from beadworth.web.routes.rig_fit import bar_of

EXAMPLES = Path(__file__).resolve().parents[2] / "docs" / "examples"
STOCK = from_toml(Rig, (EXAMPLES / "rig-stilt-stock.toml").read_text(), "stock")
CHANGES = (EXAMPLES / "upgrade-long-zone.toml").read_text()
LONG = upgrade(STOCK, parse_toml(CHANGES, "upgrade"))


@pytest.fixture
def stilts(bench, client):
    for rig in (STOCK, LONG):
        bench.save_rig(rig)
    return bench


def test_the_page_of_a_rig_shows_value_unit_uncertainty_and_origin(client, stilts):
    text = client.get(f"/rig/{STOCK.name}").text
    row = plain(re.search(r"<tr><th scope=\"row\">Force at which it slips.*?</tr>", text)[0])
    assert "65 N" in row
    assert "u 8, measured" in row
    assert "assumed" in plain(
        re.search(r"<tr>[^\n]*belt, N.*?</tr>|Force per unit.*?</tr>", text)[0]
    )
    assert 'role="img" aria-label="Side view of Stilt, stock' in text
    assert "Upgraded to" in text
    # what is not known is named with its path, and what a belt has no use for is not asked for
    assert "axes.x.beam.mass_g" in text
    assert "<code>axes.x.lead_mm</code>" not in text
    assert "<code>axes.z.worm_lead_angle_deg</code>" not in text


def test_an_upgrade_always_shows_what_changed(client, stilts):
    text = plain(client.get(f"/rig/{LONG.name}").text)
    assert "Changed against Stilt, stock" in text
    assert "hot_end.melt_zone_mm 12.5 20 mm" in text
    assert "hot_end.standing_loss_w_k 0.06 not recorded W/K" in text


def test_a_rig_whose_parent_is_elsewhere_says_so(client, bench):
    bench.save_rig(Rig(name="Wren, wide", parent="Wren"))
    assert "is not on this bench" in client.get("/rig/Wren, wide").text


def test_the_record_is_edited_as_text_and_its_faults_named_by_line(client, stilts):
    text = client.get("/rig-edit", params={"rig": STOCK.name}).text
    assert "hot_end.standing_loss_w_k" in text
    bad = to_toml(STOCK).replace("bore_mm = 2.0", "bore_mm = -2.0")
    bad = bad.replace('block_metal = "aluminium"', 'blok_metal = "aluminium"')
    refused = client.post("/rig-edit", params={"rig": STOCK.name}, data={"text": bad})
    assert refused.status_code == 422
    for word in ("bore_mm = ", "blok_metal = "):
        line = next(n for n, t in enumerate(bad.splitlines(), 1) if t.startswith(word))
        assert f"<b>Line {line}</b>" in refused.text
    assert "blok_metal" in refused.text
    assert len(stilts.rig_history(STOCK.name)) == 1

    good = to_toml(STOCK).replace("bore_mm = 2.0", "bore_mm = 1.9")
    done = client.post("/rig-edit", params={"rig": STOCK.name}, data={"text": good})
    assert done.status_code == 303
    assert stilts.rig(STOCK.name).hot_end.bore_mm == 1.9
    assert stilts.rig(STOCK.name).known == STOCK.known


def test_a_record_keeps_its_name(client, stilts):
    other = to_toml(STOCK).replace(STOCK.name, "Stilt, renamed")
    refused = client.post("/rig-edit", params={"rig": STOCK.name}, data={"text": other})
    assert refused.status_code == 422
    assert "A record keeps its name" in refused.text


def test_text_that_is_no_toml_names_its_line(client, stilts):
    refused = client.post("/rig-edit", params={"rig": STOCK.name}, data={"text": 'name = "x"\nb b'})
    assert refused.status_code == 422
    assert "<b>Line 2</b>" in refused.text


def test_the_table_holds_every_check_with_its_verdict_in_words(client, stilts):
    asked = {"upgrade": LONG.name, "material": "PLA", "temperature": "220", "flow": "15"}
    answered = client.get("/rig-fit", params=asked)
    assert answered.status_code == 200
    checks = fit_check(STOCK, LONG, generic("PLA"), 220.0, 15.0)
    rows = re.findall(r'<tr role="row" id="row-.*?</tr>', answered.text, flags=re.S)
    assert len(rows) == len(checks)
    for row, check in zip(rows, checks, strict=True):
        said = plain(row)
        assert check.name.capitalize() in said
        assert check.verdict in said
        assert check.formula in said
    assert "local codes come before anything stated here" in answered.text
    assert "z holds unpowered" in re.search(r'id="answer">(.*?)<', answered.text)[1]
    assert answered.text.count('class="side-view chart"') == 2


def test_a_rig_alone_is_checked_as_it_stands(client, stilts):
    text = client.get("/rig-fit", params={"upgrade": STOCK.name}).text
    assert "of Stilt, stock as it stands" in plain(text)
    assert "as-before" not in text


def test_what_is_not_known_leads_to_its_field(client, bench):
    bench.save_rig(Rig(name="Wren"))
    checked = client.get("/rig-fit", params={"upgrade": "Wren"}).text
    assert '<a href="/rig/Wren#change">Record it for Wren</a>' in checked
    page = client.get("/rig/Wren").text
    assert 'id="change"' in page
    asked = re.findall(r'<ul class="unknowns">.*?</ul>', page, re.S)
    linked = re.findall(r'<a href="#([^"]+)">', " ".join(asked))
    assert "f-hot_end-bore_mm" in linked
    assert all(f'id="{place}"' in page for place in linked)


def test_what_the_rig_before_lacks_leads_to_that_rig(client, bench):
    before = Rig(name="Wren")
    bench.save_rig(before)
    bench.save_rig(upgrade(before, {"name": "Wren, new", "hot_end": {"mass_g": 40.0}}))
    text = client.get("/rig-fit", params={"parent": "Wren", "upgrade": "Wren, new"}).text
    row = re.search(r"<tr [^>]*>(?:(?!</tr>).)*Added mass.*?</tr>", text, re.S)[0]
    assert "of the parent rig" in row
    assert '<input type="hidden" name="of" value="Wren">' in row
    assert '<span class="whose">Wren:</span>' in row
    assert 'name="of" value="Wren, new"' not in row
    page = client.get("/rig/Wren, new").text
    assert '<a href="/rig/Wren#change">Record it for Wren</a>' in page


def test_two_chosen_rigs_lead_to_an_address_that_can_be_kept(client, stilts):
    sent = {"parent": STOCK.name, "upgrade": LONG.name, "material": "PLA", "temperature": "220"}
    moved = client.post("/rig-fit", data=sent)
    assert moved.status_code == 303
    assert client.get(moved.headers["location"]).status_code == 200


def test_a_pasted_upgrade_is_checked_and_kept_on_demand(client, bench):
    bench.save_rig(STOCK)
    sent = {"parent": STOCK.name, "material": "PLA", "temperature": "220", "flow": "15"}
    answered = client.post("/rig-fit", data=sent | {"text": CHANGES})
    assert answered.status_code == 200
    assert "Put it on the bench as Stilt, long melt zone" in answered.text
    assert len(bench.rigs()) == 1
    kept = client.post("/rig-fit", data=sent | {"text": CHANGES, "keep": "1"})
    assert kept.status_code == 303
    assert bench.rig(LONG.name) == LONG
    again = client.post("/rig-fit", data=sent | {"text": CHANGES, "keep": "1"})
    assert again.status_code == 409


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("[hot_end]\nmass_g = -3.0", ("Line 2", "hot_end.mass_g", "-3")),
        ("[hot_end]\nbore_mm = 0.3", ("not narrower than the bore",)),
        ("[axes.x]\npulley_teeth = 20.5", ("Line 2", "axes.x.pulley_teeth")),
        ("[hot_end]\nmass_kg = 0.1", ("Line 2", "mass_kg")),
    ],
)
def test_what_is_wrong_with_a_pasted_upgrade_names_field_value_and_line(client, bench, text, words):
    bench.save_rig(STOCK)
    refused = client.post("/rig-fit", data={"parent": STOCK.name, "text": text})
    assert refused.status_code == 422
    for word in words:
        assert word in refused.text, word


def test_what_is_to_be_printed_is_checked_at_once(client, stilts):
    asked = {"upgrade": LONG.name, "temperature": "2200", "flow": "fast"}
    refused = client.get("/rig-fit", params=asked)
    assert refused.status_code == 422
    assert "temperature, °C" in refused.text
    assert "flow, mm³/s" in refused.text
    assert 'value="fast"' in refused.text


def test_a_bar_ends_where_its_margin_does():
    checks = {c.name: c for c in fit_check(STOCK, LONG, generic("PLA"), 220.0, 15.0)}
    room = bar_of(checks["heater voltage"])
    assert room.width == 0
    beyond = bar_of(checks["z holds unpowered"])
    assert beyond.x + beyond.width == pytest.approx(66.0)
    assert beyond.low < beyond.x < beyond.high < 66.0
    assert bar_of(checks["price"]) is None


def test_the_api_says_what_the_command_says(client, stilts, tmp_path):
    files = {"parent.toml": to_toml(STOCK), "upgrade.toml": CHANGES}
    for name, text in files.items():
        (tmp_path / name).write_text(text)
    said = CliRunner().invoke(
        command,
        ["rig", "fit", *(str(tmp_path / name) for name in files), "--material", "PLA",
         "--temperature", "220", "--flow", "15", "--json"],
    )  # fmt: skip
    body = {"parent": STOCK.name, "material": "PLA", "temperature_c": 220.0, "flow_mm3_s": 15.0}
    by_name = client.post("/api/fit", json=body | {"upgrade": LONG.name})
    by_change = client.post(
        "/api/fit",
        json=body | {"parent": to_mapping(STOCK), "upgrade": parse_toml(CHANGES, "upgrade")},
    )
    assert by_name.status_code == by_change.status_code == 200
    assert by_name.json() == by_change.json() == json.loads(said.stdout)
    names = {"name", "value", "unit", "limit", "margin", "verdict", "why"}
    assert all(names <= set(check) for check in by_name.json()["checks"])


def test_the_api_refuses_in_the_one_shape(client, stilts, refusal):
    refusal(client.post("/api/fit", json={"parent": "Wren", "upgrade": {}}), 404, "not-found")
    refusal(client.post("/api/fit", json={"upgrade": {}}), 422, "record", mentions=("parent",))
    body = {"parent": STOCK.name, "upgrade": {"hot_end": {"mass_g": -1.0}}}
    refusal(client.post("/api/fit", json=body), 422, "record", mentions=("hot_end.mass_g",))
    body = {"parent": STOCK.name, "upgrade": {}, "temperature_c": -5.0}
    refusal(client.post("/api/fit", json=body), 422, "record", mentions=("temperature_c",))


def test_an_uncertain_value_puts_its_doubt_on_the_page(client, bench):
    known = {**STOCK.known, "electrics.supply_a": Known(u=0.5, origin="datasheet")}
    bench.save_rig(STOCK.model_copy(update={"known": known}))
    text = client.get("/rig-fit", params={"upgrade": STOCK.name}).text
    row = re.search(r"<tr[^>]*>\s*<th[^>]*>Supply current.*?</tr>", text, flags=re.S)[0]
    assert 'class="doubt"' in row
    assert "A ± 1" in plain(row)
