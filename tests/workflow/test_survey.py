"""Many prints: broken ones are rows, reruns go on, a killed worker loses nothing."""

import os
import signal
import sys
from pathlib import Path
from types import SimpleNamespace

import lazy_loader
import pytest
from replay_support import RIG, make_fit, straight

from beadworth.core.errors import InputError, extra_remedy
from beadworth.store import open_bench
from beadworth.workflow import survey as survey_module
from beadworth.workflow.survey import find_prints, run_survey
from beadworth.workflow.survey_notes import surveys

polars = lazy_loader.load("polars")  # loaded by who runs these tests


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
    assert (done.prints, done.resumed, done.out) == (13, 0, str(out))
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
    assert (done.prints, done.resumed) == (14, 12)


def test_a_torn_journal_is_taken_up(folder, tmp_path):
    out = tmp_path / "t.parquet"
    run_survey([folder], out, RIG, None, workers=1)
    journal = tmp_path / "t.parquet.rows"
    data = journal.read_bytes()
    journal.write_bytes(data[: len(data) * 2 // 3])
    done = run_survey([folder], out, RIG, None, workers=1)
    assert done.prints == 13
    assert 0 < done.resumed < 13
    again = run_survey([folder], out, RIG, None, workers=1)
    assert again.resumed == 13


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


def test_rows_land_in_the_table_and_on_the_bench_while_it_runs(folder, tmp_path, monkeypatch):
    monkeypatch.setattr(survey_module, "LANDS_S", 0.0)
    out, seen = tmp_path / "t.parquet", []
    with open_bench(tmp_path / "b.bench") as bench:

        def look(count, total):
            seen.append(
                (polars.read_parquet(out).height, len(surveys(bench)[0].rows), count, total)
            )

        run_survey([folder], out, RIG, make_fit(), workers=1, bench=bench, on_row=look)
        assert seen == [(n, n, n, 13) for n in range(1, 14)]
        (held,) = surveys(bench)
        assert (held.name, held.rig, held.table) == ("t", RIG.name, str(out))
        assert held.capacity
        table = polars.read_parquet(out)
        over = sum(bool(row["sustained"]) for row in held.rows)
        assert over == (table["sustained"] > 0).sum() > 0
        assert held.summary.time_s == pytest.approx(table["time_s"].sum())
        assert {row["file"] for row in held.rows} == set(table["file"])


def test_a_run_that_is_stopped_lands_what_it_has_and_a_rerun_adds_the_rest_once(folder, tmp_path):
    out = tmp_path / "t.parquet"
    with open_bench(tmp_path / "b.bench") as bench:

        def stop(count, total):
            if count == 4:
                raise KeyboardInterrupt

        with pytest.raises(KeyboardInterrupt):
            run_survey([folder], out, RIG, None, workers=1, bench=bench, on_row=stop)
        assert polars.read_parquet(out).height == 4
        assert len(surveys(bench)[0].rows) == 4
        done = run_survey([folder], out, RIG, None, workers=1, bench=bench)
        assert done.resumed == 4
        run_survey([folder], out, RIG, None, workers=1, bench=bench)  # nothing new
        (held,) = surveys(bench)
        assert len(held.rows) == 13
        assert sum(len(note.data["rows"]) for note in bench.notes("survey")) == 13


def test_rows_of_a_journal_that_never_reached_the_bench_are_added(folder, tmp_path):
    out = tmp_path / "t.parquet"
    run_survey([folder], out, RIG, None, workers=1)
    with open_bench(tmp_path / "b.bench") as bench:
        done = run_survey([folder], out, RIG, None, workers=1, bench=bench)
        assert done.resumed == 13
        assert len(surveys(bench)[0].rows) == 13


@pytest.fixture(scope="module")
def scheduler():
    """Two workers, forked from a process that has loaded the application."""
    import dask
    from distributed import LocalCluster
    from distributed.utils import get_mp_context

    quick = {
        "distributed.worker.multiprocessing-method": "forkserver",
        "distributed.scheduler.allowed-failures": 1,  # a print may take two workers with it
    }
    with dask.config.set(quick):
        get_mp_context().set_forkserver_preload(["distributed", "beadworth.replay.survey"])
        with LocalCluster(
            n_workers=2, threads_per_worker=1, processes=True, dashboard_address=":0"
        ) as cluster:
            yield cluster.scheduler_address


def test_a_scheduler_by_its_address_does_the_work(folder, tmp_path, scheduler):
    out = tmp_path / "t.parquet"
    done = run_survey([folder], out, RIG, make_fit(), cluster=scheduler)
    alone = tmp_path / "alone.parquet"
    run_survey([folder], alone, RIG, make_fit(), workers=1)
    assert done.prints == 13
    columns = ["file", "time_s", "sustained", "moves"]
    assert polars.read_parquet(out)[columns].equals(polars.read_parquet(alone)[columns])


def test_a_killed_worker_loses_nothing(tmp_path, scheduler):
    """Real worker processes; one is killed as soon as the first row is there."""
    from distributed import Client

    folder = tmp_path / "prints"
    folder.mkdir()
    for number in range(40):
        (folder / f"p{number:02d}.gcode").write_text(straight(5.0, count=1000 + number))
    with Client(scheduler) as client:
        workers = list(client.run(os.getpid).values())
    killed = []

    def kill(count, total):
        if not killed:
            killed.append(workers[-1])
            os.kill(workers[-1], signal.SIGKILL)

    out = tmp_path / "t.parquet"
    done = run_survey([folder], out, RIG, None, cluster=scheduler, on_row=kill)
    assert len(workers) == 2
    assert killed
    assert done.prints == 40
    assert done.broken == 0
    assert polars.read_parquet(out)["time_s"].min() > 0


def test_a_print_that_takes_its_worker_with_it_is_a_row(folder, tmp_path, scheduler):
    from distributed import Client

    def deadly(path, job):
        import os
        import signal

        if path.endswith("p03.gcode"):
            os.kill(os.getpid(), signal.SIGKILL)
        return {"file": path, "problem": None, "time_s": 1.0}

    from beadworth.workflow import survey_cluster

    with Client(scheduler) as client, pytest.MonkeyPatch.context() as patch:
        client.run(lambda: None)  # it answers
        patch.setattr(survey_cluster, "survey_row", deadly)
        done = run_survey([folder], tmp_path / "t.parquet", RIG, None, cluster=scheduler)
    assert (done.prints, done.broken) == (13, 1)
    table = polars.read_parquet(tmp_path / "t.parquet")
    lost = table.filter(polars.col("problem").is_not_null())
    assert lost["file"][0].endswith("p03.gcode")
    assert "worker was lost" in lost["problem"][0]


def test_a_print_that_only_waited_at_a_lost_worker_is_replayed_after_all():
    tried = []

    class Client:
        def scheduler_info(self):
            return {"workers": {"one": {}}}

        def submit(self, work, path, job, **how):
            tried.append(path)
            lost = path == "deadly" or (path == "beside it" and tried.count(path) == 1)
            return SimpleNamespace(
                key=len(tried),
                exception=lambda: OSError("gone") if lost else None,
                result=lambda: {"file": path, "problem": None},
            )

    class Futures(list):
        add = list.append

    paths = ["sound", "deadly", "beside it"]
    from beadworth.workflow.survey_cluster import _asked

    rows = list(_asked(Client(), Futures(), paths, None))
    problems = {row["file"]: row["problem"] for row in rows}
    assert len(rows) == len(problems) == 3
    assert problems["sound"] is problems["beside it"] is None
    assert "worker was lost" in problems["deadly"]
    assert tried == [*paths, "deadly", "beside it"]


@pytest.mark.parametrize("goes", ["before", "between"])
def test_a_scheduler_that_goes_before_a_row_has_come_is_told(goes):
    """It may say that there is a row, and be gone when the row is asked for."""
    from concurrent.futures import CancelledError

    from beadworth.workflow.survey_cluster import _outcome

    def result():
        raise CancelledError

    said = {"before": CancelledError(), "between": None}[goes]
    with pytest.raises(ConnectionError, match="the connection was lost"):
        _outcome(SimpleNamespace(exception=lambda: said, result=result))


def test_an_address_where_nothing_answers_is_told(folder, tmp_path, monkeypatch):
    from beadworth.workflow import survey_cluster

    monkeypatch.setattr(survey_cluster, "PATIENCE_S", 1)
    with pytest.raises(InputError, match="no scheduler answers"):
        run_survey([folder], tmp_path / "t.parquet", RIG, None, cluster="tcp://127.0.0.1:9")


def test_what_writes_tables_is_missed_before_any_print_is_replayed(folder, tmp_path, monkeypatch):
    for name in ("pyarrow", "pyarrow.parquet"):
        monkeypatch.setitem(sys.modules, name, None)
    with pytest.raises(InputError) as error:
        run_survey([folder], tmp_path / "t.parquet", RIG, None, workers=1)
    (problem,) = error.value.problems
    assert (problem.where, problem.remedy) == (
        "--out",
        f"{extra_remedy('tables')}; or name a table that ends in .csv",
    )
    assert sorted(tmp_path.iterdir()) == [folder]


def test_whatever_goes_wrong_in_one_print_is_its_row(folder, tmp_path, monkeypatch):
    from beadworth.replay import survey

    def fails(*args, **kwargs):
        raise RuntimeError("something nobody thought of")

    monkeypatch.setattr(survey, "replay", fails)
    done = run_survey([folder], tmp_path / "t.parquet", RIG, None, workers=1)
    assert done.broken == 13
    problems = polars.read_parquet(tmp_path / "t.parquet")["problem"]
    assert set(problems) == {"RuntimeError: something nobody thought of"}
