"""Entries that wait are stored together; each hears of its own alone."""

import subprocess
import sys
import threading
import time

import pytest
from bench_support import stocked
from statements import statements

from beadworth.core.errors import BeadworthError, BenchError
from beadworth.store import entries, entries_by, open_bench
from beadworth.store.readings import Weighing


@pytest.fixture
def bench_trial(where):
    bench, trial = stocked(where)
    yield bench, trial
    bench.close()


def run_waiting(bench, threads):
    """Let these wait, in their order, for who has the turn; then let them enter, to the end."""
    with bench._together._turn:
        for n, thread in enumerate(threads):
            thread.start()
            while len(bench._together._waiting) <= n:
                time.sleep(0.001)
    for thread in threads:
        thread.join()


def together(bench, asked):
    """Enter these at once, as those that waited while somebody else wrote; what each heard."""
    heard = [None] * len(asked)

    def enter(n, who, trial, coupon, weighing):
        with entries_by(who):
            try:
                heard[n] = bench._together.enter(trial, coupon, weighing)
            except BeadworthError as error:
                heard[n] = error

    run_waiting(
        bench, [threading.Thread(target=enter, args=(n, *one)) for n, one in enumerate(asked)]
    )
    return heard


def test_those_that_wait_are_stored_in_one_transaction_under_their_own_names(bench_trial):
    bench, trial = bench_trial
    coupons = [c.coupon for c in bench.coupons(trial)]
    assert len(coupons) == 8
    bench.void_reading(bench.record_reading(trial, coupons[0], 1.7).reading_id, "so it is warm")
    writes = bench.writes
    asked = [(f"client {n}", trial, coupon, Weighing(1.7 + n / 100, entry_key=f"key-{n}"))
             for n, coupon in enumerate(coupons)]  # fmt: skip
    asked[3] = (None, *asked[3][1:])
    with statements(bench) as sent:
        heard = together(bench, asked)
    assert bench.writes == writes + 1
    assert len(sent) <= 10
    assert [(h.reading.coupon, h.reading.mass_g, h.author) for h in heard] == [
        (coupon, weighing.mass_g, who) for who, _, coupon, weighing in asked
    ]
    kept = {s.reading_id: s for s in bench.readings(trial)}
    assert [kept[h.reading_id] for h in heard] == heard
    assert bench.check().sound


def test_one_that_is_refused_stops_no_other(bench_trial):
    bench, trial = bench_trial
    coupons = [c.coupon for c in bench.coupons(trial)]
    bench.record_reading(trial, coupons[0], 1.7)
    other = bench.create_trial(bench.trial(trial).spec, bench.trial(trial).plan).id
    asked = [
        ("a", trial, coupons[0], Weighing(1.7)),  # has a reading
        ("b", trial, "Z99", Weighing(1.7)),
        ("c", "no-such-trial", "A01", Weighing(1.7)),
        ("d", trial, coupons[1], Weighing(17.0)),  # cannot weigh that
        ("e", trial, coupons[2], Weighing(1.71)),
        ("f", trial, coupons[2], Weighing(1.72)),  # of two for one coupon the first counts
        ("g", trial, coupons[3], Weighing(1.73, entry_key="same-key")),
        ("h", trial, coupons[3], Weighing(1.73, entry_key="same-key")),  # sent twice
        ("i", trial, coupons[4], Weighing(1.73, entry_key="same-key")),  # another under its key
        ("j", other, coupons[0], Weighing(1.74)),
    ]
    heard = together(bench, asked)
    kinds = [getattr(one, "kind", "stored") for one in heard]
    assert kinds == ["conflict", "not-found", "not-found", "readings", "stored", "conflict",
                     "stored", "stored", "conflict", "stored"]  # fmt: skip
    assert heard[6] == heard[7]
    assert f"coupon {coupons[2]} has a reading that counts already (reading" in str(heard[5])
    assert [s.author for s in bench.readings(trial)] == [None, "e", "g"]
    assert [s.author for s in bench.readings(other)] == ["j"]
    assert bench.check().sound


def test_a_text_that_cannot_be_stored_stops_no_other(bench_trial):
    bench, trial = bench_trial
    asked = [
        (n, trial, coupon, Weighing(1.7, note=note))
        for n, coupon, note in (("a", "A01", "fine"), ("b", "A02", "a\0b"), ("c", "A03", None))
    ]
    heard = together(bench, asked)
    assert [getattr(one, "kind", "stored") for one in heard] == ["stored", "input", "stored"]
    assert [s.reading.coupon for s in bench.readings(trial)] == ["A01", "A03"]
    assert bench.check().sound


def test_more_than_fit_are_stored_in_turns(bench_trial, monkeypatch):
    monkeypatch.setattr(entries, "MOST", 3)
    bench, trial = bench_trial
    coupons = [c.coupon for c in bench.coupons(trial)]
    heard = together(bench, [("a", trial, coupon, Weighing(1.7)) for coupon in coupons])
    assert [one.reading.coupon for one in heard] == coupons


def test_where_the_bench_is_gone_all_hear_of_it_and_nobody_waits(tmp_path, empty_bench):
    path = empty_bench(tmp_path / "x.bench")
    bench, trial = stocked(path)
    with bench:
        path.rename(tmp_path / "y.bench")
        heard = together(bench, [("a", trial, c, Weighing(1.7)) for c in ("A01", "A02", "A03")])
        assert all(isinstance(one, BenchError) for one in heard)
        assert bench.readings(trial) == []


def test_whoever_is_interrupted_leaves_nobody_waiting(bench_trial, monkeypatch):
    bench, trial = bench_trial

    def interrupted(*_):
        raise KeyboardInterrupt

    monkeypatch.setattr(entries, "record_all", interrupted)
    heard = []

    def enter():
        try:
            bench.record_reading(trial, "A02", 1.7)
        except BenchError as error:
            heard.append(str(error))
        except KeyboardInterrupt:
            heard.append("interrupted")

    run_waiting(bench, [threading.Thread(target=enter) for _ in range(3)])
    assert heard.count("interrupted") == 1
    assert sum("was interrupted while this was stored" in one for one in heard) == 2
    assert bench.readings(trial) == []


def test_a_bench_opened_twice_in_one_program_survives_another_one(tmp_path):
    """The second opening must not take away the locks of the first: the log would be lost."""
    place = tmp_path / "one.bench"
    store = (
        "import sys\nfrom beadworth.store import open_bench\n"
        "with open_bench(sys.argv[1]) as bench:\n    bench.add_note('other', 'program', {})\n"
    )
    with open_bench(place) as bench:
        bench.add_note("this", "program", {})
        with open_bench(place) as again:
            assert len(again.notes("this")) == 1
        for count in (1, 2):
            subprocess.run([sys.executable, "-c", store, str(place)], check=True)
            assert len(bench.notes("other")) == count
            bench.add_note("this", "program", {})
    with open_bench(place) as bench:
        assert (len(bench.notes("this")), len(bench.notes("other"))) == (3, 2)
