"""What the melt model says, in the browser's pages and as JSON: predicted, never as measured."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
from cli_support import CliRunner
from few_draws import few_draws
from page_words import plain

from beadworth import demo
from beadworth.capacity.reading.calibration import measured_ceilings
from beadworth.cli import app as command
from beadworth.core.records import from_toml, parse_toml, to_mapping, to_toml
from beadworth.material.library import GENERIC, generic
from beadworth.melt import calibrate, predict
from beadworth.rig import HotEnd, Rig, upgrade
from beadworth.workflow.capacity import trial_fit
from beadworth.workflow.melt import trial_calibration

EXAMPLES = Path(__file__).resolve().parents[2] / "docs" / "examples"
STOCK = from_toml(Rig, (EXAMPLES / "rig-stilt-stock.toml").read_text(), "stock")
LONG = upgrade(STOCK, parse_toml((EXAMPLES / "upgrade-long-zone.toml").read_text(), "up"))
PARTS = ("ceilings", "inside", "shares", "nozzles", "outlet", "force", "length")


@pytest.fixture(autouse=True, scope="module")
def few():
    """A tenth of the draws, in pages and in what they are held against."""
    with few_draws():
        yield


@pytest.fixture
def stilts(bench, client):
    for rig in (STOCK, LONG):
        bench.save_rig(rig)
    return bench


@pytest.fixture(scope="module")
def demo_client(demo_copy, tmp_path_factory):
    from fastapi.testclient import TestClient

    from beadworth.store import open_bench
    from beadworth.web import create_app

    path = demo_copy(tmp_path_factory.mktemp("melt"))
    with (
        open_bench(path) as store,
        TestClient(create_app(store), base_url="http://127.0.0.1") as made,
    ):
        made.bench, made.path = store, str(path)
        made.trial = next(t.id for t in store.trials() if "long melt zone" in t.question)
        yield made


@pytest.mark.parametrize("first", [STOCK.name, LONG.name])
def test_a_rig_stands_beside_its_parent_or_its_upgrade_the_stock_one_first(client, stilts, first):
    text = client.get("/melt", params={"rig": first, "temperature": "220"}).text
    heads = re.findall(r"<h2>(Stilt[^<]*)</h2>", text)
    assert heads == [STOCK.name, LONG.name]
    expected = predict(STOCK, generic("PLA"), 220.0)
    said = plain(text)
    assert f"{expected.ceiling_mm3_s:.1f} mm³/s" in said
    assert f"{expected.low:.1f} to {expected.high:.1f} (95 %)" in said
    assert "predicted, not measured" in said
    assert "Stay under what hot end" in said


@pytest.mark.parametrize("part", PARTS)
@pytest.mark.parametrize("fragment", [True, False])
def test_every_answer_comes_alone_or_in_the_page(client, stilts, part, fragment):
    headers = {"hx-request": "true"} if fragment else {}
    asked = {"rig": STOCK.name, "temperature": "220"}
    got = client.get(f"/melt/{part}", params=asked, headers=headers)
    assert got.status_code == 200
    assert ("<html" in got.text) != fragment
    assert "Predicted, not measured." in got.text
    assert got.text.count('class="chart ') == 2


def test_a_melt_of_unknown_viscosity_is_assumed_and_said_with_what_to_do(client, stilts):
    asked = {"rig": STOCK.name, "material": "PETG", "temperature": "240"}
    assert GENERIC["PETG"].rheology is None
    text = client.get("/melt/force", params=asked).text
    assert "a usual melt stands in, within a factor 5" in text
    assert "/melt/flow-rate" in text


def test_nothing_is_drawn_above_what_a_hot_end_is_made_for(client, stilts):
    low = STOCK.model_copy(
        update={"hot_end": STOCK.hot_end.model_copy(update={"temperature_limit_c": 215.0})}
    )
    stilts.save_rig(low)
    asked = {"rig": low.name, "other": "-", "temperature": "210"}
    text = client.get("/melt/ceilings", params=asked).text
    assert '<td class="n">210</td>' in text
    assert '<td class="n">220</td>' not in text
    beyond = client.get("/melt", params=asked | {"temperature": "230"}).text
    assert "never one to set" in beyond


def test_what_the_records_do_not_hold_is_asked_for_with_a_way_to_enter_it(client, bench):
    bench.save_rig(Rig(name="Wren", hot_end=HotEnd(nozzle_mm=0.6)))
    refused = client.get("/melt", params={"rig": "Wren"})
    assert refused.status_code == 422
    for word in ("hot_end.melt_zone_mm", "hot_end.bore_mm", "/rig-edit?rig=Wren"):
        assert word in refused.text


@pytest.mark.parametrize("typed", ["hot", "20", "2200", "-5"])
def test_a_temperature_the_polymer_never_sees_is_refused(client, stilts, typed):
    refused = client.get("/melt", params={"rig": STOCK.name, "temperature": typed})
    assert refused.status_code == 422
    assert "temperature, °C" in refused.text


def test_unknown_names_are_not_found(client, stilts):
    assert client.get("/melt", params={"rig": "Wren"}).status_code == 404
    assert client.get("/melt/tarot", params={"rig": STOCK.name}).status_code == 404
    asked = {"rig": STOCK.name, "material": "toffee"}
    assert client.get("/melt", params=asked).status_code == 404


def test_a_trial_calibrates_and_its_ceilings_are_drawn_over(demo_client):
    asked = {"rig": demo.STOCK.name, "temperature": "220", "trial": demo_client.trial,
             "material": demo.PLA.name}  # fmt: skip
    page = plain(demo_client.get("/melt", params=asked).text)
    points = measured_ceilings(
        trial_fit(demo_client.bench.snapshot(demo_client.trial)), demo.STOCK.name
    )
    scales = calibrate(demo.STOCK, demo.PLA, points)
    assert f"the core warms {scales.heat_factor:.2f} times as fast" in page
    assert "only what it says of the polymer holds; length" in page, "the long zone's"
    expected = predict(demo.STOCK, demo.PLA, 220.0, scales=scales)
    assert f"{expected.low:.1f} to {expected.high:.1f} (95 %)" in page
    part = demo_client.get("/melt/ceilings", params=asked).text
    assert "measured ceilings of the trial" in part
    measured = next(p for p in points if p.temperature_c == 220.0)
    row = re.search(
        r"<tr><th scope=\"row\">Tern, stock[^/]*</th><td class=\"n\">220</td>.*?</tr>", part
    )
    assert f"{measured.flow_mm3_s:.1f}" in row[0].rsplit("<td", 1)[1]


def test_a_trial_of_another_polymer_is_calibrated_with_its_own(demo_client):
    """The stock hot end carries over to generic PLA; the trial's filament does not stand in."""
    asked = {"rig": demo.STOCK.name, "other": "-", "temperature": "220",
             "trial": demo_client.trial}  # fmt: skip
    page = plain(demo_client.get("/melt", params=asked).text)
    assert "Calibrated with the ceilings of PLA, chalk white on Tern, stock" in page
    assert "only what it says of hot end and drive holds for PLA, and little of it" in page
    points = measured_ceilings(
        trial_fit(demo_client.bench.snapshot(demo_client.trial)), demo.STOCK.name
    )
    own = calibrate(demo.STOCK, demo.PLA, points)
    expected = predict(demo.STOCK, generic("PLA"), 220.0, scales=own)
    assert f"{expected.low:.1f} to {expected.high:.1f} (95 %)" in page


