"""A balance at a virtual port is recorded line by line; what cannot be is said in words."""

import _thread
import functools
import json
import signal
import threading
import time

import pytest
from ramp_case import short_ramp, short_trace
from simulated_balances import LEARNT
from trace_line import TraceLine, cabled_bench, stamps
from virtual_balance import VirtualBalance

from beadworth.core import to_toml
from beadworth.demo import PLA, STOCK
from beadworth.ramp import read_trace_csv
from beadworth.store import open_bench
from beadworth.trial import Cable, CabledBalance, Samples, learn_format
from beadworth.workflow import (
    APPEND_S,
    listen_to,
    live_rows,
    live_weighings,
    ramp_recorder,
    store_balance,
)

SPEC = short_ramp(STOCK.name, PLA.name)
TRACE = short_trace(SPEC, noise_g=4e-4)  # no line stands apart enough to be dropped


@pytest.fixture
def heeded():
    """Ctrl+C as in a terminal: a shell lets what it starts in the background pass it over."""
    before = signal.signal(signal.SIGINT, signal.default_int_handler)
    yield
    signal.signal(signal.SIGINT, before)


@pytest.fixture
def bench(tmp_path):
    kind = LEARNT[0]
    lines = [
        [kind.write(shown + way * n, still, n + 1) for n in range(6)]
        for shown, way, still in ((0, 0, True), (200, 170, False), (1234, 0, True))
    ]
    form = learn_format(Samples(*lines))
    path = tmp_path / "bench"
    with open_bench(path) as store:
        port = str(tmp_path / "balance-port")
        store_balance(
            store, CabledBalance(name="Bench balance", cable=Cable(port=port), lines=form)
        )
    return path


def put_once_it_records(balance, folder):
    """Put 25 g on when ten lines are written."""
    end = time.monotonic() + 60
    while time.monotonic() < end:
        if any(part.read_text().count("\n") > 10 for part in folder.glob("*t.csv*")):
            break
        time.sleep(0.05)
    balance.put(2500)


def test_a_rising_mass_is_recorded(beadworth, bench, tmp_path):
    with VirtualBalance(tmp_path) as balance:
        climb = threading.Thread(target=put_once_it_records, args=(balance, tmp_path))
        climb.start()
        done = beadworth("ramp", "record", "Bench balance", "--out", tmp_path / "t.csv",
                         "--minutes", "0.06", "--bench", bench, "--json")  # fmt: skip
        climb.join()
    assert done.code == 0, done.err
    answer = json.loads(done.out)["recorded"]
    trace = read_trace_csv((tmp_path / "t.csv").read_text())
    assert answer["rows"] == len(trace.time_s) > 60
    assert trace.mass_g[0] == 0.0
    assert trace.mass_g[-1] == pytest.approx(25.0)
    assert trace.stable[-1]
    assert not trace.stable.all()
    assert trace.seconds == pytest.approx(3.5, abs=0.6)


def test_a_silent_balance_leaves_no_file(beadworth, bench, tmp_path):
    with VirtualBalance(tmp_path) as balance:
        balance.silent = True
        done = beadworth("ramp", "record", "Bench balance", "--out", tmp_path / "t.csv",
                         "--minutes", "0.01", "--bench", bench)  # fmt: skip
    assert done.code == 8
    assert not list(tmp_path.glob("t.csv*"))


def let_and_interrupt(bench, line, until, over):
    """Let lines come once the recording has begun, and press Ctrl+C when they are on the bench."""

    def run():
        end = time.monotonic() + 60
        while not live_weighings(bench) and line.until < 200:
            line.let(line.until + 1)  # a port that is opened drops what came before
            time.sleep(0.1)
        time.sleep(0.3)
        line.let(until)
        wanted = (until or TRACE.time_s.size) - 230
        number = live_weighings(bench)[0].number
        while live_rows(bench, number) < wanted and time.monotonic() < end:
            time.sleep(0.05)
        if not over.is_set():
            _thread.interrupt_main()

    thread = threading.Thread(target=run)
    thread.start()
    return thread


@pytest.mark.usefixtures("heeded")
def test_a_ramp_is_recorded_onto_the_bench_stopped_and_gone_on_with(
    beadworth, tmp_path, monkeypatch
):
    assert APPEND_S < 4.5, "less than 5 s is lost where the computer stops"
    monkeypatch.setattr(ramp_recorder, "RampRecorder",
                        functools.partial(ramp_recorder.RampRecorder, append_s=0.2))  # fmt: skip
    ramp = tmp_path / "ramp.toml"
    ramp.write_text(to_toml(SPEC))
    with cabled_bench(tmp_path) as bench, TraceLine(tmp_path, TRACE.mass_g) as line:
        ticks = stamps(0.5)
        monkeypatch.setattr(ramp_recorder, "listen_to", functools.partial(listen_to, stamp=ticks))
        record = ("ramp", "record", "Bench balance", "--bench", tmp_path / "a.bench", "--json")
        over = threading.Event()
        pressing = let_and_interrupt(bench, line, 700, over)
        short = beadworth(*record, ramp, "--note", "new nozzle")
        over.set()
        pressing.join()
        (one,) = live_weighings(bench)
        assert (one.standing, one.balance, one.note) == (
            "not read yet", "Bench balance", "new nozzle"
        )  # fmt: skip
        (problem,) = json.loads(short.out)["error"]["problems"]
        kept = f"The trace is on the bench as {one.name} of trial {one.trial}."
        assert problem["remedy"].endswith(f"the ramp it belongs to. {kept}")
        over.clear()
        pressing = let_and_interrupt(bench, line, None, over)
        done = beadworth(*record, "--go-on", str(one.number), "--out", tmp_path / "t.csv")
        over.set()
        pressing.join()
        assert done.code == 0, done.err
        (one,) = live_weighings(bench)
    assert json.loads(done.out)["stored"]["standing"] == one.standing == "used"
    assert (one.finding.ended, one.trial) == ("ended in the terminal", one.trial)
    rows = read_trace_csv((tmp_path / "t.csv").read_text())
    assert one.finding.rows == rows.time_s.size > TRACE.time_s.size - 250
    again = beadworth(*record, "--go-on", str(one.number))
    assert f"{one.name} is over: used." in json.loads(again.out)["error"]["message"]


def test_what_does_not_go_together_is_said(beadworth, bench, tmp_path):
    for given, words in (
        ((), "neither a ramp record nor a table to write is named."),
        (("--trial", "a-1"), "neither a ramp record nor a table to write is named."),
        (("--out", "t.csv", "--note", "b"), "a trial or a note is given, and no ramp record."),
        (("--go-on", "3", "--trial", "a-1"),
         "a recording that goes on has its ramp, trial and note."),
    ):  # fmt: skip
        refused = beadworth("ramp", "record", "Bench balance", *given, "--bench", bench, "--json")
        assert json.loads(refused.out)["error"]["problems"][0]["what"] == words, given
