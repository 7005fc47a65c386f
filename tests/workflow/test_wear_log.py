"""A wear log on the bench, on a file and on a server: only added to, checked whole."""

from datetime import UTC, date, datetime, timedelta

import pytest

from beadworth.core.errors import ConflictError, InputError, NotFoundError, RecordError
from beadworth.demo import STOCK
from beadworth.store import open_bench
from beadworth.store.prints import PrintShelf
from beadworth.workflow.wear import add_wear, rig_wear, supersede_wear, void_wear, wear_log

RIG = STOCK.name
TODAY = date(2026, 6, 1)


@pytest.fixture
def bench(where):
    with open_bench(where) as store:
        store.save_rig(STOCK)
        yield store


def test_entries_are_kept_in_order_and_added_up(bench):
    add_wear(bench, RIG, {"on": "2026-03-01", "kind": "hours", "hours_h": 400.0}, TODAY)
    add_wear(bench, RIG, {"on": "2026-05-01", "kind": "hours", "hours_h": 240.0}, TODAY)
    found = rig_wear(bench, RIG, today=TODAY)
    assert found.total_h == 640.0
    assert "No failure in 640 h" in found.rate.sentence
    assert [kept.record.on.day for kept in wear_log(bench, RIG)] == [1, 1]
    assert bench.check().sound


def test_a_correction_takes_an_entrys_place_and_both_stay(bench):
    wrong = add_wear(bench, RIG, {"on": "2026-03-01", "kind": "hours", "hours_h": 4000.0}, TODAY)
    data = {"on": "2026-03-01", "kind": "hours", "hours_h": 400.0}
    right = supersede_wear(bench, RIG, wrong.id, data, "a zero too many", TODAY)
    old, new = wear_log(bench, RIG)
    assert (old.state, old.reason) == ("superseded", "a zero too many")
    assert (new.state, new.supersedes) == ("current", wrong.id)
    assert rig_wear(bench, RIG).total_h == 400.0
    void_wear(bench, RIG, right.id, "another rig's hours")
    assert rig_wear(bench, RIG).total_h == 0.0
    assert [kept.state for kept in wear_log(bench, RIG)] == ["superseded", "voided"]


def test_of_two_corrections_made_at_once_one_counts(bench):
    wrong = add_wear(bench, RIG, {"on": "2026-03-01", "kind": "hours", "hours_h": 4000.0}, TODAY)
    for hours in (400.0, 401.0):  # as two windows would, neither knowing of the other
        entry = {"on": "2026-03-01", "kind": "hours", "hours_h": hours}
        bench.add_note("wear", RIG, {"entry": entry, "supersedes": wrong.id, "reason": "a zero"})
    assert rig_wear(bench, RIG).total_h == 400.0
    assert [kept.state for kept in wear_log(bench, RIG)] == ["superseded", "current", "voided"]
    assert "came first" in wear_log(bench, RIG)[2].reason


def test_what_does_not_count_cannot_be_voided_again_and_a_reason_is_asked_for(bench):
    kept = add_wear(bench, RIG, {"on": "2026-03-01", "kind": "hours", "hours_h": 1.0}, TODAY)
    with pytest.raises(InputError, match="no reason"):
        void_wear(bench, RIG, kept.id, "  ")
    void_wear(bench, RIG, kept.id, "typed twice")
    with pytest.raises(ConflictError, match="typed twice"):
        void_wear(bench, RIG, kept.id, "again")
    with pytest.raises(ConflictError):
        supersede_wear(bench, RIG, kept.id, {}, "again", TODAY)
    with pytest.raises(NotFoundError, match="no wear entry 999"):
        void_wear(bench, RIG, 999, "not there")


def test_what_is_wrong_is_refused_and_nothing_kept(bench):
    for data, says in (
        ({"on": "2026-03-01", "kind": "hours", "hours_h": -2.0}, "negative"),
        ({"on": "2026-06-02", "kind": "hours", "hours_h": 2.0}, "has not come yet"),
        ({"on": "2026-03-01", "kind": "check", "what": "play at the bed", "value": 1.0,
          "unit": "N"}, "recorded in mm"),
    ):  # fmt: skip
        with pytest.raises(RecordError, match=says):
            add_wear(bench, RIG, data, TODAY)
    add_wear(bench, RIG, {"on": "2026-03-01", "kind": "hours", "hours_h": 9.0}, TODAY)
    with pytest.raises(RecordError, match="more than the 48 h"):
        add_wear(bench, RIG, {"on": "2026-03-02", "kind": "hours", "hours_h": 60.0}, TODAY)
    assert len(wear_log(bench, RIG)) == 1
    with pytest.raises(NotFoundError):
        add_wear(bench, "no such rig", {}, TODAY)


def test_a_corrected_entry_is_not_held_against_the_one_it_replaces(bench):
    add_wear(bench, RIG, {"on": "2026-03-01", "kind": "hours", "hours_h": 0.0}, TODAY)
    kept = add_wear(bench, RIG, {"on": "2026-03-02", "kind": "hours", "hours_h": 30.0}, TODAY)
    data = {"on": "2026-03-02", "kind": "hours", "hours_h": 45.0}
    supersede_wear(bench, RIG, kept.id, data, "the counter", TODAY)
    assert rig_wear(bench, RIG).total_h == 45.0


def test_hours_come_from_a_replay_of_this_rig(bench):
    shelf = PrintShelf(bench)
    with shelf.receiving("bracket.gcode") as upload:
        upload.write(b"G1 X10 E1 F600\n")
        stored = upload.keep()
    data = {"on": "2026-03-01", "kind": "hours", "from_print": stored.id, "copies": 3}
    with pytest.raises(ConflictError, match="not replayed yet"):
        add_wear(bench, RIG, data, TODAY)
    shelf.store_verdict(stored, {"verdict": "ok", "time_s": 7200.0, "rig": "other"})
    with pytest.raises(ConflictError, match="on other"):
        add_wear(bench, RIG, data, TODAY)
    shelf.store_verdict(shelf.one(stored.id), {"verdict": "ok", "time_s": 7200.0, "rig": RIG})
    kept = add_wear(bench, RIG, data, TODAY)
    assert kept.record.hours_h == pytest.approx(6.0)
    assert kept.record.from_print == "bracket.gcode"
    with pytest.raises(RecordError, match="Leave one of them out"):
        add_wear(bench, RIG, {**data, "hours_h": 2.0}, TODAY)
    with pytest.raises(NotFoundError, match="no print"):
        add_wear(bench, RIG, {**data, "from_print": "none"}, TODAY)


def test_today_is_by_the_clock_where_none_is_stated(bench):
    soon = (datetime.now(UTC) + timedelta(days=3)).date().isoformat()
    with pytest.raises(RecordError, match="has not come yet"):
        add_wear(bench, RIG, {"on": soon, "kind": "hours", "hours_h": 1.0})
