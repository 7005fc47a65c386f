"""``beadworth worth`` from the command line: a case, the quick form, refusals, the bench."""

import json
import tomllib

import numpy as np
import pytest
from cli_support import CliRunner

from beadworth.cli import app
from beadworth.core.errors import InputError, RecordError
from beadworth.core.records import to_toml
from beadworth.demo import LONG_ZONE, STOCK
from beadworth.trial import Reading, write_readings_csv

SECTION = np.pi / 4 * 1.75**2
CEILINGS = {STOCK.name: 13.0, LONG_ZONE.name: 19.0}


def beads(flow, length_mm, count):
    section = (0.45 - 0.2) * 0.2 + np.pi / 4 * 0.2**2
    lines = ["G21", "G90", "M83", "M104 S220", "G1 X20 Y20 Z0.2 F6000"]
    for n in range(count):
        x = 20.0 + length_mm * ((n + 1) % 2)
        e = length_mm * section / SECTION
        lines.append(f"G1 X{x:.3f} E{e:.5f} F{flow / section * 60:.1f}")
    return "\n".join(lines) + "\n"


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """Two rigs, one table of readings, two prints and a case, as files side by side."""
    made = tmp_path_factory.mktemp("worth")
    rng = np.random.default_rng(5)
    rows = [
        Reading(
            rig,
            "PLA",
            t,
            float(q),
            600.0,
            1.79 * min(1.0, c / q) * (1 + 0.002 * float(rng.normal())),
        )
        for rig, top in CEILINGS.items()
        for t, c in ((210.0, top - 1.5), (220.0, top))
        for q in range(4, 26, 2)
        for _ in range(2)
    ]
    (made / "readings.csv").write_text(write_readings_csv(rows))
    (made / "stock.toml").write_text(to_toml(STOCK))
    (made / "long.toml").write_text(to_toml(LONG_ZONE))
    (made / "fast.gcode").write_text(beads(18.0, 150.0, 400))
    (made / "slow.gcode").write_text(beads(6.0, 3.0, 400))
    (made / "case.toml").write_text(
        """name = "two prints"
baseline = "stock.toml"
candidate = "long.toml"
trial = "readings.csv"
currency = "EUR"
months = 36

[[prints]]
file = "fast.gcode"
per_year = {value = 4000, low = 3000, high = 5000}

[[prints]]
file = "slow.gcode"
per_year = 500

[cost]
fitting_hours = {value = 3, low = 2, high = 5}
fitting_hour = 15.0

[time]
printer_hour = {low = 0.8, high = 1.6}

[[options]]
name = "slower and cheaper"
cost = 90.0
effects."hours saved" = {value = 1.0, evidence = "claimed"}
"""
    )
    return made


def run(*words, code=0):
    found = CliRunner().invoke(app, [str(word) for word in words])
    if found.exit_code != code and found.exception is not None and code == 0:
        raise found.exception
    return found


@pytest.fixture(scope="module")
def answered(folder):
    """What the case answers as JSON."""
    return run("worth", "compare", folder / "case.toml", "--json").stdout


def test_a_case_answers_the_fixed_points_as_json(answered):
    data = json.loads(answered)
    for name in ("hours_saved_per_year", "cost", "break_even_prints", "break_even_months"):
        part = data[name]
        assert set(part) == {"value", "low", "high"}
        assert part["low"] < part["value"] < part["high"]
    assert data["cost"]["value"] == pytest.approx(54 + 15 * 3.3, abs=5)
    assert data["simulated"] is True
    assert data["sentence"].startswith("It saves")
    assert {p["name"] for p in data["prints"]} == {"fast.gcode", "slow.gcode"}
    fast, slow = data["prints"]
    assert fast["limits_before"]["flow"] > 0.2
    assert slow["limits_before"]["flow"] == pytest.approx(0.0, abs=1e-9)
    assert slow["saved_s"]["value"] == pytest.approx(0.0, abs=1e-6)
    assert data["profiles"][0]["profile"]["name"] == "occasional"
    names = {row["name"] for row in data["options"]["rows"]}
    assert names == {"do nothing", LONG_ZONE.name, "slower and cheaper"}
    assert sum(data["options"]["weights"].values()) == pytest.approx(1.0)
    assert data["tornado"]["net"]["swings"][0]["label"]
    assert any("210 °C" in item["of"] for item in data["costs_per"])


