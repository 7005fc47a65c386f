"""``beadworth rig fit``, ``view`` and ``bringup``: JSON as promised, refusals in words."""

import json
import tomllib
import xml.etree.ElementTree as ET
from pathlib import Path

import numpy as np
import pytest
from cli_support import CliRunner

from beadworth.bringup.heater_model import simulate
from beadworth.cli import app
from beadworth.core.errors import (
    BeadworthError,
    InputError,
    LimitError,
    NotFoundError,
    RecordError,
)

EXAMPLES = Path(__file__).resolve().parents[2] / "docs" / "examples"
STILT = str(EXAMPLES / "rig-stilt-stock.toml")
LONG_ZONE = str(EXAMPLES / "upgrade-long-zone.toml")
FIELDS = {"name", "value", "unit", "limit", "margin", "verdict", "why"}


@pytest.fixture
def run(tmp_path):
    def call(*arguments, bench=True):
        extra = ["--bench", str(tmp_path / "b.bench")] if bench else []
        result = CliRunner().invoke(app, ["rig", *arguments, *extra], catch_exceptions=True)
        if isinstance(result.exception, BeadworthError):
            raise result.exception
        assert result.exit_code == 0, result.output
        return result.output

    return call


def test_fit_answers_the_promised_json(run):
    answer = json.loads(run("fit", STILT, LONG_ZONE, "--material", "PLA", "--temperature", "220",
                            "--flow", "12", "--json"))  # fmt: skip
    assert answer["parent"] == "Stilt, stock"
    assert {"path": "hot_end.melt_zone_mm", "before": 12.5, "after": 20.0} in answer["changed"]
    assert len(answer["checks"]) > 25
    for check in answer["checks"]:
        assert set(check) >= FIELDS
        assert check["verdict"] in ("fits", "look closer", "does not fit", "measure this")


def test_fit_takes_names_on_the_bench(run, tmp_path):
    child = tmp_path / "child.toml"
    text = Path(STILT).read_text().replace('name = "Stilt, stock"', 'name = "Child"')
    child.write_text(text.replace("heater_w = 40.0", "heater_w = 50.0"))
    run("add", STILT, str(child))
    answer = json.loads(run("fit", "Stilt, stock", "Child", "--json"))
    assert answer["changed"] == [{"path": "hot_end.heater_w", "before": 40.0, "after": 50.0}]


def test_fit_in_words_shows_reasons_and_cautions(run):
    words = run("fit", STILT, LONG_ZONE)
    assert "z holds unpowered: does not fit (Stilt, stock has it too)." in words
    assert "local codes" in words


def test_a_rig_that_says_almost_nothing_is_enough(run, tmp_path):
    one, two = tmp_path / "a.toml", tmp_path / "b.toml"
    one.write_text('name = "A"\n')
    two.write_text("[hot_end]\nnozzle_mm = 0.6\n")
    answer = json.loads(run("fit", str(one), str(two), "--json"))
    assert any(check["verdict"] == "measure this" for check in answer["checks"])


@pytest.mark.parametrize(
    ("text", "where", "seen"),
    [
        ('[hot_end]\nheater_w = "60 W"\n', "hot_end.heater_w", "60 W"),
        ("mass_g = -5.0\n", "mass_g", "-5"),
        ("[hot_end]\nnozzle_mm = 2.5\n", "hot_end.nozzle_mm", "2.5"),
        ("[[mounting.part.holes]]\nx_mm = 1.0\ny_mm = 2.0\n", "holes.0.diameter_mm", "missing"),
    ],
)
def test_bad_upgrades_are_refused_with_field_value_and_remedy(run, tmp_path, text, where, seen):
    file = tmp_path / "up.toml"
    file.write_text(text)
    with pytest.raises(RecordError) as caught:
        run("fit", STILT, str(file))
    (problem,) = caught.value.problems
    assert where in problem.where
    assert "up.toml" in problem.where
    assert seen in problem.what
    assert problem.remedy


def test_unknown_names_and_materials(run):
    with pytest.raises(NotFoundError):
        run("fit", "Nobody", LONG_ZONE)


def test_view_writes_a_picture(run, tmp_path):
    out = tmp_path / "stack.svg"
    answer = json.loads(run("view", STILT, "--out", str(out), "--json"))
    assert "46 mm below" in answer["description"]
    assert ET.parse(out).getroot().tag.endswith("svg")


