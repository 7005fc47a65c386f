"""The bench: what it keeps, what it refuses, on a file and on a server."""

import os
import sqlite3
import stat

import pytest
import sqlalchemy
from bench_support import PLAN, SPEC, stocked
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from beadworth.bench import open_bench
from beadworth.bench.models import APPEND_ONLY
from beadworth.bench.opening import MIGRATIONS, REVISION
from beadworth.demo import LONG_ZONE, PLA, STOCK
from beadworth.errors import BenchError, ConflictError, NotFoundError, ReadingsError
from beadworth.trial import Reading, add_to_plan


@pytest.fixture
def bench_trial(where):
    bench, trial = stocked(where)
    with bench:
        yield bench, trial


def test_records_keep_their_history(where):
    with open_bench(where) as bench:
        bench.save_rig(STOCK)
        bench.save_rig(STOCK)
        dearer = STOCK.model_copy(update={"price": 12.0, "currency": "EUR"})
        bench.save_rig(dearer)
        assert bench.rig(STOCK.name) == dearer
        assert [v.record for v in bench.rig_history(STOCK.name)] == [STOCK, dearer]
        assert [rig.name for rig in bench.rigs()] == [STOCK.name]
        bench.save_material(PLA)
        assert bench.materials() == [PLA]
        assert bench.material_history(PLA.name)[0].at.tzinfo is not None


def test_a_name_not_there_is_told_what_is(where):
    with open_bench(where) as bench:
        bench.save_rig(STOCK)
        with pytest.raises(NotFoundError, match="Tern, stock hot end"):
            bench.rig("Tern, stok hot end")
        with pytest.raises(NotFoundError, match="holds no material yet"):
            bench.material("PLA")


def test_a_reading_is_entered_once_voided_once_and_stays(bench_trial):
    bench, trial = bench_trial
    first = bench.record_reading(trial, "A01", 1.78, note="first")
    with pytest.raises(ConflictError, match=f"counts already \\(reading {first.reading_id}\\)"):
        bench.record_reading(trial, "A01", 1.79)
    assert bench.void_reading(first.reading_id, "snipped short").state == "void"
    with pytest.raises(ConflictError, match="void already"):
        bench.void_reading(first.reading_id, "again")
    second = bench.record_reading(trial, "A01", 1.79)
    third = bench.supersede_reading(second.reading_id, 1.77, reason="hair on the pan")
    assert third.supersedes == second.reading_id
    states = [(s.reading.mass_g, s.state, s.reason) for s in bench.readings(trial)]
    assert states == [
        (1.78, "void", "snipped short"),
        (1.79, "superseded", "hair on the pan"),
        (1.77, "current", None),
    ]
    assert [r.mass_g for r in bench.current_readings(trial)] == [1.77]
    assert bench.check().sound


def test_a_reason_is_asked_for(bench_trial):
    bench, trial = bench_trial
    stored = bench.record_reading(trial, "A01", 1.78)
    with pytest.raises(ConflictError, match="a reason is needed"):
        bench.void_reading(stored.reading_id, "  ")


@pytest.mark.parametrize("mass", [0.0, -1.0, 17.8, float("nan"), float("inf")])
def test_a_mass_that_cannot_be_is_refused_and_not_stored(bench_trial, mass):
    bench, trial = bench_trial
    with pytest.raises(ReadingsError):
        bench.record_reading(trial, "A01", mass)
    assert bench.readings(trial) == []
    assert bench.trial(trial).locked_at is None


def test_the_plan_locks_at_the_first_reading_and_is_amended_after(bench_trial):
    bench, trial = bench_trial
    again = bench.replan(trial, SPEC, PLAN)
    assert again.locked_at is None
    bench.record_reading(trial, "A01", 1.78)
    with pytest.raises(ConflictError, match="the plan is locked"):
        bench.replan(trial, SPEC, PLAN)
    before = bench.trial(trial).digest
    sheet = bench.coupons(trial)
    added = add_to_plan(PLAN, sheet, [(STOCK.name, 210.0, 11.0)] * 2, {STOCK.name: STOCK})
    amendment = bench.amend(trial, "the knee is between 10 and 12", added, "two coupons at 11")
    assert amendment.number == 1
    assert bench.trial(trial).digest == amendment.digest != before
    assert bench.coupons(trial) == [*sheet, *added]
    with pytest.raises(ConflictError, match="in the plan already"):
        bench.amend(trial, "again", added, "the same")
    with pytest.raises(ConflictError, match="needs a reason"):
        bench.amend(trial, " ", [], "nothing")
    bench.record_reading(trial, added[0].coupon, 1.77)
    assert bench.check().sound


def test_a_table_is_taken_whole_or_not_at_all(bench_trial):
    bench, trial = bench_trial
    rows = [
        Reading(STOCK.name, PLA.name, 210.0, c.flow_mm3_s, 600.0, 1.7, reference=c.reference)
        for c in PLAN.coupons
    ]
    wrong = Reading(STOCK.name, PLA.name, 210.0, 99.0, 600.0, 1.7)
    with pytest.raises(ReadingsError) as caught:
        bench.import_readings(trial, [*rows, wrong, rows[0]], "t.csv")
    assert len(caught.value.problems) == 2
    assert bench.readings(trial) == []
    stored = bench.import_readings(trial, rows, "t.csv")
    assert {s.reading.coupon for s in stored} == {c.coupon for c in PLAN.coupons}
    assert all(s.source == "t.csv" for s in stored)


