"""A balance at a virtual port is recorded line by line; what cannot be is said in words."""

import json
import threading

import pytest
from simulated_balances import LEARNT
from virtual_balance import VirtualBalance

from beadworth.ramp import read_trace_csv
from beadworth.store import open_bench
from beadworth.trial import Cable, CabledBalance, Samples, learn_format
from beadworth.workflow import store_balance


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


def test_a_rising_mass_is_recorded(beadworth, bench, tmp_path):
    with VirtualBalance(tmp_path) as balance:
        climb = threading.Timer(0.8, balance.put, (2500,))
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