def test_the_quick_form_needs_no_case(folder, monkeypatch):
    monkeypatch.chdir(folder)
    words = ("worth", "compare", "--baseline", "stock.toml", "--candidate", "long.toml",
             "--print", "fast.gcode=4000", "--capacity", "readings.csv")  # fmt: skip
    data = json.loads(run(*words, "--json").stdout)
    assert data["cost"] == {"value": 54.0, "low": 54.0, "high": 54.0}
    assert data["verdict"] == "no rate"
    assert data["break_even_prints"] == {"value": None, "low": None, "high": None}
    raised = json.loads(run(*words, "--json", "--raised", "--printer-hour", 1.0).stdout)
    assert raised["feeds"] == "raised"
    assert raised["break_even_prints"]["value"] > 0


def test_words_on_a_terminal_say_hours_first(folder):
    text = run("worth", "compare", folder / "case.toml").stdout
    assert text.startswith("It saves")
    for part in ("Your prints", "What matters to", "Who it is for", "Other options"):
        assert part in text
    assert "An invented case" in text


def test_a_kept_case_is_listed_shown_and_read_back(folder, answered, tmp_path):
    bench = tmp_path / "b.bench"
    kept = run("worth", "compare", folder / "case.toml", "--keep", "--bench", bench, "--json")
    assert kept.stdout == answered, "the same case answers the same to the last digit"
    listed = json.loads(run("worth", "list", "--bench", bench, "--json").stdout)["cases"]
    assert [case["name"] for case in listed] == ["two prints"]
    assert "two prints" in run("worth", "list", "--bench", bench).stdout
    shown = run("worth", "show", "two prints", "--bench", bench, "--json").stdout
    assert json.loads(shown) == json.loads(kept.stdout)
    text = run("worth", "show", "two prints", "--bench", bench, "--toml").stdout
    assert 'candidate = "long.toml"' in text
    missing = run("worth", "show", "none", "--bench", bench, code=1)
    assert "Stored here: two prints" in str(missing.exception)


def test_all_that_is_wrong_is_said_at_once(folder, tmp_path):
    (tmp_path / "bad.toml").write_text(
        (folder / "case.toml").read_text().replace("fast.gcode", "gone.gcode")
        .replace("stock.toml", str(folder / "stock.toml"))
        .replace("long.toml", str(folder / "long.toml"))
        .replace("readings.csv", str(folder / "readings.csv"))
        .replace('"EUR"', '"USD"')
    )  # fmt: skip
    found = run("worth", "compare", tmp_path / "bad.toml", code=1)
    assert isinstance(found.exception, InputError)
    said = [str(problem) for problem in found.exception.problems]
    assert len(said) == 3
    assert "priced in EUR" in said[0]
    assert "no such print file" in said[1]


@pytest.mark.parametrize(
    ("words", "kind", "said"),
    [
        (("worth", "compare"), InputError, "neither a case"),
        (("--print", "a.gcode=often"), InputError, "no number of prints"),
        (("--print", "a.gcode"), RecordError, "per_year"),
        (("--print", "a.gcode=0"), RecordError, "not above 0"),
    ],
)
def test_the_quick_form_refuses(words, kind, said):
    if words[0] != "worth":
        words = ("worth", "compare", "--baseline", "a", "--candidate", "b", *words)
    found = run(*words, code=1)
    assert isinstance(found.exception, kind)
    assert said in str(found.exception)


def test_a_rig_the_trial_did_not_weigh_is_predicted_with_its_help(folder, tmp_path):
    other = LONG_ZONE.model_copy(update={"name": "Tern, another"})
    (tmp_path / "other.toml").write_text(to_toml(other))
    case = ("worth", "compare", folder / "case.toml", "--candidate", tmp_path / "other.toml")
    found = run(*case)
    assert "Tern, another: nobody weighed it; its ceiling with PLA is predicted" in found.output
    assert "its drawing and what trial" in found.output
    # named as its own trial, it must have weighed it
    trial = tomllib.loads((folder / "case.toml").read_text())["trial"]
    found = run(*case, "--candidate-capacity", trial, code=1)
    assert "not Tern, another" in str(found.exception)
    assert "candidate_trial" in str(found.exception)


def test_profiles_are_data_to_start_from():

    data = tomllib.loads(run("worth", "profiles").stdout)
    assert len(data["profiles"]) == 5
    assert all("time" not in profile for profile in data["profiles"])