def test_a_trial_of_other_rigs_and_polymers_teaches_the_drive_at_most_and_says_so(demo_client):
    demo_client.bench.save_rig(STOCK)
    asked = {"rig": STOCK.name, "other": "-", "temperature": "220", "trial": demo_client.trial}
    page = plain(demo_client.get("/melt", params=asked).text)
    assert f"for PLA on {STOCK.name} nothing of it holds" in page
    points = measured_ceilings(
        trial_fit(demo_client.bench.snapshot(demo_client.trial)), demo.STOCK.name
    )
    own = calibrate(demo.STOCK, demo.PLA, points)
    expected = predict(STOCK, generic("PLA"), 220.0, scales=own)
    low, high = map(float, re.search(r"([\d.]+) to ([\d.]+) \(95 %\)", page).groups())
    assert (low, high) == pytest.approx((expected.low, expected.high), rel=0.01)  # as printed
    untaught = predict(STOCK, generic("PLA"), 220.0)
    assert (low, high) != pytest.approx((untaught.low, untaught.high), rel=0.01)


def test_a_melt_flow_rate_becomes_a_viscosity_and_a_record(client):
    empty = client.get("/melt/flow-rate")
    assert empty.status_code == 200
    assert 'value="2.16"' in empty.text
    asked = {"mfr": "6", "load": "2,16", "temperature": "210", "density": "1.08", "index": "0.4"}
    said = plain(client.get("/melt/flow-rate", params=asked).text)
    # ISO 1133-1 die, apparent: τw 19.4 kPa over γ̇ 10.3 1/s
    assert "1888 Pa·s" in said
    assert "10.3 1/s" in said
    assert "19.4 kPa" in said
    assert "consistency_pa_sn" in said
    refused = client.get("/melt/flow-rate", params=asked | {"mfr": "", "index": "3"})
    assert refused.status_code == 422
    said = plain(refused.text)
    assert "Melt-flow rate : This is needed." in said
    assert "Flow index n : 3.0 is above 1." in said


