"""Many prints: broken ones are rows, reruns go on, a killed worker loses nothing."""

import os
import signal
import subprocess
import sys
from pathlib import Path

import polars
import pytest

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "replay"))
from replay_support import RIG, make_fit, straight

from beadworth.bench.survey import find_prints, run_survey
from beadworth.errors import InputError


@pytest.fixture
def folder(tmp_path):
    made = tmp_path / "prints"
    made.mkdir()
    for number in range(12):
        (made / f"p{number:02d}.gcode").write_text(straight(4.0 + number, count=5 + number))
    (made / "cut.gcode.gz").write_bytes(b"\x1f\x8b\x08\x00broken")
    (made / "notes.txt").write_text("not a print")
    return made


def test_every_print_is_a_row_and_a_broken_one_says_why(folder, tmp_path):
    out = tmp_path / "t.parquet"
    done = run_survey([folder], out, RIG, make_fit(), workers=1)
    table = polars.read_parquet(out)
    assert done == {"prints": 13, "resumed": 0, "broken": done["broken"], "out": str(out)}
    assert table.height == 13
    by_name = {Path(row["file"]).name: row for row in table.iter_rows(named=True)}
    assert by_name["p11.gcode"]["sustained"] >= 1
    assert by_name["p00.gcode"]["over_ceiling_s"] == 0
    cut = by_name["cut.gcode.gz"]
    assert cut["problem"] or cut["problems"]


def test_a_rerun_replays_only_what_is_new(folder, tmp_path):
    out = tmp_path / "t.parquet"
    run_survey([folder], out, RIG, None, workers=1)
    (folder / "new.gcode").write_text(straight(5.0))
    (folder / "p00.gcode").write_text(straight(6.0))
    done = run_survey([folder], out, RIG, None, workers=1)
    assert (done["prints"], done["resumed"]) == (14, 12)


def test_a_torn_journal_is_taken_up(folder, tmp_path):
    out = tmp_path / "t.parquet"
    run_survey([folder], out, RIG, None, workers=1)
    journal = tmp_path / "t.parquet.rows"
    data = journal.read_bytes()
    journal.write_bytes(data[: len(data) * 2 // 3])
    done = run_survey([folder], out, RIG, None, workers=1)
    assert done["prints"] == 13
    assert 0 < done["resumed"] < 13
    again = run_survey([folder], out, RIG, None, workers=1)
    assert again["resumed"] == 13


def test_another_rig_does_not_mix_in(folder, tmp_path):
    out = tmp_path / "t.parquet"
    run_survey([folder], out, RIG, None, workers=1)
    with pytest.raises(InputError, match="another rig or capacity"):
        run_survey([folder], out, RIG.model_copy(update={"name": "other"}), None, workers=1)


def test_a_missing_folder_is_named(tmp_path):
    with pytest.raises(InputError, match="no such file or folder"):
        find_prints([tmp_path / "nowhere"])
    with pytest.raises(InputError, match="no print file"):
        find_prints([tmp_path])


def test_a_killed_worker_loses_nothing(tmp_path):
    """Real worker processes; one is killed as soon as the first row is there."""
    folder = tmp_path / "prints"
    folder.mkdir()
    for number in range(40):
        (folder / f"p{number:02d}.gcode").write_text(straight(5.0, count=3000 + number))
    killed = []

    def kill(count, total):
        if not killed:
            listing = subprocess.run(
                ["ps", "-o", "pid=", "--ppid", str(os.getpid())],
                capture_output=True, text=True, check=True,
            ).stdout.split()  # fmt: skip
            workers = [
                int(pid) for pid in listing
                if b"spawn_main" in _command(pid) or b"distributed" in _command(pid)
            ]  # fmt: skip
            assert workers
            killed.append(workers[-1])
            os.kill(workers[-1], signal.SIGKILL)

    out = tmp_path / "t.parquet"
    done = run_survey([folder], out, RIG, None, workers=2, on_row=kill)
    assert killed
    assert done["prints"] == 40
    assert done["broken"] == 0
    assert polars.read_parquet(out)["time_s"].min() > 0


def _command(pid):
    try:
        return Path(f"/proc/{pid}/cmdline").read_bytes()
    except OSError:
        return b""
