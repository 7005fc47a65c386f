"""A recording that is killed: what was appended is on the bench, and is gone on with."""

import signal
import subprocess
import sys
import time

from ramp_case import short_ramp, short_trace
from trace_line import TraceLine, cabled_bench

from beadworth.demo import PLA, STOCK
from beadworth.workflow import (
    Ramp,
    RampRecorder,
    begin_live,
    listen_to,
    live_table,
    live_weighing,
)

SPEC = short_ramp(STOCK.name, PLA.name)
TRACE = short_trace(SPEC, noise_g=4e-4)
KILLED = """
import itertools, sys, time
from beadworth.store import open_bench
from beadworth.workflow import RampRecorder, listen_to, live_weighing, ramp_of_live

with open_bench(sys.argv[1]) as bench:
    one = live_weighing(bench, int(sys.argv[2]))
    stamp = itertools.count(0.0, 0.5).__next__
    with listen_to(bench, "Bench balance", stamp=stamp) as listener:
        RampRecorder(bench, listener, ramp_of_live(one), one, append_s=0.2)
        print("records", flush=True)
        time.sleep(600)
"""


def rows_of(bench, number):
    return live_table(bench, number).count("\n") - 1


def test_a_process_that_is_killed_leaves_the_trace_so_far(tmp_path):
    with cabled_bench(tmp_path) as bench, TraceLine(tmp_path, TRACE.mass_g) as line:
        one = begin_live(bench, Ramp(SPEC, STOCK, PLA), balance="Bench balance")
        with subprocess.Popen(
            [sys.executable, "-c", KILLED, str(tmp_path / "a.bench"), str(one.number)],
            stdout=subprocess.PIPE, text=True,
        ) as process:  # fmt: skip
            assert process.stdout.readline() == "records\n"
            line.let(300)
            end = time.monotonic() + 60
            while rows_of(bench, one.number) < 299 and time.monotonic() < end:
                time.sleep(0.05)
            process.send_signal(signal.SIGKILL)
        assert rows_of(bench, one.number) == 299
        assert live_weighing(bench, one.number).standing == "not read yet"
        assert bench.check().findings == ()
        with listen_to(bench, "Bench balance") as listener:
            recorder = RampRecorder(bench, listener, Ramp(SPEC, STOCK, PLA), one, append_s=0.2)
            line.let(340)
            while recorder.progress().rows < 330 and time.monotonic() < end:
                time.sleep(0.05)
            recorder.stop()
        trace = recorder.trace()
        assert rows_of(bench, one.number) == trace.time_s.size >= 330
        assert (trace.time_s[1:] >= trace.time_s[:-1]).all()