def test_the_api_says_what_the_command_says(client, stilts, tmp_path):
    file = tmp_path / "rig.toml"
    file.write_text(to_toml(STOCK))
    said = CliRunner().invoke(
        command, ["melt", "predict", str(file), "--material", "PLA", "--temperature", "220",
                  "--json"],
    )  # fmt: skip
    body = {"material": "PLA", "temperatures_c": [220.0]}
    by_name = client.post("/api/melt/predict", json=body | {"rig": STOCK.name})
    by_record = client.post("/api/melt/predict", json=body | {"rig": to_mapping(STOCK)})
    assert by_name.status_code == 200, by_name.text
    assert by_name.json() == by_record.json()
    (made,) = by_name.json()["predictions"]
    assert made == json.loads(said.stdout)
    assert {"ceiling_mm3_s", "low", "high", "limited_by", "force_n", "power_w", "outlet_core_c",
            "outlet_mean_c", "pressure_mpa"} <= set(made)  # fmt: skip


def test_the_api_refuses_in_the_one_shape(client, stilts, refusal):
    body = {"rig": STOCK.name, "material": "PLA", "temperatures_c": [220.0]}

    def post(**changed):
        return client.post("/api/melt/predict", json=body | changed)

    refusal(post(rig="Wren"), 404, "not-found")
    refusal(post(temperatures_c=[]), 422, "record", mentions=("temperatures_c",))
    refusal(post(temperatures_c=["hot"]), 422, "record")
    bare = {"name": "Wren"}
    refusal(post(rig=bare), 422, "input", mentions=("melt_zone_mm", "bore_mm"))
    refusal(post(calibrate_with="none-1"), 404, "not-found")


def test_both_doors_calibrate_alike(demo_client, tmp_path):
    """The trial's own rig teaches, and another one, in a file, is predicted."""
    longer = demo.LONG_ZONE.model_copy(
        update={"name": "Tern, 30 mm",
                "hot_end": demo.LONG_ZONE.hot_end.model_copy(update={"melt_zone_mm": 30.0})}
    )  # fmt: skip
    file = tmp_path / "longer.toml"
    file.write_text(to_toml(longer))
    run = CliRunner().invoke(
        command, ["melt", "predict", str(file), "--material", demo.PLA.name, "--temperature",
                  "220", "--calibrate-with", demo_client.trial, "--bench",
                  demo_client.path, "--json"],
    )  # fmt: skip
    body = {"material": demo.PLA.name, "temperatures_c": [220.0], "rig": to_mapping(longer),
            "calibrate_with": demo_client.trial}  # fmt: skip
    (made,) = demo_client.post("/api/melt/predict", json=body).json()["predictions"]
    assert made == json.loads(run.stdout)
    fit = trial_fit(demo_client.bench.snapshot(demo_client.trial))
    assert (
        trial_calibration(demo_client.bench, fit, (longer,), demo.PLA, "t").material
        == demo.PLA.name
    )
    uncalibrated = predict(longer, demo.PLA, 220.0)
    assert made["high"] / made["low"] < uncalibrated.high / uncalibrated.low
