"""Trials in short: the same as from the whole rows, whatever came since the list was last made."""

import shutil
import threading

import pytest
from bench_support import PLAN, SPEC, stocked
from ramp_case import short_ramp
from statements import statements

from beadworth.demo import PLA, STOCK
from beadworth.ramp import sections_of
from beadworth.store import PrintShelf, live, open_bench, stored_prints
from beadworth.store.live import LiveFinding
from beadworth.trial import JointErrors, Reading


def from_rows(bench):
    """What outlines say, counted from every row."""
    made = []
    for snapshot in bench.snapshots():
        record = snapshot.record
        groups = {}
        for stored in snapshot.readings:
            key = (stored.reading.rig, stored.reading.material)
            groups[key] = groups.get(key, 0) + (stored.state == "current")
        made.append((record.id, record.question, record.created_at, record.simulated, record.spec,
                     record.planned, record.readings, groups,
                     {one.rig for one in snapshot.fitted},
                     {one.rig.name for one in snapshot.live}))  # fmt: skip
    return made


def outlined(bench):
    return [
        (t.id, t.question, t.created_at, t.simulated, t.spec, t.planned, t.readings,
         {(g.rig, g.material): g.readings for g in t.groups}, set(t.weighed), set(t.live_rigs))
        for t in bench.outlines()
    ]  # fmt: skip


def reading(flow, rig=STOCK.name, **more):
    return Reading(rig, PLA.name, 210.0, flow, 600.0, 1.78, **more)


def weigh_live(bench, trial, rig=STOCK):
    """Begin a live weighing; gives what ends it."""
    spec = short_ramp(rig.name, PLA.name)
    number = live.begin(bench, trial, spec, sections_of(spec), rig, PLA, "G1 X1")
    joint = JointErrors(("L1",), ((1e-6,),), 10.0)
    one = reading(9.0, rig.name, coupon="L1")
    said = LiveFinding((one,), joint, (), 0.0, 0.0, 0.0, 4.0, 3.0, 10, 0.5)
    return lambda: live.store_finding(bench, live.one(bench, number), said)


def test_live_weighings_count_where_no_coupon_does(where):
    bench, trial = stocked(where)
    other = STOCK.model_copy(update={"name": "Wren"})
    with bench:
        bench.save_rig(other)
        assert outlined(bench) == from_rows(bench)
        end = weigh_live(bench, trial, other)
        assert outlined(bench) == from_rows(bench)
        (outline,) = bench.outlines()
        assert (outline.live_rigs, outline.fitted) == (("Wren",), ())
        end()
        assert outlined(bench) == from_rows(bench)
        assert list(bench.outlines()[0].weighed) == ["Wren"]
        bench.record_reading(trial, bench.coupons(trial)[0].coupon, 1.78)
        assert outlined(bench) == from_rows(bench)
        assert list(bench.outlines()[0].weighed) == [STOCK.name]
        bench.void_reading(bench.readings(trial)[0].reading_id, "snipped")
        assert outlined(bench) == from_rows(bench)
        live.void(bench, bench.snapshot(trial).live[0], "the cup leaked")
        assert outlined(bench) == from_rows(bench)
        assert (bench.outlines()[0].live_rigs, bench.outlines()[0].fitted) == (("Wren",), ())


def test_a_list_made_anew_and_one_brought_up_to_date_say_the_same(where):
    bench, trial = stocked(where)
    with bench, open_bench(where) as other:
        assert outlined(bench) == from_rows(bench) != []
        steps = (
            lambda: bench.record_reading(trial, bench.coupons(trial)[0].coupon, 1.78),
            lambda: other.record_reading(trial, bench.coupons(trial)[1].coupon, 1.77),
            lambda: bench.void_reading(bench.readings(trial)[0].reading_id, "snipped"),
            lambda: bench.supersede_reading(bench.readings(trial)[1].reading_id, 1.76),
            lambda: other.create_trial_from_readings(
                "Two rigs?", [reading(8.0), reading(9.0, "Another", void=True)], "t.csv"
            ),
            lambda: bench.create_trial(SPEC, PLAN),
            lambda: bench.replan(bench.trials()[0].id, SPEC, PLAN),
        )
        for step in steps:
            step()
            with open_bench(where) as fresh:
                assert outlined(bench) == outlined(other) == outlined(fresh) == from_rows(bench)
        two = next(t for t in bench.outlines() if t.question == "Two rigs?")
        assert list(two.weighed) == [STOCK.name]
        assert [group.rig for group in two.groups] == [STOCK.name, "Another"]


