"""``beadworth dossier publish``: licence, whom to cite and what is shown in its data package."""

import json

import pytest
from typer.main import get_command

from beadworth.cli import dossier, package
from beadworth.datapackage import read_package
from beadworth.demo import FINISHED
from beadworth.store import open_bench


@pytest.fixture
def run(beadworth, demo_bench, monkeypatch, tmp_path):
    monkeypatch.setenv("BEADWORTH_BENCH", str(demo_bench))
    monkeypatch.chdir(tmp_path)
    with open_bench(demo_bench) as bench:
        trial = next(t.id for t in bench.trials() if t.question == FINISHED.question)

    def call(*arguments):
        return beadworth("dossier", "publish", trial, *arguments)

    call.trial, call.folder = trial, tmp_path
    return call


def contents_in(folder):
    return read_package({file.name: file.read_bytes() for file in folder.iterdir()})


def test_the_package_has_the_licence_and_creator_asked_for_and_shows_what_was_asked_for(run):
    for out in ("plain", "chosen"):
        chosen = ("--licence", "CC0-1.0", "--creator", "Saltmarsh shed", "--no-notes",
                  "--no-prices") if out == "chosen" else ()  # fmt: skip
        code, _, told = run("--out", out, "--package", *chosen)
        assert code == 0, told
    plain, chosen = (contents_in(run.folder / o / f"{run.trial}-data") for o in ("plain", "chosen"))
    assert (plain.licence, plain.creator) == ("CC-BY-4.0", "")
    assert (chosen.licence, chosen.creator) == ("CC0-1.0", "Saltmarsh shed")
    assert any(rig.price for rig in plain.rigs)
    assert not any(rig.price or rig.currency for rig in chosen.rigs)
    said = [[e.reading.note or e.reason for e in c.entries] for c in (plain, chosen)]
    assert any(said[0])
    assert not any(said[1])


def test_an_unknown_licence_is_refused_before_anything_is_written(run):
    code, said, told = run("--out", "none", "--html", "--package", "--licence", "mine", "--json")
    assert code == 2
    assert json.loads(said)["error"]["problems"][0]["value"] == "mine"
    assert "no licence 'mine' is known here." in told
    assert not (run.folder / "none").exists()


@pytest.mark.parametrize("option", [["--licence", "CC0-1.0"], ["--creator", "x"]])
def test_options_of_a_package_nobody_asked_for_are_refused(option, run):
    code, _, told = run("--out", "none", "--html", *option)
    assert code == 2
    assert "Add --package" in told
    assert not (run.folder / "none").exists()


def test_the_options_are_those_of_package_export_word_for_word():
    def told(app, name):
        found = get_command(app)
        command = found.commands[name]
        return {p.name: (p.opts, p.secondary_opts, p.help) for p in command.params}

    publish, export = told(dossier.app, "publish"), told(package.app, "export")
    for name in ("licence", "creator", "notes", "prices"):
        assert publish[name] == export[name], name


def test_a_table_of_readings_says_beside_itself_what_looks_private(
    beadworth, monkeypatch, tmp_path
):
    monkeypatch.setenv("BEADWORTH_BENCH", str(tmp_path / "own.bench"))
    file = tmp_path / "readings.csv"
    row = "Tern,PLA,220,{},600,1.78,A{:02d},{}"
    rows = [row.format(flow, n, "C:\\jo\\a.csv" if n == 2 else "5/6 mm³/s")
            for n, flow in enumerate((4, 10, 16), 1)]  # fmt: skip
    head = "rig,material,temperature_c,flow_mm3_s,filament_mm,mass_g,coupon,note"
    file.write_text("\n".join([head, *rows]), encoding="utf-8")
    code, said, told = beadworth("trial", "import", file, "--question", "How far?", "--json")
    assert code == 0, told
    code, table, beside = beadworth("trial", "export", json.loads(said)["trial"])
    assert code == 0
    assert "C:\\jo\\a.csv" in table
    assert "looks like" not in table
    assert beside.splitlines() == [
        "Look at this before you publish; only you can say whether it may go out:",
        "  C:\\jo\\a.csv looks like a path of a computer: note of coupon A02.",
    ]
