"""``beadworth print survey`` from the command line: table, bench, resume, the progress line."""

import json

import lazy_loader
import pytest
from cli_support import CliRunner
from replay_support import RIG, make_fit, straight

from beadworth.capacity import fit_to_json
from beadworth.cli import app
from beadworth.cli.rate import RateColumn
from beadworth.core.records import to_toml
from beadworth.store import open_bench
from beadworth.workflow.survey_notes import surveys

polars = lazy_loader.load("polars")  # loaded by who runs these tests


@pytest.fixture
def asked(tmp_path):
    prints = tmp_path / "prints"
    prints.mkdir()
    for number in range(3):
        (prints / f"p{number}.gcode").write_text(straight(4.0 + 10 * number, count=5))
    (prints / "cut.gcode.gz").write_bytes(b"\x1f\x8b\x08\x00broken")
    (tmp_path / "rig.toml").write_text(to_toml(RIG))
    (tmp_path / "fit.json").write_text(json.dumps(fit_to_json(make_fit())))
    return ["print", "survey", str(prints), "--rig", str(tmp_path / "rig.toml"),
            "--capacity", str(tmp_path / "fit.json"), "--out", str(tmp_path / "t.parquet"),
            "--bench", str(tmp_path / "b.bench")]  # fmt: skip


def test_a_survey_lands_in_table_and_bench_and_resumes(asked, tmp_path):
    done = CliRunner().invoke(app, [*asked, "--json"])
    assert done.exit_code == 0, done.output
    said = json.loads(done.stdout)
    assert (said["prints"], said["resumed"]) == (4, 0)
    assert polars.read_parquet(tmp_path / "t.parquet").height == 4
    with open_bench(tmp_path / "b.bench") as bench:
        (held,) = surveys(bench)
    assert (len(held.rows), held.rig) == (4, RIG.name)
    assert sum(bool(row["sustained"]) for row in held.rows) == 1
    assert (said["broken"], said["summary"]["over"]) == (1, 1)
    assert said["sentence"].startswith("1 of 3 prints in ")
    assert [one["file"].rpartition("/")[2] for one in said["summary"]["worst"]] == ["p2.gcode"]
    table = polars.read_parquet(tmp_path / "t.parquet")
    assert (table["missing_mm3"] > 0).sum() == 1
    picture = tmp_path / "worst.svg"
    again = CliRunner().invoke(app, [*asked, "--picture", str(picture)])
    assert "The worst prints" in again.stdout
    assert "p2.gcode" in picture.read_text()
    assert "4 prints, 4 of them known before" in again.stdout


def test_a_cluster_that_does_not_answer_is_told(asked, monkeypatch):
    from beadworth.workflow import survey_cluster

    monkeypatch.setattr(survey_cluster, "PATIENCE_S", 1)
    done = CliRunner().invoke(app, [*asked, "--cluster", "tcp://127.0.0.1:9"])
    assert done.exit_code != 0
    assert "no scheduler answers" in done.output + str(done.exception)


def test_the_progress_line_tells_count_rate_and_time_left():
    from rich.console import Console
    from rich.progress import Progress, TimeRemainingColumn

    clock = iter(range(1000))
    console = Console(width=120)
    columns = (RateColumn("prints"), TimeRemainingColumn())
    bar = Progress(*columns, console=console, get_time=lambda: float(next(clock)))
    task = bar.add_task("x", total=None)
    for count in range(1, 6):
        bar.update(task, completed=10 * count, total=400)
    with console.capture() as captured:
        console.print(bar.make_tasks_table(bar.tasks))
    said = captured.get()
    assert "50 of 400 prints" in said
    assert "a minute" in said
    assert "0:0" in said  # the time left


def test_a_table_that_ends_in_csv_needs_no_extra_package(asked, tmp_path, monkeypatch):
    import sys

    monkeypatch.setitem(sys.modules, "pyarrow", None)
    monkeypatch.setitem(sys.modules, "pyarrow.parquet", None)
    refused = CliRunner().invoke(app, asked)
    assert "or name a table that ends in .csv" in refused.output + str(refused.exception)
    words = [str(tmp_path / "t.csv") if word.endswith("t.parquet") else word for word in asked]
    prints = tmp_path / "prints"
    broken = (prints / "cut.gcode.gz").rename(tmp_path / "cut.gcode.gz")
    for name in ("p1.gcode", "p2.gcode"):
        (prints / name).unlink()
    for known in (0, 1):  # one print at a time is replayed here, without workers
        done = CliRunner().invoke(app, words)
        assert done.exit_code == 0, done.output
        table = polars.read_csv(tmp_path / "t.csv")
        assert table.height == 1 + known
        assert table["problem"].is_null().sum() == 1
        if not known:
            broken.rename(prints / broken.name)