def test_a_list_takes_as_many_statements_with_many_readings_as_with_few(where):
    bench, _ = stocked(where)
    with bench:
        counts = []
        for number in range(3):
            rows = [reading(8.0 + step / 100) for step in range(1 + 99 * number)]
            bench.create_trial_from_readings(f"Evening {number}?", rows, "t.csv")
            with statements(bench) as sent:
                bench.outlines()
            counts.append(len(sent))
        assert counts[0] == counts[1] + 1  # the plan is read once
        assert counts[1] == counts[2], counts
        assert counts[-1] <= 6
        with statements(bench) as sent:
            bench.outlines()
        assert len(sent) == counts[-1] - 1  # nothing was added, nothing is counted


@pytest.fixture
def shelf(where):
    with open_bench(where) as bench:
        bench.save_material(PLA)
        yield PrintShelf(bench)


def give(shelf, name):
    with shelf.receiving(f"{name}.gcode") as upload:
        upload.write(f"G1 X1 ; {name}".encode())
        return upload.keep()


def test_prints_are_listed_as_they_come_and_as_they_are_replayed(shelf, where):
    names = [f"part {number}" for number in range(4)]
    given = [give(shelf, name) for name in names]
    with open_bench(where) as other:
        assert stored_prints(other) == shelf.all() == given[::-1]
        shelf.store_verdict(given[1], {"verdict": "fine", "time_s": 3.0, "rig": "R"})
        assert [one.last and one.last["rig"] for one in stored_prints(other)] == [None, None, "R",
                                                                                  None]  # fmt: skip
        again = PrintShelf(other)
        with again.receiving("renamed.gcode") as upload:  # the same bytes: it moves up
            upload.write(b"G1 X1 ; part 1")
            moved = upload.keep()
        assert [one.name for one in shelf.all()] == ["renamed.gcode", "part 3.gcode",
                                                     "part 2.gcode", "part 0.gcode"]  # fmt: skip
        assert shelf.all()[0] == moved
        assert moved.last is not None
        shelf.place(given[2].sha256).unlink()
        assert [one.name for one in shelf.here()] == ["renamed.gcode", "part 3.gcode",
                                                      "part 0.gcode"]  # fmt: skip


def test_where_the_folder_was_taken_away_no_print_is_here(shelf):
    stored = give(shelf, "part")
    assert shelf.here() == [stored]
    shutil.rmtree(shelf.folder)
    assert (shelf.here(), shelf.all()) == ([], [stored])


def test_a_print_is_looked_up_without_reading_all_of_them_again(shelf):
    for number in range(5):
        one = give(shelf, f"part {number}")
    with statements(shelf._bench) as sent:
        assert shelf.one(one.id) == one
        shelf.all()
    asked = [text for text in sent if text != "BEGIN"]
    assert len(asked) == 2
    assert all("notes.id > " in text for text in asked)


def test_inside_a_moment_nothing_moves_and_lists_of_trials_are_of_now(where):
    bench, trial = stocked(where)
    with bench:
        coupon = bench.coupons(trial)[0].coupon
        with bench.reading():
            assert bench.snapshot(trial).readings == ()
            worker = threading.Thread(target=bench.record_reading, args=(trial, coupon, 1.78))
            worker.start()
            worker.join()
            assert bench.snapshot(trial).readings == ()
            assert [one.readings for one in bench.outlines()] == [1]
            with bench.reading():
                assert bench.snapshot(trial).readings == ()
            assert bench.snapshot(trial).readings == ()
        assert len(bench.snapshot(trial).readings) == 1