def test_bare_readings_make_a_trial_of_their_own(where):
    with open_bench(where) as bench:
        rows = [Reading("A", "PLA", 210.0, q, 600.0, 1.7, void=q == 9) for q in (8.0, 9.0)]
        trial = bench.create_trial_from_readings("What do they say?", rows, "t.csv")
        assert trial.plan is None
        assert trial.readings == 1
        assert [s.state for s in bench.readings(trial.id)] == ["current", "void"]
        assert bench.check().sound


def test_ids_are_short_readable_and_unique(where):
    with open_bench(where) as bench:
        bench.save_rig(STOCK)
        bench.save_material(PLA)
        ids = [bench.create_trial(SPEC, PLAN).id for _ in range(3)]
        assert ids == ["far-stock-hot-end-1", "far-stock-hot-end-2", "far-stock-hot-end-3"]
        assert bench.trial(ids[0]).simulated


@pytest.mark.parametrize("table", APPEND_ONLY)
@pytest.mark.parametrize("verb", ["UPDATE", "DELETE"])
def test_the_database_itself_refuses_to_change_what_was_measured(bench_trial, table, verb):
    bench, trial = bench_trial
    stored = bench.record_reading(trial, "A01", 1.78)
    bench.void_reading(stored.reading_id, "x")
    bench.amend(trial, "x", [], "nothing")
    bench.add_note("wear", STOCK.name, {"hours": 3})
    column = "question" if table == "trials" else "at"
    statement = (
        f"UPDATE {table} SET {column} = {column}" if verb == "UPDATE" else f"DELETE FROM {table}"
    )
    with (
        pytest.raises(sqlalchemy.exc.DBAPIError, match="the bench only adds"),
        bench._engine.begin() as connection,
    ):
        connection.execute(sqlalchemy.text(statement))


def test_notes_are_kept_in_order(where):
    with open_bench(where) as bench:
        bench.add_note("bring-up", "A", {"x": 1})
        bench.add_note("bring-up", "B", {"x": 2})
        assert [n.data for n in bench.notes("bring-up")] == [{"x": 1}, {"x": 2}]
        assert [n.subject for n in bench.notes("bring-up", "B")] == ["B"]


def test_the_newest_migration_is_the_one_a_bench_is_brought_to():
    versions = sorted(p.name.split("_")[0] for p in (MIGRATIONS / "versions").glob("0*.py"))
    assert versions[-1] == REVISION


def test_migrated_tables_are_those_of_the_models(where):
    from alembic.autogenerate import compare_metadata
    from alembic.migration import MigrationContext

    from beadworth.bench.models import Base

    with open_bench(where) as bench, bench._engine.connect() as connection:
        context = MigrationContext.configure(connection, opts={"compare_type": True})
        assert compare_metadata(context, Base.metadata) == []


def test_a_bench_of_a_later_release_is_refused(tmp_path):
    path = tmp_path / "later.bench"
    open_bench(path).close()
    connection = sqlite3.connect(path)
    connection.execute("UPDATE alembic_version SET version_num = '9999'")
    connection.commit()
    connection.close()
    with pytest.raises(BenchError, match="written by a later release"):
        open_bench(path)


def test_another_database_is_left_alone(tmp_path):
    path = tmp_path / "other.db"
    connection = sqlite3.connect(path)
    connection.execute("CREATE TABLE mine (x)")
    connection.commit()
    connection.close()
    with pytest.raises(BenchError, match="holds other tables"):
        open_bench(path)


def test_a_folder_is_no_bench(tmp_path):
    with pytest.raises(BenchError, match="this is a folder"):
        open_bench(tmp_path)


@pytest.mark.skipif(os.geteuid() == 0, reason="root writes anywhere")
def test_a_folder_that_cannot_be_written(tmp_path):
    tmp_path.chmod(stat.S_IRUSR | stat.S_IXUSR)
    with pytest.raises(BenchError, match="cannot be opened"):
        open_bench(tmp_path / "x.bench")


def test_a_parent_that_is_a_file(tmp_path):
    (tmp_path / "file").write_text("x")
    with pytest.raises(BenchError, match="cannot be opened"):
        open_bench(tmp_path / "file" / "x.bench")


def test_a_server_that_is_not_there():
    with pytest.raises(BenchError, match="cannot be opened"):
        open_bench("postgresql+psycopg://x@/x?host=/nowhere")


@settings(
    max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(st.binary(min_size=1, max_size=3000), st.booleans())
def test_any_bytes_are_a_bench_or_a_refusal(tmp_path, data, headed):
    path = tmp_path / "fuzz.bench"
    for leftover in tmp_path.glob("fuzz.bench*"):
        leftover.unlink()
    path.write_bytes((b"SQLite format 3\0" if headed else b"") + data)
    with pytest.raises(BenchError):
        open_bench(path)


def test_children_and_long_zone_round_trip(where):
    with open_bench(where) as bench:
        bench.save_rig(LONG_ZONE)
        assert bench.rig(LONG_ZONE.name) == LONG_ZONE
