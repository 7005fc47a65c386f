"""The bench: what it keeps, what it refuses, on a file and on a server."""

from dataclasses import replace

import pytest
import sqlalchemy
from bench_support import PLAN, SPEC, stocked

from beadworth.core.errors import ConflictError, InputError, NotFoundError, ReadingsError
from beadworth.demo import LONG_ZONE, PLA, STOCK
from beadworth.store import NewGrant, open_bench
from beadworth.store.models import APPEND_ONLY
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
    assert bench.void_reading(first.reading_id, "snipped short").state == "voided"
    with pytest.raises(ConflictError, match="voided already"):
        bench.void_reading(first.reading_id, "again")
    second = bench.record_reading(trial, "A01", 1.79)
    third = bench.supersede_reading(second.reading_id, 1.77, reason="hair on the pan")
    assert third.supersedes == second.reading_id
    states = [(s.reading.mass_g, s.state, s.reason) for s in bench.readings(trial)]
    assert states == [
        (1.78, "voided", "snipped short"),
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


def test_bare_readings_make_a_trial_of_their_own(where):
    with open_bench(where) as bench:
        rows = [Reading("A", "PLA", 210.0, q, 600.0, 1.7, void=q == 9) for q in (8.0, 9.0)]
        trial = bench.create_trial_from_readings("What do they say?", rows, "t.csv")
        assert trial.plan is None
        assert trial.readings == 1
        assert [s.state for s in bench.readings(trial.id)] == ["current", "voided"]
        assert bench.check().sound


def test_checked_readings_are_added_whole_to_the_plan_they_were_checked_against(bench_trial):
    bench, trial = bench_trial
    first, second, *_ = PLAN.coupons
    rows = [
        Reading(c.rig, PLA.name, c.temperature_c, c.flow_mm3_s, c.filament_mm, 1.7, coupon=c.coupon)
        for c in (first, second)
    ]
    with pytest.raises(ConflictError, match="the plan was changed"):
        bench.add_readings(trial, rows, "t.csv", "0" * 64)
    with pytest.raises(ConflictError, match=f"coupon {first.coupon} has a reading") as caught:
        bench.add_readings(trial, [*rows, rows[0]], "t.csv", PLAN.digest)
    assert len(caught.value.problems) == 1
    assert bench.readings(trial) == []
    stored = bench.add_readings(trial, rows, "t.csv", PLAN.digest)
    assert [s.reading for s in stored] == rows
    with pytest.raises(ConflictError) as caught:
        bench.add_readings(trial, rows, "t.csv", PLAN.digest)
    assert len(caught.value.problems) == 2
    assert bench.readings(trial) == stored
    # what is entered one by one goes on from there
    third = bench.record_reading(trial, PLAN.coupons[2].coupon, 1.7)
    assert third.reading_id == stored[-1].reading_id + 1
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
    bench.withdraw(bench.give(NewGrant("phone", "phone 1", "weigh-in", "0" * 64)).id)
    column = {"trials": "question", "seals": "digest"}.get(table, "at")
    statement = (
        f"UPDATE {table} SET {column} = {column}" if verb == "UPDATE" else f"DELETE FROM {table}"
    )
    with (
        pytest.raises(sqlalchemy.exc.DBAPIError, match="the bench only adds"),
        bench._engine.begin() as connection,
    ):
        connection.execute(sqlalchemy.text(statement))


def test_a_row_cannot_be_put_in_the_place_of_another(bench_trial):
    """REPLACE deletes without the DELETE trigger; TRUNCATE empties without it."""
    bench, trial = bench_trial
    bench.record_reading(trial, "A01", 1.78)
    on_file = bench._engine.dialect.name == "sqlite"
    for table in APPEND_ONLY:
        if on_file:
            statement = f"INSERT OR REPLACE INTO {table} SELECT * FROM {table}"
            if not _count(bench, table):
                continue
        else:
            statement = f"TRUNCATE {table} CASCADE"
        with (
            pytest.raises(sqlalchemy.exc.DBAPIError, match="the bench only adds"),
            bench._engine.begin() as connection,
        ):
            connection.execute(sqlalchemy.text(statement))
    assert bench.check().sound


def _count(bench, table):
    with bench._engine.connect() as connection:
        return connection.execute(sqlalchemy.text(f"SELECT count(*) FROM {table}")).scalar()


def test_a_plan_must_be_that_of_its_spec(bench_trial):
    bench, trial = bench_trial
    other = SPEC.model_copy(update={"seed": 9})
    for spec, plan in ((other, PLAN), (SPEC, replace(PLAN, coupons=PLAN.coupons[1:]))):
        with pytest.raises(ConflictError, match="not that of this spec"):
            bench.create_trial(spec, plan)
    with pytest.raises(ConflictError, match="not that of this spec"):
        bench.replan(trial, SPEC, replace(PLAN, digest="0" * 64))


def test_an_amended_plan_is_not_replaced_since_the_chain_builds_on_it(bench_trial):
    bench, trial = bench_trial
    bench.amend(trial, "one more look", [], "nothing yet")
    with pytest.raises(ConflictError, match="locked since its first amendment"):
        bench.replan(trial, SPEC, PLAN)
    assert bench.check().sound


def test_bare_readings_of_a_simulated_rig_are_marked_simulated(where):
    with open_bench(where) as bench:
        bench.save_rig(STOCK)
        row = Reading(STOCK.name, "PLA", 210.0, 8.0, 600.0, 1.7)
        assert bench.create_trial_from_readings("Simulated?", [row], "t").simulated
        other = replace(row, rig="another")
        assert not bench.create_trial_from_readings("Simulated?", [other], "t").simulated


@pytest.mark.parametrize("text", ["a\0b", "half \ud800"])
def test_text_no_database_can_hold_is_refused_by_both(bench_trial, text):
    bench, trial = bench_trial
    stored = bench.record_reading(trial, "A01", 1.78)
    with pytest.raises(InputError, match="cannot be stored"):
        bench.void_reading(stored.reading_id, text)
    with pytest.raises(InputError, match="cannot be stored"):
        bench.record_reading(trial, "A02", 1.78, note=text)
    with pytest.raises(InputError, match="cannot be stored"):
        bench.add_note("wear", "A", {"deep": [{"in": text}]})
    with pytest.raises((InputError, NotFoundError)):
        bench.rig(text)
    assert len(bench.readings(trial)) == 1
    assert bench.current_readings(trial)
    assert bench.check().sound


def test_what_is_too_long_or_not_finite_is_refused_by_both(where):
    with open_bench(where) as bench:
        with pytest.raises(InputError, match="notes, subject: 121 characters are more"):
            bench.add_note("wear", "x" * 121, {})
        with pytest.raises(InputError, match="nan is not a finite number"):
            bench.add_note("wear", "A", {"hours": float("nan")})
        row = Reading("A", "PLA", 210.0, 8.0, 600.0, 1.7, coupon="c" * 41)
        with pytest.raises(InputError, match="slots, coupon: 41 characters"):
            bench.create_trial_from_readings("Long?", [row], "t")
        assert bench.trials() == []


@pytest.mark.parametrize("number", [0, -1, 5, 2**31, 10**30])
def test_a_reading_that_is_not_there(where, number):
    with open_bench(where) as bench, pytest.raises(NotFoundError):
        bench.void_reading(number, "x")


def test_notes_are_kept_in_order(where):
    with open_bench(where) as bench:
        bench.add_note("bring-up", "A", {"x": 1})
        bench.add_note("bring-up", "B", {"x": 2})
        assert [n.data for n in bench.notes("bring-up")] == [{"x": 1}, {"x": 2}]
        assert [n.subject for n in bench.notes("bring-up", "B")] == ["B"]


def test_children_and_long_zone_round_trip(where):
    with open_bench(where) as bench:
        bench.save_rig(LONG_ZONE)
        assert bench.rig(LONG_ZONE.name) == LONG_ZONE


def test_a_new_rig_or_material_has_a_name_that_can_be_seen_whole(where):
    bench, _ = stocked(where)
    with bench:
        for name in ("A ", " A", "A  B", "A\u202eB", "A\x07", "=A", "+A", "-A", "@A"):
            for save, record in ((bench.save_rig, STOCK), (bench.save_material, PLA)):
                with pytest.raises(InputError, match="nothing was stored") as caught:
                    save(record.model_copy(update={"name": name}))
                assert caught.value.problems[0].value == name


def test_a_name_an_older_release_took_keeps_its_versions(where, monkeypatch):
    bench, _ = stocked(where)
    old = STOCK.model_copy(update={"name": "=A "})
    with bench:
        with monkeypatch.context() as patch:
            patch.setattr("beadworth.store.records.name_problem", lambda _: None)
            bench.save_rig(old)
        bench.save_rig(old.model_copy(update={"price": 12.0, "currency": "EUR"}))
        assert len(bench.rig_history("=A ")) == 2
