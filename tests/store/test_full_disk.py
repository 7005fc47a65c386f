"""Restoring onto a full disk: the bench that was there stays whole, and the refusal says so.

A limit on the size of a file makes the disk "full" at any byte without filling one: every
write that would pass it fails, in the copy, in the log and in the file itself.
"""

import shutil
from pathlib import Path

import pytest
from bench_support import stocked
from forked import ran

from beadworth.store import open_bench

pytest.importorskip("resource", reason="this system has no limit on the size of a file")

EARLIER = Path(__file__).parent / "data" / "tables-0001.bench"
RESTORE = """
import os, resource, sys
from pathlib import Path
import alembic.command, alembic.config  # so that no file is compiled under the limit
from beadworth.store import restore_bench
from beadworth.core import BenchError

def no_links(*_, **__):
    raise OSError("this file system has no links")

limit = int(sys.argv[3])
if sys.argv[4] == "no links":
    os.link = no_links
resource.setrlimit(resource.RLIMIT_FSIZE, (limit, limit))
try:
    restore_bench(Path(sys.argv[1]), sys.argv[2], replace=True)
except BenchError as error:
    print(error)
else:
    print("restored")
"""


def restored_under(limit, copy, place, links="links"):
    """What a restore says in a process whose files cannot grow beyond a number of bytes."""
    return ran(RESTORE, copy, place, str(limit), links).stdout


@pytest.fixture
def place(tmp_path):
    """A bench with one reading."""
    (tmp_path / "here").mkdir()
    bench, trial = stocked(tmp_path / "here" / "a.bench")
    with bench:
        bench.record_reading(trial, "A01", 1.78)
    return tmp_path / "here" / "a.bench"


@pytest.fixture
def copy(tmp_path):
    """A backup without that reading."""
    bench, _ = stocked(tmp_path / "other.bench")
    with bench:
        return bench.backup(tmp_path / "copy.bench").path


def weighed(place):
    with open_bench(place) as bench:
        assert bench.check().findings == ()
        return [reading.mass_g for trial in bench.trials()
                for reading in bench.current_readings(trial.id)]  # fmt: skip


def assert_refused_and_as_it_was(said, copy, place):
    assert said.startswith(f"{place}: {copy} could not be restored: ")
    assert said.endswith("Make room on the disk or take another backup, then restore again; "
                         "nothing was replaced.\n")  # fmt: skip
    assert [path.name for path in place.parent.iterdir()] == [place.name]
    assert weighed(place) == [1.78]


@pytest.mark.parametrize("share", [0, 0.01, 0.5, 0.99])
def test_a_disk_that_is_full_before_the_copy_is_whole(place, copy, share):
    limit = int(share * copy.stat().st_size)
    assert_refused_and_as_it_was(restored_under(limit, copy, place), copy, place)


@pytest.mark.parametrize("more", [0, 4096])
def test_a_disk_too_full_for_the_tables_of_this_release(place, tmp_path, more):
    """The copy fits and its new tables fit in the log, but not in the file."""
    copy = Path(shutil.copy(EARLIER, tmp_path / "earlier.bench"))
    limit = copy.stat().st_size + more
    assert_refused_and_as_it_was(restored_under(limit, copy, place), copy, place)


def test_a_disk_too_full_to_keep_the_bench_that_was_there(place, copy):
    """Without links the bench is copied aside; it is larger than the backup here."""
    with open_bench(place) as bench:
        for number in range(40):
            bench.add_note("wear", "A", {"hours": number, "what": "x" * 2000})
    limit = copy.stat().st_size + 40_000
    assert limit < place.stat().st_size
    assert_refused_and_as_it_was(restored_under(limit, copy, place, "no links"), copy, place)


@pytest.mark.parametrize("links", ["links", "no links"])
def test_with_room_it_is_restored_and_the_other_kept(place, copy, links):
    assert restored_under(4 * copy.stat().st_size, copy, place, links) == "restored\n"
    assert weighed(place) == []
    (kept,) = place.parent.glob("a.bench.before-*")
    assert weighed(kept) == [1.78]


def test_where_no_bench_was_there_is_none_after(tmp_path, copy):
    assert "could not be restored" in restored_under(50_000, copy, tmp_path / "new" / "a.bench")
    assert list((tmp_path / "new").iterdir()) == []
