"""Backups, restoring, checking, and benches of earlier releases."""

import sqlite3

import pytest
from bench_support import stocked
from sqlalchemy.orm import Session

from beadworth.core.errors import BenchError, ConflictError
from beadworth.store import hash_chain, open_bench, restore_bench
from beadworth.store.upkeep import check


def test_a_backup_is_whole_and_never_over_another_file(tmp_path):
    bench, trial = stocked(tmp_path / "a.bench")
    with bench:
        bench.record_reading(trial, "A01", 1.78)
        report = bench.backup(tmp_path / "copy.bench")
        assert report.readings == 1
        with pytest.raises(ConflictError, match="there already"):
            bench.backup(tmp_path / "copy.bench")
    with open_bench(tmp_path / "copy.bench") as copy:
        assert copy.current_readings(trial)[0].mass_g == 1.78


def test_restoring_keeps_the_bench_that_was_there(tmp_path):
    bench, trial = stocked(tmp_path / "a.bench")
    with bench:
        bench.backup(tmp_path / "copy.bench")
        bench.record_reading(trial, "A01", 1.78)
    with pytest.raises(ConflictError, match="--replace"):
        restore_bench(tmp_path / "copy.bench", tmp_path / "a.bench")
    restore_bench(tmp_path / "copy.bench", tmp_path / "a.bench", replace=True)
    with open_bench(tmp_path / "a.bench") as restored:
        assert restored.readings(trial) == []
    (kept,) = tmp_path.glob("a.bench.before-*")
    with open_bench(kept) as before:
        assert before.current_readings(trial)[0].mass_g == 1.78


def test_a_damaged_backup_replaces_nothing(tmp_path):
    bench, trial = stocked(tmp_path / "a.bench")
    with bench:
        bench.record_reading(trial, "A01", 1.78)
        bench.backup(tmp_path / "copy.bench")
    data = bytearray((tmp_path / "copy.bench").read_bytes())
    data[4096 * 2 : 4096 * 6] = b"\xff" * 4096 * 4
    (tmp_path / "copy.bench").write_bytes(data)
    with pytest.raises(BenchError):
        restore_bench(tmp_path / "copy.bench", tmp_path / "a.bench", replace=True)
    with open_bench(tmp_path / "a.bench") as bench:
        assert bench.current_readings(trial)[0].mass_g == 1.78
    assert not list(tmp_path.glob("*.restoring*"))


def test_a_missing_backup(tmp_path):
    with pytest.raises(BenchError, match="no such backup"):
        restore_bench(tmp_path / "x", tmp_path / "y")


def test_a_server_is_backed_up_by_its_own_tool(new_database, tmp_path):
    bench, _ = stocked(new_database)
    with bench, pytest.raises(BenchError, match="the server's own dump tool"):
        bench.backup(tmp_path / "copy.bench")


CHANGES = [
    ("UPDATE plans SET digest = 'x'", "plan 1 is not what its digest says"),
    ("UPDATE plans SET data = replace(data, '\"seed\": 1', '\"seed\": 2')", "digest"),
    ("UPDATE readings SET data = replace(data, 'A01', 'Z99')", "no planned coupon"),
    ("DELETE FROM slots", "place disagree"),
    *((f"INSERT INTO seals (kept_in, row_key, digest) SELECT 'notes', '{key}', 'x'",
       f"row {key} of notes is gone") for key in ("x", "\u00b2", "9" * 9, "9" * 10, "9" * 40)),
    ("UPDATE readings SET trial_id = 'nowhere'", "points at nothing"),
]  # fmt: skip


def test_check_finds_what_somebody_changed_on_a_server_by_force(new_database):
    bench, trial = stocked(new_database)
    with bench:
        bench.record_reading(trial, "A01", 1.78)
        for change, finding in CHANGES[:-1]:  # the last a server refuses, whoever asks
            assert bench.check().sound
            forced = change.replace("replace(data,", "replace(data::text,").replace(
                "')", "')::json"
            )
            with bench._engine.connect() as connection:
                connection.exec_driver_sql("SET session_replication_role = replica")
                assert connection.exec_driver_sql(forced).rowcount > 0
                with Session(connection) as session:
                    assert finding in " ".join(check(session).findings)
                connection.rollback()


@pytest.mark.parametrize(("change", "finding"), CHANGES)
def test_check_finds_what_somebody_changed_by_force(tmp_path, change, finding):
    bench, trial = stocked(tmp_path / "a.bench")
    with bench:
        bench.record_reading(trial, "A01", 1.78)
        assert bench.check().sound
    connection = sqlite3.connect(tmp_path / "a.bench")
    for table in ("plans", "readings"):
        connection.execute(f"DROP TRIGGER {table}_update_kept")
    assert connection.execute(change).rowcount > 0
    connection.commit()
    connection.close()
    with open_bench(tmp_path / "a.bench") as bench:
        assert finding in " ".join(bench.check().findings)


@pytest.mark.parametrize("at_once", [1, 2, 1000])
def test_seals_are_followed_in_pieces_of_any_size(where, monkeypatch, at_once):
    monkeypatch.setattr(hash_chain, "AT_ONCE", at_once)
    monkeypatch.setattr(hash_chain, "MOST_ADDED", 2)
    bench, trial = stocked(where)
    with bench:
        for coupon in bench.coupons(trial)[:3]:
            bench.record_reading(trial, coupon.coupon, 1.78)
        bench.add_note("k", "s", {})
        assert bench.check().sound
        server = bench._engine.dialect.name == "postgresql"
        with bench._engine.connect() as connection:
            if server:
                connection.exec_driver_sql("SET session_replication_role = replica")
            else:
                for trigger in ("readings_update_kept", "notes_delete_kept"):
                    connection.exec_driver_sql(f"DROP TRIGGER {trigger}")
            for line in (
                "UPDATE readings SET source = 'forged' WHERE id = 2",
                "DELETE FROM notes WHERE id = 1",
                *(f"INSERT INTO notes (id, kind, subject, at, data) VALUES ({n}, 'k', 's', "
                  "'2026-01-01 00:00:00', '{}')" for n in (70, 71, 72)),
            ):  # fmt: skip
                connection.exec_driver_sql(line)
            with Session(connection) as session:
                found = [one for one in check(session).findings if one.startswith("row ")
                         or " more rows " in one]  # fmt: skip
            connection.rollback()
    assert found == [
        "row 2 of readings is not what was stored, or a row before it is gone",
        "row 1 of notes is gone, or was sealed twice",
        "row 70 of notes was added around the bench",
        "row 71 of notes was added around the bench",
        "1 more rows of notes were added around the bench",
    ]
