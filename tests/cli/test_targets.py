"""Every command that writes a file says in words where it cannot, and leaves no half."""

import shlex

import pytest
from every_command import commands, files
from ramp_case import short_ramp

from beadworth.demo import LONG_ZONE
from beadworth.demo.trials import PLA
from beadworth.store import open_bench
from beadworth.workflow import (
    Ramp,
    begin_live,
    journal_entries,
    plan_witness,
    store_witness,
)

WRITING = {
    "rig view stock.toml --out": "x.svg",
    "rig bringup program stock.toml moves --out": "x.gcode",
    "rig bringup sheet stock.toml --out": "x.html",
    "trial program {started} --out": "folder",
    "ramp program ramp.toml --rig stock.toml --out": "x.gcode",
    "ramp record 'Bench balance' --out": "x.csv",
    "ramp read trace.csv ramp.toml --rig stock.toml --out": "x.csv",
    "ramp show {weighing} --out": "x.csv",
    "print retime print.gcode --rig stock.toml --capacity readings.csv --out": "x.gcode",
    "print survey print.gcode --out": "x.csv",
    "print survey print.gcode --out rows.csv --picture": "x.svg",
    "journal photo {digest} --out": "x.jpg",
    "package export {trial} --out": "x.zip",
    "dossier publish {trial} --html --out": "folder",
    f"wear summary '{LONG_ZONE.name}' --charts": "folder",
    "witness map {sheet} --out": "x.svg",
    f"witness program '{LONG_ZONE.name}' overhang --out": "x.gcode",
    "bench backup": "x.bench",
}
"""A call up to its target, and what the target would be called."""
TARGETS = {"--out", "--picture", "--charts"}


@pytest.fixture(scope="module")
def known(demo_bench):
    with open_bench(demo_bench) as bench:
        trials = bench.trials()
        asked = {"kind": "weighed pair", "temperature_c": 215, "ceiling_mm3_s": 11.0}
        made = plan_witness(LONG_ZONE, PLA, asked)

        ramp = Ramp(short_ramp(LONG_ZONE.name, PLA.name), LONG_ZONE, PLA)
        digest = next(
            photo.sha256
            for entry in journal_entries(bench, LONG_ZONE.name)
            for photo in entry.record.photos
        )
        return {
            "trial": next(t.id for t in trials if "long melt zone" in t.question),
            "started": next(t.id for t in trials if "How far" in t.question),
            "digest": digest,
            "weighing": begin_live(bench, ramp, trial=trials[0].id).number,
            "sheet": store_witness(bench, made, LONG_ZONE, PLA, 1, 1).number,
        }


def test_the_list_holds_every_option_that_names_a_target():
    there = {
        (words, option)
        for words, command in commands().items()
        for parameter in command.params
        for option in parameter.opts
        if option in TARGETS
    }
    listed = {
        (words, call.split()[-1])
        for call in WRITING
        for words, _ in there
        if call.startswith(words + " ")
    }
    assert there == listed


@pytest.mark.parametrize("call", WRITING, ids=lambda call: " ".join(shlex.split(call)[:3]))
def test_a_target_in_no_folder_is_told(beadworth, demo_bench, known, tmp_path, monkeypatch, call):
    monkeypatch.chdir(tmp_path)
    files(tmp_path)
    (tmp_path / "file").write_text("x")
    before = sorted(path.name for path in tmp_path.iterdir())
    target = f"file/{WRITING[call]}"
    done = beadworth(*shlex.split(call.format(**known)), target, "--bench", demo_bench)
    assert done.code in (2, 7), (done.out, done.err)
    assert "file" in done.err
    left = sorted(path.name for path in tmp_path.iterdir())
    assert [name for name in left if not name.startswith("rows.csv")] == before
    assert (tmp_path / "file").read_text() == "x"
