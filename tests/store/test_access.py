"""Entries sent twice are stored once, every row says who made it, a right ends once."""

import threading
from datetime import UTC, datetime, timedelta

import pytest
from bench_support import stocked
from forked import started

from beadworth.core.errors import ConflictError, InputError, NotFoundError
from beadworth.store import NewGrant, entries_by, open_bench


@pytest.fixture
def bench_trial(where):
    bench, trial = stocked(where)
    yield bench, trial
    bench.close()


def test_a_weighing_sent_twice_under_its_key_is_one_reading(bench_trial):
    bench, trial = bench_trial
    first = bench.record_reading(trial, "A01", 1.78, tare_g=0.1, entry_key="k1")
    assert bench.record_reading(trial, "A01", 1.78, tare_g=0.1, entry_key="k1") == first
    assert len(bench.readings(trial)) == 1
    with pytest.raises(ConflictError, match="has a reading that counts already"):
        bench.record_reading(trial, "A01", 1.78, tare_g=0.1, entry_key="k2")
    assert bench.check().sound


def test_a_voided_weighing_that_is_sent_again_stays_void(bench_trial):
    bench, trial = bench_trial
    first = bench.record_reading(trial, "A01", 1.78, entry_key="k1")
    bench.void_reading(first.reading_id, "snipped short")
    again = bench.record_reading(trial, "A01", 1.78, entry_key="k1")
    assert (again.reading_id, again.state) == (first.reading_id, "voided")
    assert bench.current_readings(trial) == []


def test_a_weighing_in_anothers_place_sent_twice_takes_it_once(bench_trial):
    bench, trial = bench_trial
    first = bench.record_reading(trial, "A01", 1.78)
    second = bench.supersede_reading(first.reading_id, 1.77, entry_key="k2")
    again = bench.supersede_reading(first.reading_id, 1.77, entry_key="k2")
    assert again.reading_id == second.reading_id
    assert [s.state for s in bench.readings(trial)] == ["superseded", "current"]


@pytest.mark.parametrize(("coupon", "mass_g"), [("A02", 1.78), ("A01", 1.79)])
def test_a_key_that_stands_for_something_else_is_refused(bench_trial, coupon, mass_g):
    bench, trial = bench_trial
    bench.record_reading(trial, "A01", 1.78, entry_key="k1")
    with pytest.raises(ConflictError, match="this entry's key stands for another entry already"):
        bench.record_reading(trial, coupon, mass_g, entry_key="k1")
    assert len(bench.readings(trial)) == 1


def test_a_note_sent_twice_under_its_key_is_one(bench_trial):
    bench, trial = bench_trial
    first = bench.add_note("journal", trial, {"entry": 1}, "k1")
    assert bench.add_note("journal", trial, {"entry": 1}, "k1") == first
    with pytest.raises(ConflictError, match="another entry"):
        bench.add_note("wear", trial, {}, "k1")
    assert len(bench.notes(["journal", "wear"])) == 1


SENDER = """
import sys
from beadworth.store import open_bench
with open_bench(sys.argv[1]) as bench:
    for n, coupon in enumerate(bench.coupons(sys.argv[2])):
        bench.record_reading(sys.argv[2], coupon.coupon, 1.7 + n / 100, entry_key=f"key-{n}")
"""


def test_two_processes_that_send_the_same_entries_store_each_once(bench_trial, where):
    bench, trial = bench_trial
    for process in [started(SENDER, where, trial) for _ in range(2)]:
        done = process.end()
        assert done.returncode == 0, done.stderr
    assert len(bench.readings(trial)) == len(bench.coupons(trial))
    assert bench.check().sound


