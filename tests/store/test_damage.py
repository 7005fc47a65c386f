"""Damage is told, what can be read is kept, and nothing incomplete passes for a bench."""

import os
import shutil
import sqlite3
from pathlib import Path

import pytest
from bench_support import stocked
from cli_support import call_main
from forked import ran
from loops import some

from beadworth.core import BenchError
from beadworth.store import check_bench, open_bench, restore_bench

PAGE = 4096


@pytest.fixture(scope="module")
def whole(tmp_path_factory):
    """A bench with eight readings, and the trial's id."""
    path = tmp_path_factory.mktemp("whole") / "a.bench"
    bench, trial = stocked(path)
    with bench:
        for coupon in bench.coupons(trial):
            bench.record_reading(trial, coupon.coupon, 1.78)
    return path, trial


@pytest.fixture
def place(whole, tmp_path):
    return Path(shutil.copy(whole[0], tmp_path / "a.bench"))


@pytest.fixture
def changed(place):
    """A mass changed around the bench: 1.78 g has become 1.28 g."""
    data = place.read_bytes()
    assert data.count(b'"mass_g": 1.78') >= 8
    place.write_bytes(data.replace(b'"mass_g": 1.78', b'"mass_g": 1.28', 1))
    return place


def test_a_backup_of_a_changed_bench_tells_it_and_ends_with_7(changed, tmp_path):
    done = call_main(["bench", "backup", tmp_path / "copy.bench", "--bench", changed])
    assert done.code == 7
    assert "of readings is not what was stored" in done.out
    assert "checked:" not in done.out
    assert (tmp_path / "copy.bench").is_file()


def test_a_sound_backup_ends_with_0(place, tmp_path):
    done = call_main(["bench", "backup", tmp_path / "copy.bench", "--bench", place])
    assert (done.code, "checked:" in done.out) == (0, True)


def test_a_copy_with_findings_is_restored_where_that_is_asked_for(changed, tmp_path):
    to = tmp_path / "new.bench"
    refused = call_main(["bench", "restore", changed, "--bench", to])
    assert refused.code == 7
    assert "--damaged" in refused.err
    assert not to.exists()
    taken = call_main(["bench", "restore", changed, "--bench", to, "--damaged"])
    assert taken.code == 7
    assert "is not what was stored" in taken.out
    with open_bench(to) as bench:
        assert sum(len(bench.current_readings(trial.id)) for trial in bench.trials()) == 8


def pages(path):
    return path.stat().st_size // PAGE


def zeroed(path, page):
    data = bytearray(path.read_bytes())
    data[page * PAGE : (page + 1) * PAGE] = bytes(PAGE)
    path.write_bytes(data)


def test_whatever_page_is_lost_check_reports_and_the_rest_can_be_taken(whole, tmp_path):
    """Every second page of the file in turn, the first too; every one in the long tests."""
    kept, lost = [], range(0, pages(whole[0]), some(2, long=1))
    for page in lost:
        place = Path(shutil.copy(whole[0], tmp_path / f"{page}.bench"))
        zeroed(place, page)
        name, report = check_bench(place) if page else (str(place), None)
        if report is None:  # without its first page nothing says that it is a database
            with pytest.raises(BenchError, match="not a bench"):
                check_bench(place)
            continue
        assert name == str(place)
        assert not report.sound, page
        to = tmp_path / f"{page}-taken.bench"
        restore_bench(place, to, damaged=True)
        with open_bench(to) as bench:
            kept.append(bench.check().readings)
        with open_bench(to) as bench:
            bench.add_note("wear", "A", {})
    assert len(kept) == len(lost) - 1 > 10
    assert sum(count == 8 for count in kept) >= 0.6 * len(kept)


@pytest.mark.parametrize("cut", [1, 100, PAGE, 5 * PAGE, 12 * PAGE])
def test_of_a_file_cut_short_check_says_what_can_be_read(place, tmp_path, cut):
    whole = place.read_bytes()
    place.write_bytes(whole[: len(whole) - cut])
    done = call_main(["bench", "check", "--bench", place])
    assert done.code == 7
    assert "Found: " in done.out
    assert "trials, " in done.out
    assert f"beadworth bench restore {place} --damaged --bench NEW.bench" in done.out
    taken = call_main(["bench", "restore", place, "--damaged", "--bench", tmp_path / "new.bench"])
    assert taken.code in (0, 7), taken.err
    open_bench(tmp_path / "new.bench").close()


