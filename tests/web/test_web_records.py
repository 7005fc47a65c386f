"""Pages of rigs and materials: made, changed, refused, handed out and taken in."""

from __future__ import annotations

import re

import pytest

from beadworth.core.records import to_mapping, to_toml
from beadworth.material.library import GENERIC
from beadworth.web.forms import typed_from
from beadworth.web.routes import materials, rigs


def typed_rig(rig, **changes):
    return typed_from(rigs.NOUN.groups, rig.model_dump(mode="json")) | changes


def test_a_rig_is_made_by_the_form_with_decimal_commas(client, bench):
    sent = {"name": "Wren", "hot_end.nozzle_mm": "0,6", "build_volume.x_mm": "200"}
    sent |= {"build_volume.y_mm": "200", "build_volume.z_mm": "180"}
    made = client.post("/rigs", data=sent)
    assert made.status_code == 303
    assert made.headers["location"] == "/rig/Wren"
    rig = bench.rig("Wren")
    assert rig.hot_end.nozzle_mm == 0.6
    assert rig.build_volume.z_mm == 180.0
    assert 'value="0.6"' in client.get("/rig/Wren").text


def test_the_form_of_a_new_rig_says_what_a_trial_needs(client):
    text = client.get("/rigs/whole").text
    marked = re.findall(
        r'<label for="f-([^"]+)">[^<]*<span class="needed">for a trial</span>', text
    )
    assert marked == ["hot_end-temperature_limit_c", *(f"build_volume-{a}_mm" for a in "xyz")]
    assert "a first trial needs no more" in text


@pytest.mark.parametrize("polymer", GENERIC)
def test_a_material_may_start_from_a_generic_polymer_and_says_so(client, bench, polymer):
    assert f"/materials/new?generic={polymer}" in client.get("/materials/new").text
    shown = client.get("/materials/new", params={"generic": polymer}).text
    own = re.escape(f"{GENERIC[polymer].density_g_cm3:g}")
    assert re.search(rf'<input[^>]*name="density_g_cm3" value="{own}"', shown)
    note = f"generic {polymer}, not this spool&#39;s data sheet"
    assert note in shown
    assert 'name="name" value=""' in shown
    typed = typed_from(materials.NOUN.groups, to_mapping(GENERIC[polymer]))
    client.post("/materials", data=typed | {"name": "Mine", "source": "as sent"})
    own = GENERIC[polymer].model_copy(update={"name": "Mine", "source": "as sent"})
    assert bench.material("Mine") == own


def test_all_that_is_wrong_stands_at_the_top_and_beside_its_field(client, bench):
    sent = {"name": "", "hot_end.nozzle_mm": "thin", "build_volume.x_mm": "200", "price": "-1"}
    refused = client.post("/rigs", data=sent)
    assert refused.status_code == 422
    text = refused.text
    assert "things to correct" in text
    assert 'value="thin"' in text
    assert 'value="200"' in text
    for path in ("name", "hot_end.nozzle_mm", "build_volume.y_mm", "price"):
        anchor = "f-" + path.replace(".", "-")
        assert f'href="#{anchor}"' in text, path
        assert f'id="{anchor}-wrong"' in text, path
    assert bench.rigs() == []


def test_a_new_rig_does_not_slip_over_one_of_its_name(client, stocked):
    refused = client.post("/rigs", data={"name": stocked.rigs()[0].name})
    assert refused.status_code == 409
    assert "another name" in refused.text


def test_a_change_is_a_new_version_and_the_history_says_what_changed(client, stocked):
    name = stocked.rigs()[0].name
    rig = stocked.rig(name)
    changed = typed_rig(rig) | {"hot_end.temperature_limit_c": "280"}
    assert client.post(f"/rig/{name}", data=changed).status_code == 303
    assert len(stocked.rig_history(name)) == 2
    assert stocked.rig(name).hot_end.temperature_limit_c == 280.0
    text = client.get(f"/rig/{name}").text
    assert "hot_end.temperature_limit_c: 265.0 → 280.0" in text


def test_a_simulated_record_stays_marked(client, stocked):
    rig = stocked.rigs()[0].model_copy(update={"name": "Made up", "simulated": True})
    stocked.save_rig(rig)
    client.post("/rig/Made up", data=typed_rig(rig) | {"note": "changed"})
    assert stocked.rig("Made up").simulated
    assert stocked.rig("Made up").note == "changed"


def test_an_upgrade_starts_from_its_parent(client, stocked):
    name = stocked.rigs()[0].name
    text = client.get("/rigs/whole", params={"parent": name}).text
    assert re.search(rf'name="parent" value="{name}"', text)
    assert re.search(r'name="name" value=""', text)
    assert re.search(r'name="hot_end.melt_zone_mm" value="(12|20)"', text)


def test_toml_out_and_in(client, stocked):
    name = stocked.materials()[0].name
    out = client.get(f"/material-toml/{name}")
    assert out.headers["content-type"].startswith("application/toml")
    assert "attachment" in out.headers["content-disposition"]
    assert out.text == to_toml(stocked.material(name))
    changed = out.text.replace("1.24", "1.27")
    files = {"file": ("pla.toml", changed.encode(), "application/toml")}
    assert client.post("/materials/toml", files=files).status_code == 303
    assert stocked.material(name).density_g_cm3 == 1.27


@pytest.mark.parametrize(
    ("sent", "says"),
    [
        ({"text": "name = "}, "not TOML"),
        ({"text": 'nam = "x"'}, "no field of this name"),
        ({"text": "  "}, "nothing was pasted"),
    ],
)
def test_bad_toml_is_refused_and_kept_in_the_box(client, bench, sent, says):
    refused = client.post("/materials/toml", data=sent)
    assert refused.status_code == 422
    assert says in refused.text
    assert bench.materials() == []


def test_a_file_that_is_no_text_is_refused(client):
    files = {"file": ("x.toml", b"\xff\xfe\x00", "application/toml")}
    refused = client.post("/rigs/toml", files=files)
    assert refused.status_code == 422
    assert "x.toml" in refused.text


def test_names_with_slashes_spaces_and_marks_have_pages(client, stocked):
    name = 'Tern 1/2 "fast" & <b>50 %</b>?#'
    stocked.save_rig(stocked.rigs()[0].model_copy(update={"name": name}))
    listing = client.get("/rigs").text
    assert "<b>50" not in listing
    (address,) = re.findall(r'href="(/rig/Tern[^"]+)"', listing)
    assert client.get(address).status_code == 200


def test_unknown_ones_are_a_page_that_says_so(client):
    missing = client.get("/rig/nobody")
    assert missing.status_code == 404
    assert "nobody" in missing.text
    assert client.get("/no/such/page").status_code == 404


def test_every_material_field_shows_its_unit(client):
    text = client.get("/materials/new").text
    for group in materials.NOUN.groups:
        for field in group.fields:
            assert f'name="{field.path}"' in text
            if field.unit:
                assert f">{field.unit}</span>" in text
