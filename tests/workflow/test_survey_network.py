"""A survey on machines of a network, one of which is cut off in the middle.

Scheduler, workers and the survey itself are processes in network namespaces of their own, joined
by a bridge, so that a host can be cut off as by pulling its cable: nothing is closed, nothing is
answered any more. Needs the right to make namespaces.
"""

import os
import shutil
import subprocess
import sys
import time
from pathlib import Path

import lazy_loader
import pytest
from replay_support import RIG, straight

from beadworth.core.records import to_toml

polars = lazy_loader.load("polars")  # loaded by who runs these tests

PRINTS = 60
HOSTS = {"scheduler": 1, "one": 2, "two": 3, "desk": 4}
NET = "10.177.31"


def run(*words):
    subprocess.run(words, check=True, capture_output=True, timeout=30)


class Network:
    """Hosts on one wire."""

    def __init__(self, name):
        self.name, self.started = name, []
        run("ip", "netns", "add", f"{name}-wire")
        run(*self.inside("wire"), "ip", "link", "add", "wire", "type", "bridge")
        run(*self.inside("wire"), "ip", "link", "set", "wire", "up")
        for host, number in HOSTS.items():
            run("ip", "netns", "add", f"{name}-{host}")
            run("ip", "link", "add", f"p{number}", "netns", f"{name}-wire", "type", "veth",
                "peer", "name", "eth0", "netns", f"{name}-{host}")  # fmt: skip
            run(*self.inside("wire"), "ip", "link", "set", f"p{number}", "master", "wire", "up")
            run(*self.inside(host), "ip", "addr", "add", f"{NET}.{number}/24", "dev", "eth0")
            for link in ("lo", "eth0"):
                run(*self.inside(host), "ip", "link", "set", link, "up")

    def inside(self, host):
        return ("ip", "netns", "exec", f"{self.name}-{host}")

    def start(self, host, *words, log):
        with log.open("wb") as out:
            made = subprocess.Popen([*self.inside(host), *words], stdout=out, stderr=out)
        self.started.append(made)
        return made

    def cut(self, host):
        """As by pulling the cable."""
        run(*self.inside("wire"), "ip", "link", "set", f"p{HOSTS[host]}", "down")

    def close(self):
        for process in self.started:
            process.kill()
            process.wait(30)
        for host in ("wire", *HOSTS):
            gone = ["ip", "netns", "del", f"{self.name}-{host}"]
            subprocess.run(gone, capture_output=True, check=False)


@pytest.fixture
def network():
    if shutil.which("ip") is None:
        pytest.skip("no `ip` here: hosts of a network cannot be played")
    try:
        made = Network(f"bw{os.getpid()}")
    except subprocess.CalledProcessError as error:
        pytest.skip(f"namespaces are not permitted here: {error.stderr.decode().strip()}")
    try:
        yield made
    finally:
        made.close()


@pytest.fixture
def survey(network, tmp_path):
    """Start scheduler and workers; gives a function that starts a survey."""
    folder = tmp_path / "prints"
    folder.mkdir()
    for number in range(PRINTS):
        (folder / f"p{number:02d}.gcode").write_text(straight(5.0, count=40_000 + number))
    (tmp_path / "rig.toml").write_text(to_toml(RIG))
    python, address = sys.executable, f"tcp://{NET}.1:8786"
    network.start(
        "scheduler", python, "-m", "distributed.cli.dask_scheduler", "--host", f"{NET}.1",
        "--port", "8786", "--no-dashboard", log=tmp_path / "scheduler.log",
    )  # fmt: skip
    for host in ("one", "two"):
        network.start(
            host, python, "-m", "distributed.cli.dask_worker", address, "--nthreads", "1",
            "--no-nanny", "--no-dashboard", log=tmp_path / f"{host}.log",
        )  # fmt: skip

    def begin(name="t.parquet"):
        command = (python, "-m", "beadworth", "print", "survey", folder, "--rig",
                   tmp_path / "rig.toml", "--out", tmp_path / name, "--cluster", address,
                   "--bench", tmp_path / "b.bench", "--json")  # fmt: skip
        return network.start("desk", *map(str, command), log=tmp_path / "survey.log")

    wait(lambda: (tmp_path / "two.log").read_text().count("Registered to"), 120)
    return begin


def wait(until, most_s):
    """Wait for something, at most so long."""
    end = time.monotonic() + most_s
    while not until():
        assert time.monotonic() < end, "it never came"
        time.sleep(0.05)


def rows_so_far(folder):
    journal = folder / "t.parquet.rows"
    return journal.read_text().count('"key"') if journal.exists() else 0


@pytest.mark.long
@pytest.mark.parametrize("host", ["two"])
def test_a_host_cut_off_in_the_middle_costs_no_print(network, survey, tmp_path, host):
    asked = survey()
    wait(lambda: rows_so_far(tmp_path) >= 6, 240)
    network.cut(host)
    there = rows_so_far(tmp_path)
    assert there < PRINTS - 12, "too quick: nothing was in the middle"
    assert asked.wait(600) == 0, (tmp_path / "survey.log").read_text()
    table = polars.read_parquet(tmp_path / "t.parquet")
    assert table.height == PRINTS
    assert table["problem"].null_count() == PRINTS
    # 40,000 moves and one more from each file to the next: none was mixed up, none done twice
    moves = {Path(row["file"]).name: row["moves"] for row in table.iter_rows(named=True)}
    assert [moves[f"p{n:02d}.gcode"] - moves["p00.gcode"] for n in range(PRINTS)] == list(
        range(PRINTS)
    )


@pytest.mark.long
def test_a_scheduler_cut_off_is_told_and_what_was_done_is_kept(network, survey, tmp_path):
    asked = survey()
    wait(lambda: rows_so_far(tmp_path) >= 6, 240)
    network.cut("scheduler")
    code = asked.wait(600)
    told = (tmp_path / "survey.log").read_text()
    assert code != 0
    assert "no longer answers" in told
    assert "Traceback" not in told
    assert 6 <= polars.read_parquet(tmp_path / "t.parquet").height < PRINTS