def test_a_bench_copied_without_its_log_is_refused(tmp_path):
    path, copy = tmp_path / "a.bench", tmp_path / "copy.bench"
    sqlite3.connect(path).execute("PRAGMA journal_mode=WAL").fetchall()  # as older releases began
    assert path.stat().st_size == PAGE
    shutil.copy(path, copy)
    for opened in (lambda: open_bench(copy), lambda: restore_bench(copy, tmp_path / "b.bench")):
        with pytest.raises(BenchError, match="holds no tables") as caught:
            opened()
        assert f"{copy.name}-wal" in str(caught.value)
    assert copy.read_bytes() == path.read_bytes()
    assert not (tmp_path / "b.bench").exists()


def test_an_empty_file_is_a_new_bench(tmp_path):
    (tmp_path / "a.bench").touch()
    with open_bench(tmp_path / "a.bench") as bench:
        assert bench.check().sound


def test_the_file_alone_holds_what_was_stored_once_the_bench_has_settled(tmp_path):
    bench, trial = stocked(tmp_path / "a.bench")
    with bench:
        bench.record_reading(trial, "A01", 1.78)
        bench.settle()
        shutil.copy(tmp_path / "a.bench", tmp_path / "copy.bench")  # its log left behind
        with open_bench(tmp_path / "copy.bench") as copy:
            assert [one.mass_g for one in copy.current_readings(trial)] == [1.78]
            assert copy.check().sound


def test_a_bench_moved_while_open_takes_nothing_more(tmp_path):
    bench, trial = stocked(tmp_path / "a.bench")
    with bench:
        (tmp_path / "a.bench").rename(tmp_path / "moved.bench")
        with pytest.raises(BenchError, match="moved, replaced or deleted"):
            bench.record_reading(trial, "A01", 1.78)
        shutil.copy(tmp_path / "moved.bench", tmp_path / "a.bench")
        with pytest.raises(BenchError, match="moved, replaced or deleted"):
            bench.record_reading(trial, "A01", 1.78)
        (tmp_path / "moved.bench").replace(tmp_path / "a.bench")
        bench.record_reading(trial, "A01", 1.78)
        assert len(bench.readings(trial)) == 1


FULL = """
import sys
from beadworth.store import open_bench
from beadworth.core import BenchError
with open_bench(sys.argv[1]) as bench:
    with bench._engine.connect() as connection:
        pages = connection.exec_driver_sql("PRAGMA page_count").scalar()
    from sqlalchemy import event
    event.listen(bench._engine, "begin",
                 lambda c: c.exec_driver_sql(f"PRAGMA max_page_count={pages}"))
    try:
        for number in range(100):
            bench.add_note("wear", "A", {"what": "x" * 4000})
    except BenchError as error:
        print(error)
"""


def test_a_full_disk_is_called_that_and_no_damage(place):
    said = ran(FULL, place).stdout
    assert "the disk is full" in said
    assert "bench check" not in said


def test_a_bench_to_restore_into_what_is_no_folder(place, tmp_path):
    (tmp_path / "file").write_text("x")
    with pytest.raises(BenchError, match="could not be restored"):
        restore_bench(place, tmp_path / "file" / "b.bench")


def test_what_a_killed_restore_left_goes_with_the_next(place, tmp_path):
    gone = ran("import os; print(os.getpid())").stdout.strip()
    to = tmp_path / "b.bench"
    left = [tmp_path / f"b.bench.{kind}-{gone}" for kind in ("restoring", "part")]
    mine = tmp_path / f"b.bench.part-{os.getpid()}"
    other = tmp_path / "b.bench.part-7x"
    for file in (*left, mine, other):
        file.write_bytes(b"half")
    restore_bench(place, to)
    assert [file.exists() for file in (*left, mine, other)] == [False, False, True, True]
