"""A bench that is served: closed on every signal, settled when idle, its seals looked at."""

from __future__ import annotations

import os
import shutil
import signal
import threading
import time
from contextlib import suppress

import httpx2 as httpx
import pytest
from nursery import alive

from beadworth.core import BeadworthError, from_mapping
from beadworth.store import open_bench
from beadworth.trial import TrialSpec
from beadworth.web.watch import tell_findings
from beadworth.workflow.trial import make_plan


@pytest.fixture
def evening(tmp_path, records, spec):
    """A bench with a planned trial: its file and the trial's id."""
    path = tmp_path / "evening.bench"
    with open_bench(path) as bench:
        for rig in records["rigs"]:
            bench.save_rig(rig)
        bench.save_material(records["material"])
        asked = from_mapping(TrialSpec, spec, "test")
        return path, bench.create_trial(asked, make_plan(bench, asked)).id


def weigh(address, trial, coupon):
    return httpx.post(
        f"{address}/trials/{trial}/readings",
        data={"coupon": coupon, "mass_g": "1.7"},
        headers={"HX-Request": "true"},
    )


@pytest.mark.parametrize("how", [signal.SIGTERM, signal.SIGHUP, signal.SIGINT])
def test_every_signal_to_end_leaves_one_whole_file(server, evening, tmp_path, how):
    if signal.getsignal(how) is signal.SIG_IGN:
        pytest.skip("started so that this signal is ignored (nohup), and so are its children")
    path, trial = evening
    running = server(path)
    assert weigh(running.address, trial, "A01").status_code == 200
    os.kill(running.process, how)
    deadline = time.monotonic() + 60
    while alive(running.process):
        assert time.monotonic() < deadline
        time.sleep(0.01)
    assert not path.with_name(path.name + "-wal").exists()
    shutil.copy(path, tmp_path / "copy.bench")
    with open_bench(tmp_path / "copy.bench") as copy:
        assert len(copy.current_readings(trial)) == 1


def test_an_idle_server_brings_its_log_into_the_file(server, evening, tmp_path):
    path, trial = evening
    running = server(path)
    assert weigh(running.address, trial, "A01").status_code == 200
    deadline = time.monotonic() + 60
    count, copies = 0, 0
    while count != 1:  # a copy of the file alone, without its log
        assert time.monotonic() < deadline
        copies += 1
        copy = shutil.copy(path, tmp_path / f"{copies}.bench")
        with suppress(BeadworthError), open_bench(copy) as opened:  # copied while it was written
            count = len(opened.current_readings(trial))
        time.sleep(0.2)


def test_what_was_changed_around_a_served_bench_is_said(evening, capsys):
    path, trial = evening
    with open_bench(path) as bench:
        bench.record_reading(trial, "A01", 1.78)
        tell_findings(bench)
    assert capsys.readouterr().err == ""
    data = path.read_bytes()
    path.write_bytes(data.replace(b'"mass_g": 1.78', b'"mass_g": 1.28'))
    with open_bench(path) as bench:
        tell_findings(bench)
    assert "row 1 of readings is not what was stored" in capsys.readouterr().err


def test_an_entry_into_a_renamed_bench_is_refused(client, bench, tmp_path, records):
    (tmp_path / "test.bench").rename(tmp_path / "renamed.bench")
    said = client.put("/api/rigs/x", json={})
    assert said.status_code >= 400
    said = client.post("/demo")
    assert said.status_code == 503
    assert "moved, replaced or deleted" in said.text


def test_the_demo_pressed_twice_at_once_is_there_once(client, bench, monkeypatch):
    """Slow enough that the second press comes while the first is at work."""
    from beadworth import demo

    running, most = [0], [0]

    def seed(_):
        running[0] += 1
        most[0] = max(most[0], running[0])
        time.sleep(0.2)
        running[0] -= 1

    monkeypatch.setattr(demo, "seed", seed, raising=False)
    monkeypatch.setattr(demo, "seed_packages", lambda _: None, raising=False)
    presses = [threading.Thread(target=client.post, args=("/demo",)) for _ in range(3)]
    for press in presses:
        press.start()
    for press in presses:
        press.join()
    assert most == [1]


@pytest.mark.parametrize("number", ["1e999", "-1e999", "9" * 30, "9" * 400, "9" * 5000])
@pytest.mark.parametrize("path", ["/api/worth", "/api/materials/x", "/api/trials"])
def test_a_number_out_of_range_is_refused_by_name(client, path, number):
    method = client.put if "materials" in path else client.post
    said = method(path, content=f'{{"name": "x", "density_g_cm3": {number}, "seed": {number}}}')
    assert said.status_code in (400, 405, 422), said.text
