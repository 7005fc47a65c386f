"""Nothing answered is lost: kill −9 between entries and inside a table, two writers at once."""

import functools
import random
import signal

import pytest
from bench_support import PLAN, SPEC, stocked
from forked import ran, started

from beadworth.core.errors import ReadingsError
from beadworth.demo import PLA, STOCK
from beadworth.store import open_bench
from beadworth.trial import Reading, plan, write_readings_csv
from beadworth.workflow.readings import import_readings

WRITER = """
from beadworth.store import open_bench
bench = open_bench({path!r})
for number, coupon in enumerate(bench.coupons({trial!r})):
    bench.record_reading({trial!r}, coupon.coupon, 1.5 + number / 1000)
    print(coupon.coupon, flush=True)
"""


def start(path, trial, script=WRITER):
    return started(script.format(path=str(path), trial=trial))


@functools.cache
def long_plan():
    """A plan of more than 200 coupons, made once."""
    spec = SPEC.model_copy(update={"flows_mm3_s": tuple(4 + i / 4 for i in range(20)),
                                   "replicates": 10})  # fmt: skip
    return spec, plan(spec, {STOCK.name: STOCK}, PLA)


def a_long_sheet(where):
    """A trial of more than 200 planned coupons; gives (trial id, coupons)."""
    spec, made = long_plan()
    with open_bench(where) as bench:
        bench.save_rig(STOCK)
        bench.save_material(PLA)
        trial = bench.create_trial(spec, made).id
        coupons = bench.coupons(trial)
    assert len(coupons) > 200
    return trial, coupons


@pytest.mark.parametrize("seed", range(2))
def test_kill_in_the_middle_of_200_entries_loses_none_that_was_answered(where, seed):
    trial, _ = a_long_sheet(where)
    process = start(where, trial)
    few = random.Random(seed).randrange(1, 60)  # by count: how long they take hangs on the disk
    answered = [process.stdout.readline().strip() for _ in range(few)]
    process.kill()
    done = process.end()
    assert done.returncode == -signal.SIGKILL, done.stderr
    answered += done.stdout.split()
    assert all(answered)
    with open_bench(where) as bench:
        kept = {reading.coupon for reading in bench.current_readings(trial)}
        assert set(answered) <= kept
        assert len(kept) <= len(answered) + 1  # one may be stored and not yet answered
        assert bench.check().sound


DIFFERENT = """
from beadworth.store import open_bench
from beadworth.core import ConflictError
bench = open_bench({path!r})
for coupon in bench.coupons({trial!r}):
    try:
        bench.record_reading({trial!r}, coupon.coupon, 1.7)
        print(coupon.coupon, flush=True)
    except ConflictError:
        pass
"""


def test_two_writers_take_every_coupon_once(where):
    bench, trial = stocked(where)
    bench.close()
    address = str(where)
    processes = [start(address, trial, DIFFERENT) for _ in range(2)]
    taken = []
    for process in processes:
        done = process.end()
        assert done.returncode == 0, done.stderr
        taken += done.stdout.split()
    assert sorted(taken) == sorted(coupon.coupon for coupon in PLAN.coupons)
    with open_bench(where) as again:
        assert len(again.current_readings(trial)) == len(PLAN.coupons)
        assert again.check().sound


IMPORTER = """
import os, signal, sys
from pathlib import Path
from sqlalchemy import event
from sqlalchemy.orm import Session
from beadworth.store import open_bench
from beadworth.workflow import import_readings
where, table, trial, last = sys.argv[1:]

def plug(*_):
    os.kill(os.getpid(), signal.SIGKILL)

def written(connection, cursor, statement, *_):
    if statement.startswith(f"INSERT INTO {last} "):
        plug()

with open_bench(where) as bench:
    if bench._engine.dialect.name == "sqlite":  # rows go to the log before they are committed
        with bench._engine.connect() as connection:
            connection.exec_driver_sql("PRAGMA cache_size=4")
    if last == "answer":
        event.listen(Session, "after_commit", plug)
    else:
        event.listen(bench._engine, "after_cursor_execute", written)
    import_readings(bench, Path(table).read_bytes(), "t.csv", trial=trial or None, question="What?")
"""


def killed_at(where, table, trial, last):
    """A table of readings taken in by a process that dies in it, or right after the commit.

    ``last``: the table of the bench whose rows are the last written.
    """
    done = ran(IMPORTER, where, table, trial, last, check=False)
    assert done.returncode == -signal.SIGKILL, done.stderr


@pytest.fixture
def sheet_and_table(where, tmp_path):
    """A long sheet and its filled-in table: (trial id, file, what it weighs)."""
    trial, coupons = a_long_sheet(where)
    rows = [
        Reading(c.rig, PLA.name, c.temperature_c, c.flow_mm3_s, c.filament_mm,
                1.5 + number / 1000, coupon=c.coupon)
        for number, c in enumerate(coupons)
    ]  # fmt: skip
    table = tmp_path / "t.csv"
    table.write_text(write_readings_csv(rows), encoding="utf-8")
    return trial, table, {reading.coupon: reading.mass_g for reading in rows}


def kept_in(bench, trial):
    assert bench.check().findings == ()
    return {reading.coupon: reading.mass_g for reading in bench.current_readings(trial)}


@pytest.mark.parametrize("last", ["readings", "seals", "slots"])
def test_kill_in_the_middle_of_a_table_leaves_none_of_it(where, tmp_path, sheet_and_table, last):
    trial, table, masses = sheet_and_table
    killed_at(where, table, trial, last)
    if where == tmp_path / "x.bench":  # some of it was on the disk
        assert (tmp_path / "x.bench-wal").stat().st_size > 50_000
    with open_bench(where) as bench:
        assert kept_in(bench, trial) == {}
        assert bench.trial(trial).locked_at is None
        assert import_readings(bench, table.read_bytes(), "t.csv", trial=trial) == (
            trial,
            len(masses),
        )
        assert kept_in(bench, trial) == masses


def test_kill_after_a_table_was_stored_leaves_all_of_it(where, sheet_and_table):
    trial, table, masses = sheet_and_table
    killed_at(where, table, trial, "answer")
    with open_bench(where) as bench:
        assert kept_in(bench, trial) == masses
        # not told that it was taken, the person imports it again: each row is there already
        with pytest.raises(ReadingsError, match="has a reading that counts already") as caught:
            import_readings(bench, table.read_bytes(), "t.csv", trial=trial)
        assert len(caught.value.problems) == len(masses)
        assert kept_in(bench, trial) == masses


def test_kill_in_the_middle_of_a_bare_table_leaves_no_trial_of_it(where, sheet_and_table):
    planned, table, masses = sheet_and_table
    killed_at(where, table, "", "readings")
    with open_bench(where) as bench:
        assert [trial.id for trial in bench.trials()] == [planned]
        trial, count = import_readings(bench, table.read_bytes(), "t.csv", question="What?")
        assert count == len(masses)
        assert kept_in(bench, trial) == masses