def test_bring_up_from_readings_to_record(run):
    run("add", STILT)
    name = "Stilt, stock"
    keep = ["--keep", "--json"]
    moved = [f"{c}={1.01 * c:.2f}" for c in (30, 75, 120, 200)]
    x = json.loads(run("bringup", "moves", name, *moved, "--axis", "x", *keep))
    assert x["scale_significant"]
    run("bringup", "moves", name, "30=30", "150=150", "--axis", "y", *keep)
    feed = json.loads(run("bringup", "feed", name, *(w for n in ("97.0", "97.1", "97.2")
                          for w in ("--marks", f"100={n}")), *keep))  # fmt: skip
    assert feed["steps_per_mm"] == pytest.approx(418.6 / 0.971, rel=1e-6)
    square = json.loads(run("bringup", "square", name, "--sides", "176=176", "--diagonals",
                            "249=249", "--json"))  # fmt: skip
    assert square["angle_deg"] == pytest.approx(90)
    told = json.loads(run("bringup", "results", name, "--json"))["results"]
    assert ["feed" in one["result"] for one in told] == [True, False, False], "newest first"
    assert told[0]["given"]["marks"][0] == "100=97.0"
    words = " ".join(run("bringup", "results", name).split())
    assert "Extruder feed" in words
    assert "Moves of x" in words

    only = json.loads(run("bringup", "apply", name, "--number", str(told[0]["number"]), "--json"))
    assert only["axes"]["x"]["steps_per_mm"] == 80
    assert only["known"]["extruder.steps_per_mm"]["origin"] == "measured"
    rig = json.loads(run("bringup", "apply", name, "--json"))
    assert rig["axes"]["x"]["steps_per_mm"] == pytest.approx(80 / 1.01, rel=1e-3)
    assert rig["axes"]["y"]["steps_per_mm"] == 80
    assert json.loads(run("show", name, "--json")) == rig, "the bench holds the next version"


def test_moves_of_a_rig_without_steps_say_how_to_give_them(run, tmp_path):
    file = tmp_path / "plain.toml"
    file.write_text("[hot_end]\nnozzle_mm = 0.4\n")
    asked = ("bringup", "moves", str(file), "30=30.1", "75=75.2", "150=150.3", "--axis", "x")
    with pytest.raises(InputError) as told:
        run(*asked)
    (problem,) = told.value.problems
    assert (
        problem.remedy == "Enter axes.x.steps_per_mm in the rig's record. Or give --steps-per-mm."
    )
    assert "80 steps/mm" in run(*asked, "--steps-per-mm", "80")


def test_of_a_measurement_taken_twice_the_newest_counts_and_a_file_is_left_alone(run):
    run("add", STILT)
    before = Path(STILT).read_text()
    for share in (1.02, 1.01):
        moved = [f"{c}={share * c:.2f}" for c in (30, 75, 120, 200)]
        run("bringup", "moves", STILT, *moved, "--axis", "x", "--keep")
    printed = tomllib.loads(run("bringup", "apply", STILT))
    assert printed["axes"]["x"]["steps_per_mm"] == pytest.approx(80 / 1.01, rel=1e-3)
    assert Path(STILT).read_text() == before
    on_bench = json.loads(run("show", "Stilt, stock", "--json"))
    assert on_bench["axes"]["x"]["steps_per_mm"] == 80


def test_results_need_their_rig_on_the_bench(run):
    with pytest.raises(NotFoundError, match="Stilt"):
        run("bringup", "moves", STILT, "30=30", "150=150", "--axis", "y", "--keep")
    run("add", STILT)
    assert "Nothing recorded" in run("bringup", "results", "Stilt, stock")
    with pytest.raises(NotFoundError, match="no bring-up"):
        run("bringup", "apply", "Stilt, stock")
    with pytest.raises(NotFoundError, match="number 7"):
        run("bringup", "apply", "Stilt, stock", "--number", "7")


def test_the_sheet_of_a_rig_on_the_bench_ends_with_what_was_found(run, tmp_path):
    run("add", STILT)
    run("bringup", "square", "Stilt, stock", "--sides", "176=176", "--diagonals", "249.6=248.1",
        "--keep")  # fmt: skip
    out = tmp_path / "sheet.html"
    run("bringup", "sheet", "Stilt, stock", "--out", str(out))
    assert "Recorded for the rig so far" in out.read_text()
    assert "y leans 0.60 mm" in out.read_text()


