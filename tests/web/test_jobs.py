"""Jobs: begun once by key, followed, handed out again, tried anew when they fail, and bounded."""

from __future__ import annotations

import logging
import threading
from concurrent.futures import ThreadPoolExecutor

import pytest

from beadworth.core import InputError, Problem
from beadworth.web.jobs import STORED_MOST, Jobs


def start(jobs, key, work, **more):
    return jobs.start(key, work, words="Counting", **more)


def test_a_job_says_how_far_it_is_and_gives_its_result():
    jobs, seen, go = Jobs(at_once=1), threading.Event(), threading.Event()

    def work(job):
        job.progress(3, step="pages")
        seen.set()
        assert go.wait(30)
        job.progress(12, total=8)
        return "done"

    job = start(jobs, "a", work, total=4, detail=lambda j: f"{j.count} of {j.total} {j.step}")
    assert seen.wait(30)
    assert (job.share, job.detail(job), job.wait(0)) == (0.75, "3 of 4 pages", False)
    go.set()
    assert job.answer() == "done"
    assert (job.share, job.detail(job)) == (1.0, "12 of 8 pages")
    assert start(Jobs(at_once=1), "b", lambda job: None).share is None


def test_many_who_ask_at_once_share_one_job():
    jobs, begun = Jobs(at_once=2), []

    def work(job):
        begun.append(job)
        return len(begun)

    with ThreadPoolExecutor(16) as pool:
        found = list(pool.map(lambda _: start(jobs, "same", work), range(64)))
    assert {id(job) for job in found} == {id(found[0])}
    assert (found[0].answer(), len(begun)) == (1, 1)
    assert start(jobs, "same", work) is found[0]
    anew = start(jobs, "same", work, anew=True)
    assert anew is not found[0]
    assert anew.answer() == 2


def test_a_refusal_is_given_to_who_asks_and_the_next_try_begins_anew(caplog):
    jobs, faults = Jobs(at_once=1), [InputError(Problem("no print.")), ZeroDivisionError("oops")]

    def work(job):
        if faults:
            raise faults.pop(0)
        return "well"

    with caplog.at_level(logging.ERROR):
        with pytest.raises(InputError, match="no print"):
            start(jobs, "a", work).answer()
        assert not caplog.records, "a refusal is no fault of ours"
        with pytest.raises(ZeroDivisionError):
            start(jobs, "a", work).answer()
    assert [record.exc_info[0] for record in caplog.records] == [ZeroDivisionError]
    assert start(jobs, "a", work).answer() == "well"


def test_no_more_run_at_once_than_may():
    jobs, lock, now, most = Jobs(at_once=2), threading.Lock(), [0], [0]

    def work(job):
        with lock:
            now[0] += 1
            most[0] = max(most[0], now[0])
        threading.Event().wait(0.02)
        with lock:
            now[0] -= 1

    for job in [start(jobs, n, work) for n in range(8)]:
        job.answer()
    assert most[0] == 2


def test_the_one_asked_for_longest_ago_goes_first_and_its_folder_with_it():
    jobs = Jobs(at_once=2)

    def work(job):
        (job.folder / "kept").write_text("x")

    made = []
    for n in range(STORED_MOST):
        made.append(start(jobs, n, work))
        made[-1].answer()
    start(jobs, 0, work)  # asked for again: number 1 is now the oldest
    start(jobs, "one more", work).answer()
    assert jobs.find(0) is made[0]
    assert (jobs.find(1), made[1].folder.exists()) == (None, False)
    assert (made[0].folder / "kept").exists()
    assert jobs.numbered(made[0].number) is made[0]
    assert jobs.numbered(made[1].number) is None


def test_one_that_is_dropped_while_it_runs_leaves_nothing_behind():
    jobs, go = Jobs(at_once=1), threading.Event()

    def work(job):
        assert go.wait(30)
        (job.folder / "late").write_text("x")
        return "late"

    job = start(jobs, ("a", 1), work)
    jobs.drop(lambda key: key[0] == "a")
    assert jobs.find(("a", 1)) is None
    go.set()
    assert job.answer() == "late"
    assert not job.folder.exists()


def test_what_a_killed_server_left_goes_after_a_day(tmp_path):
    import os
    import time

    from beadworth.web.jobs import PREFIX, STALE_S

    old, new, other = tmp_path / f"{PREFIX}old", tmp_path / f"{PREFIX}new", tmp_path / "prints"
    for folder in (old, new, other):
        folder.mkdir()
        os.utime(folder, (time.time() - (STALE_S - 60 if folder is new else STALE_S + 60),) * 2)
    jobs = Jobs(at_once=1, within=tmp_path)
    assert (old.exists(), new.exists(), other.exists()) == (False, True, True)
    assert jobs.folder.parent == tmp_path
