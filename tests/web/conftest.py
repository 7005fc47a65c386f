"""A bench, the app over it in-process, and a real server for the browser."""

from __future__ import annotations

import os
import socket
import subprocess
import sys
import time
from pathlib import Path

import pytest

from beadworth.material import Material
from beadworth.rig import BuildVolume, Extruder, HotEnd, Rig

# Invented, like everything a test puts on a bench.
SHORT = Rig(
    name="Heron, short zone",
    hot_end=HotEnd(
        nozzle_mm=0.4,
        melt_zone_mm=12.0,
        bore_mm=2.0,
        temperature_limit_c=265.0,
        heater_w=40.0,
        heater_v=24.0,
        ptfe_in_melt_zone=False,
    ),
    extruder=Extruder(drive="direct", max_feed_mm_s=50.0),
    build_volume=BuildVolume(x_mm=220.0, y_mm=220.0, z_mm=220.0),
)
LONG = SHORT.model_copy(
    update={
        "name": "Heron, long zone",
        "parent": SHORT.name,
        "hot_end": SHORT.hot_end.model_copy(update={"melt_zone_mm": 20.0}),
        "price": 40.0,
        "currency": "EUR",
    }
)
PLA = Material(
    name="PLA, test grey",
    density_g_cm3=1.24,
    min_temperature_c=190.0,
    max_temperature_c=240.0,
    specific_heat_j_gk=1.8,
)
SPEC = {
    "question": "Does the long zone deliver more at 210 and 220 °C?",
    "baseline": SHORT.name,
    "candidate": LONG.name,
    "material": PLA.name,
    "temperatures_c": [210.0, 220.0],
    "flows_mm3_s": [8.0, 12.0, 16.0, 20.0],
    "replicates": 2,
    "references_per_block": 2,
    "filament_mm": 600.0,
    "reference_flow_mm3_s": 4.0,
}


@pytest.fixture
def bench(tmp_path):
    from beadworth.store import open_bench

    with open_bench(tmp_path / "test.bench") as store:
        yield store


@pytest.fixture
def stocked(bench):
    """The bench with two rigs and a material."""
    bench.save_rig(SHORT)
    bench.save_rig(LONG)
    bench.save_material(PLA)
    return bench


@pytest.fixture
def records():
    return {"rigs": (SHORT, LONG), "material": PLA}


@pytest.fixture
def spec():
    return dict(SPEC)


@pytest.fixture
def client(bench):
    from fastapi.testclient import TestClient

    from beadworth.web import create_app

    with TestClient(create_app(bench), base_url="http://127.0.0.1", follow_redirects=False) as made:
        yield made


@pytest.fixture
def refusal():
    """One helper for the one error shape, on every path that refuses."""

    def check(response, status, kind, *, mentions=()):
        assert response.status_code == status, response.text
        assert response.headers["content-type"].startswith("application/json")
        body = response.json()
        assert set(body) == {"error"}
        error = body["error"]
        assert set(error) == {"kind", "message", "problems"}
        assert error["kind"] == kind
        assert error["problems"]
        for problem in error["problems"]:
            assert set(problem) == {"what", "where", "path", "value", "remedy"}
            assert problem["what"]
        for word in mentions:
            assert word in error["message"]
        return error

    return check


PICTURES = Path(__file__).resolve().parents[2] / "docs" / "img"


@pytest.fixture
def picture():
    """Keep a picture for the tutorial in docs/img, where BEADWORTH_SCREENSHOTS=1 asks for it."""

    def take(seen, name):
        if os.environ.get("BEADWORTH_SCREENSHOTS") == "1":
            PICTURES.mkdir(exist_ok=True)
            seen.page.wait_for_timeout(200)
            seen.page.screenshot(path=PICTURES / f"{name}.png")

    return take


SERVER_SCRIPT = """
import sys
from beadworth.store import open_bench
from beadworth.web import serve
with open_bench(sys.argv[1]) as bench:
    serve(bench, port=int(sys.argv[2]))
"""


class Server:
    """A real server in a process of its own, over one bench file."""

    def __init__(self, path, port=0):
        self.path, self.port = path, port
        self.start()

    def start(self):
        self.process = subprocess.Popen(
            [sys.executable, "-c", SERVER_SCRIPT, str(self.path), str(self.port)],
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
        )
        line = self.process.stdout.readline()
        assert "http://" in line, self.process.communicate()[1]
        self.address = line.split()[4].rstrip("/")
        self.port = int(self.address.rsplit(":", 1)[1])
        deadline = time.monotonic() + 20
        while True:
            try:
                socket.create_connection(("127.0.0.1", self.port), timeout=1).close()
                return
            except OSError:
                assert time.monotonic() < deadline
                time.sleep(0.02)

    def kill(self):
        """As a power cut would."""
        self.process.kill()
        self.process.communicate()

    def stop(self):
        self.process.terminate()
        try:
            self.process.communicate(timeout=10)
        except subprocess.TimeoutExpired:
            self.kill()


@pytest.fixture
def server(tmp_path):
    """Start a server over a bench file: ``server(path)``; all are stopped with the test."""
    started = []

    def start(path):
        started.append(Server(path))
        return started[-1]

    yield start
    for one in started:
        one.stop()