def test_heater_log_gives_model_loss_warming_and_gains(run, tmp_path):
    time = np.arange(0, 1500.0)
    duty = np.where(time < 20, 0.0, np.where(time < 110, 1.0, 0.30))
    # 32 g of aluminium: 28.8 J/K; 40 W over 0.07 W/K is a gain of 571 K
    seen = simulate(time, duty, gain_k=40 / 0.07, time_constant_s=28.8 / 0.07, dead_time_s=4.0,
                    room_c=22.0)  # fmt: skip
    seen += np.random.default_rng(3).normal(0, 0.2, time.size)
    log = tmp_path / "log.csv"
    log.write_text("time_s,temperature_c,duty\n" + "".join(
        f"{t:g},{c:.2f},{d:g}\n" for t, c, d in zip(time, seen, duty, strict=True)))  # fmt: skip
    answer = json.loads(run("bringup", "heater", STILT, str(log), "--full-output", "255", "--json"))
    assert answer["heater"]["dead_time_s"] == pytest.approx(4.0, abs=0.5)
    assert answer["loss"]["loss_w_k"] == pytest.approx(0.07, rel=0.05)
    assert answer["heat_up"]["verdict"] == "fits"
    for gains in answer["gains"]:
        assert gains["p_per_k"] == pytest.approx(255 * gains["kc_per_k"])
    assert answer["not_done"] == []


@pytest.mark.parametrize("kind", ["moves", "feed", "square", "heater"])
def test_programs_are_written_with_their_cautions(run, tmp_path, kind):
    out = tmp_path / "p.gcode"
    answer = json.loads(run("bringup", "program", STILT, kind, "--out", str(out), "--json"))
    assert answer["cautions"]
    assert out.read_text().startswith("G21\n")


def test_a_program_beyond_the_limits_is_not_written(run, tmp_path):
    out = tmp_path / "p.gcode"
    with pytest.raises(LimitError):
        run("bringup", "program", STILT, "heater", "--temperature", "300", "--out", str(out))
    assert not out.exists()


def test_steps_and_sheet(run, tmp_path):
    answer = json.loads(run("bringup", "steps", STILT, "--json"))
    assert [s["steps_per_mm"] for s in answer["steps"]][:3] == [80, 80, 400]
    out = tmp_path / "sheet.html"
    run("bringup", "sheet", STILT, "--out", str(out))
    assert 'type="checkbox"' in out.read_text()


def test_readings_that_are_none_are_all_named(run):
    with pytest.raises(BeadworthError) as caught:
        run("bringup", "moves", STILT, "30", "a=b", "50=50.1", "--axis", "x")
    assert [p.value for p in caught.value.problems] == ["30", "a=b"]


def test_a_rig_without_a_name_is_called_after_its_file(run, tmp_path):
    """A file needs only what the command uses; the bench wants a name."""
    file = tmp_path / "small.toml"
    file.write_text("[hot_end]\nmelt_zone_mm = 20.0\nbore_mm = 2.0\n")
    asked = ["melt", "predict", str(file), "--material", "PLA", "--temperature", "220", "--json"]
    answer = json.loads(CliRunner().invoke(app, asked).output)
    assert answer["rig"] == "small"
    assert answer["at_loss_mm3_s"] == pytest.approx(14.5, abs=0.5)
    assert "no permission" in CliRunner().invoke(app, asked[:-1]).output
    with pytest.raises(RecordError, match="Add name"):
        run("add", str(file))


def melt_flow(*arguments):
    result = CliRunner().invoke(app, ["melt", "flow-rate", *arguments], catch_exceptions=True)
    if isinstance(result.exception, BeadworthError):
        raise result.exception
    assert result.exit_code == 0, result.output
    return result.output


def test_a_melt_flow_rate_becomes_a_viscosity():
    """ISO 1133-1 die, check values section 4 (CALC): 6 g/10 min at 1080 kg/m³ on 2.16 kg."""
    asked = ["--mfr", "6", "--temperature", "210"]
    answer = json.loads(melt_flow(*asked, "--json"))
    assert answer["viscosity_pa_s"] == pytest.approx(1887.50, rel=1e-3)
    assert answer["rate_1_s"] == pytest.approx(10.2571, rel=1e-4)
    record = tomllib.loads(melt_flow(*asked).partition("[rheology]")[2])
    assert record["consistency_pa_sn"] == pytest.approx(answer["rheology"]["consistency_pa_sn"])
    with pytest.raises(BeadworthError) as caught:
        melt_flow("--mfr", "-6", "--temperature", "210", "--index", "3")
    assert [p.path.field for p in caught.value.problems] == [("mfr",), ("index",)]
