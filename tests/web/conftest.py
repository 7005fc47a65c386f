"""A bench, the app over it in-process, and a real server for the browser."""

from __future__ import annotations

import os
from contextlib import nullcontext
from pathlib import Path

import httpx2 as httpx
import pytest
from nursery import Server

from beadworth.material import Material
from beadworth.rig import BuildVolume, Extruder, HotEnd, Rig

# Invented, like everything a test puts on a bench.
SHORT = Rig(
    name="Stilt, short zone",
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
        "name": "Stilt, long zone",
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
def bench(tmp_path, empty_bench):
    from beadworth.store import open_bench

    with open_bench(empty_bench(tmp_path / "test.bench")) as store:
        yield store


@pytest.fixture
def stocked(bench):
    """The bench with two rigs and a material."""
    bench.save_rig(SHORT)
    bench.save_rig(LONG)
    bench.save_material(PLA)
    return bench


@pytest.fixture(scope="session")
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
    """Keep a picture for the tutorial in docs/img, where BEADWORTH_SCREENSHOTS=1 asks for it.

    ``turn``: first make the page wide, or narrow meanwhile; left out, it is taken as it stands.
    """

    def take(seen, name, turn=""):
        if os.environ.get("BEADWORTH_SCREENSHOTS") == "1":
            PICTURES.mkdir(exist_ok=True)
            if turn:
                seen.wide()
                seen.settle()
            with seen.on_phone("light") if turn == "narrow" else nullcontext():
                seen.page.wait_for_timeout(200)
                seen.page.screenshot(path=PICTURES / f"{name}.png")

    return take


@pytest.fixture
def both(picture):
    """Check a page as it stands, wide and narrow, and keep its pictures under this name."""

    def check(seen, name="", top="window.scrollTo(0, 0)", *, whole=True, mode="dark"):
        def keep(size):
            if name:
                seen.page.evaluate(top)
                picture(seen, f"{name}-{size}")

        if whole:
            seen.check()
        else:
            seen.check_layout()
        keep("desktop")
        with seen.on_phone(mode):
            seen.check_layout()
            keep("phone")

    return check


def _starting(nursery):
    started = []

    def start(path, people=False):
        started.append(Server(nursery, path, people=people))
        return started[-1]

    yield start
    for one in started:
        one.stop()


@pytest.fixture
def server(nursery):
    """Start a server over a bench file: ``server(path)``; all are stopped with the test."""
    yield from _starting(nursery)


@pytest.fixture(scope="module")
def module_server(nursery):
    """The same for a server that the tests of a file share."""
    yield from _starting(nursery)


@pytest.fixture(scope="session")
def demo_nursery(nursery, demo_copy, tmp_path_factory):
    """The same process once it has fitted the demo, which every server on it would do anew."""
    nursery.work_out("demo", demo_copy(tmp_path_factory.mktemp("demo-nursery"), packages=True))
    return nursery


@pytest.fixture(scope="session")
def demo_server(demo_nursery, demo_copy, tmp_path_factory):
    """A server on the demo with its packages, for all tests of a worker that only read."""
    one = Server(demo_nursery, demo_copy(tmp_path_factory.mktemp("demo-server"), packages=True))
    with_trials(one)
    yield one
    one.stop()


def with_trials(one):
    """The server of a demo with the addresses of its two trials, by what they are."""
    trials = httpx.get(f"{one.address}/api/trials").json()["trials"]
    one.finished = next(f"/trials/{t['id']}" for t in trials if "long melt zone" in t["question"])
    one.started = next(f"/trials/{t['id']}" for t in trials if "How far" in t["question"])


@pytest.fixture
def own_demo(demo_nursery, server, demo_copy, tmp_path):
    """A server on a copy of the demo with its packages, for a test that changes it."""
    one = server(demo_copy(tmp_path / "demo", packages=True))
    with_trials(one)
    return one