def test_every_row_says_who_made_it_in_other_threads_too(bench_trial):
    bench, trial = bench_trial
    bench.record_reading(trial, "A01", 1.78)
    with entries_by("phone 1"):
        bench.record_reading(trial, "A02", 1.78)
        bench.void_reading(bench.record_reading(trial, "A03", 1.78).reading_id, "torn")
        note = bench.add_note("wear", trial, {})
    assert [s.author for s in bench.readings(trial)] == [None, "phone 1", "phone 1"]
    assert [n.author for n in bench.notes("wear")] == [note.author] == ["phone 1"]
    elsewhere = []
    with entries_by("phone 2"):
        thread = threading.Thread(
            target=lambda: elsewhere.append(bench.record_reading(trial, "A04", 1.78).author)
        )
        thread.start()
        thread.join()
    assert elsewhere == [None]  # a thread of its own is nobody's; a request hands its context on
    assert bench.check().sound
    with entries_by("n" * 81), pytest.raises(InputError, match="81 characters are more than"):
        bench.add_note("wear", trial, {})


def test_a_right_that_serves_once_is_exchanged_once(bench_trial):
    bench, trial = bench_trial
    until = datetime(2026, 11, 30, 21, 0, tzinfo=UTC)
    code = bench.give(NewGrant("code", "code", "weigh-in", "c" * 64, until, trial))
    seen = []

    def phone(grants):
        seen.append([grant.state for grant in grants])
        return NewGrant("phone", "phone 1", "weigh-in", "f" * 64, until + timedelta(1), trial)

    with entries_by("owner"):
        made = bench.exchange(code.id, phone)
    assert seen == [["used"]]
    assert (made.kind, made.trial, made.state, made.author) == ("phone", trial, "open", "owner")
    with pytest.raises(ConflictError, match="code was used already"):
        bench.exchange(code.id, phone)
    assert [(g.kind, g.state) for g in bench.grants()] == [("code", "used"), ("phone", "open")]
    assert bench.grants("phone", begins="ff") == [made]
    assert bench.grants("phone", begins="fe") == bench.grants(begins="%") == []
    assert bench.withdraw(made.id).state == "withdrawn"
    with pytest.raises(ConflictError, match="phone 1 was withdrawn already"):
        bench.withdraw(made.id)
    for number in (0, -1, 99, 2**40):
        with pytest.raises(NotFoundError, match="was ever given"):
            bench.withdraw(number)
    assert bench.check().sound


def test_an_exchange_that_fails_leaves_the_code_as_it_was(bench_trial):
    bench, trial = bench_trial
    code = bench.give(NewGrant("code", "code", "weigh-in", "c" * 64, None, trial))
    with pytest.raises(InputError):
        bench.exchange(code.id, lambda _: NewGrant("phone", "n" * 99, "weigh-in", "f" * 64))
    assert [g.state for g in bench.grants()] == ["open"]


EXCHANGER = """
import sys
from beadworth.core import ConflictError
from beadworth.store import NewGrant, open_bench
where, code, me = sys.argv[1:]
with open_bench(where) as bench:
    print("here", flush=True)
    sys.stdin.readline()
    try:
        bench.exchange(int(code), lambda _: NewGrant("phone", me, "weigh-in", 64 * me))
        print("in", flush=True)
    except ConflictError:
        print("out", flush=True)
"""


def test_of_two_that_use_a_code_at_once_one_gets_in(bench_trial, where):
    bench, trial = bench_trial
    code = bench.give(NewGrant("code", "code", "weigh-in", "c" * 64, None, trial))
    both = [started(EXCHANGER, where, code.id, str(n)) for n in (1, 2)]
    assert [one.stdout.readline() for one in both] == ["here\n"] * 2
    for one in both:
        one.stdin.write("\n")
        one.stdin.flush()
    assert sorted(one.end().stdout.strip() for one in both) == ["in", "out"]
    assert len(bench.grants("phone")) == 1


def test_rows_of_an_earlier_release_have_no_author(tmp_path):
    from pathlib import Path

    kept = Path(__file__).parent / "data" / "tables-0003.bench"
    path = tmp_path / "old.bench"
    path.write_bytes(kept.read_bytes())
    with open_bench(path) as bench:
        (trial,) = bench.trials()
        assert {s.author for s in bench.readings(trial.id)} == {None}
        assert bench.grants() == []
