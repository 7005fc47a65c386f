"""Nothing answered is lost: kill −9 between entries, and two writers at once."""

import random
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from bench_support import PLAN, SPEC, stocked

from beadworth.bench import open_bench
from beadworth.demo import PLA, STOCK
from beadworth.trial import plan

FOLDER = Path(__file__).parent
WRITER = """
import sys
sys.path.insert(0, {folder!r})
from beadworth.bench import open_bench
bench = open_bench({path!r})
for number, coupon in enumerate(bench.coupons({trial!r})):
    bench.record_reading({trial!r}, coupon.coupon, 1.5 + number / 1000)
    print(coupon.coupon, flush=True)
"""


def start(path, trial, script=WRITER):
    code = script.format(folder=str(FOLDER), path=str(path), trial=trial)
    return subprocess.Popen([sys.executable, "-c", code], stdout=subprocess.PIPE, text=True)


@pytest.mark.parametrize("seed", range(4))
def test_kill_in_the_middle_of_200_entries_loses_none_that_was_answered(tmp_path, seed):
    path = tmp_path / "k.bench"
    spec = SPEC.model_copy(update={"flows_mm3_s": tuple(4 + i / 4 for i in range(20)),
                                   "replicates": 10})  # fmt: skip
    with open_bench(path) as bench:
        bench.save_rig(STOCK)
        bench.save_material(PLA)
        trial = bench.create_trial(spec, plan(spec, {STOCK.name: STOCK}, PLA)).id
        assert len(bench.coupons(trial)) > 200
    process = start(path, trial)
    answered = [process.stdout.readline().strip()]  # it is in the middle now
    time.sleep(random.Random(seed).uniform(0.02, 0.5))
    process.send_signal(signal.SIGKILL)
    answered += process.stdout.read().split()
    process.wait()
    process.stdout.close()
    assert answered[0]
    with open_bench(path) as bench:
        kept = {reading.coupon for reading in bench.current_readings(trial)}
        assert set(answered) <= kept
        assert len(kept) <= len(answered) + 1  # one may be stored and not yet answered
        assert bench.check().sound


DIFFERENT = """
import sys
from beadworth.bench import open_bench
from beadworth.errors import ConflictError
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
        taken += process.communicate(timeout=60)[0].split()
        assert process.returncode == 0
    assert sorted(taken) == sorted(coupon.coupon for coupon in PLAN.coupons)
    with open_bench(where) as again:
        assert len(again.current_readings(trial)) == len(PLAN.coupons)
        assert again.check().sound
