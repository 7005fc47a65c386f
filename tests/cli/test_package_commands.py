"""``beadworth package``: out, in, listed, compared; refusals with words and exit code 2."""

import json

import pytest

from beadworth.demo import FINISHED
from beadworth.store import open_bench


@pytest.fixture
def run(beadworth, demo_bench, monkeypatch, tmp_path):
    monkeypatch.setenv("BEADWORTH_BENCH", str(demo_bench))
    monkeypatch.chdir(tmp_path)
    with open_bench(demo_bench) as bench:
        trial = next(t.id for t in bench.trials() if t.question == FINISHED.question)

    def call(*arguments):
        return beadworth("package", *arguments)

    call.trial, call.folder = trial, tmp_path
    return call


@pytest.mark.parametrize("name", ["out", "out.zip"])
def test_out_and_in_again(run, name):
    code, said, _ = run("export", run.trial, "--out", name, "--licence", "CC0-1.0")
    assert code == 0, said
    code, said, _ = run("import", name, "--json")
    assert code == 0
    row = json.loads(said)
    assert (row["licence"], row["coupons"], row["simulated"]) == ("CC0-1.0", 66, True)
    code, said, _ = run("list", "--json")
    assert [p["package"] for p in json.loads(said)["packages"]] == [row["package"]]
    code, said, _ = run("list")
    assert row["package"] in said

    code, said, _ = run("compare", run.trial, row["package"], "--json")
    found = json.loads(said)
    assert found["candidate"] == "Tern, long melt zone"
    assert found["baseline"] == f"Tern, long melt zone (package {row['package']})"
    assert len(found["differences"]) == 3
    code, said, _ = run("compare", run.trial, row["package"], "--package-rig",
                        "Tern, stock hot end")  # fmt: skip
    assert "The candidate delivers more at all 3 common temperatures." in said

    again = f"again-{name}"
    assert run("export", row["package"], "--out", again)[0] == 0
    first, second = run.folder / name, run.folder / again
    if first.is_dir():
        assert {p.name: p.read_bytes() for p in first.iterdir()} == {
            p.name: p.read_bytes() for p in second.iterdir()
        }
    else:
        assert first.read_bytes() == second.read_bytes()


def test_a_spoilt_package_is_refused_with_every_reason_and_nothing_kept(run):
    run("export", run.trial, "--out", "spoilt")
    before = run("list", "--json")[1]
    readings = run.folder / "spoilt" / "readings.csv"
    readings.write_bytes(readings.read_bytes()[:-9])
    (run.folder / "spoilt" / "rigs.json").unlink()
    code, said, told = run("import", "spoilt", "--json")
    assert code == 2
    error = json.loads(said)["error"]
    assert error["kind"] == "package"
    assert len(error["problems"]) == 3
    assert "spoilt, readings.csv: its SHA-256 is not the one" in told
    assert "spoilt, rigs.json: the file is missing." in told
    assert run("list", "--json")[1] == before


def test_an_unknown_package_names_the_command_that_brings_one(run):
    code, _, told = run("compare", run.trial, "0000")
    assert code == 5
    assert "package" in told


def test_typical_says_when_it_cannot_tell_and_where_its_figures_come_from(run):
    code, said, _ = run("typical", run.trial)
    assert code == 0
    assert "no other trial of this class is here, 3 are needed." in said
    assert "ceiling 14.5 mm³/s (common practice, no source; a 20 mm melt zone)." in said
    found = json.loads(run("typical", run.trial, "--json")[1])
    assert all(pool["pooled"] is None for pool in found["pools"])
