"""A bench that several people use: who is not known stays out, each role does what is its own."""

from __future__ import annotations

import os
import re
import signal
import ssl
import time
from pathlib import Path

import httpx2 as httpx
import pytest
from every_route import MEASURES, READS, every_route
from fastapi.testclient import TestClient
from nursery import alive
from one_portal import one_portal

from beadworth.core import InputError, from_mapping
from beadworth.store import open_bench
from beadworth.trial import TrialSpec
from beadworth.web import create_app
from beadworth.web.guard import Guard
from beadworth.web.outside import Outside
from beadworth.web.people_gate import PeopleGate
from beadworth.workflow import admit, admitted, make_plan, withdraw_admission

DATA = Path(__file__).parent / "data"
CERTIFICATE, KEY = DATA / "bench.test.pem", DATA / "bench.test.key"  # invented, for tests alone
BASE = "http://127.0.0.1:8642"


@pytest.fixture
def trial(stocked, spec):
    asked = from_mapping(TrialSpec, spec, "test")
    return stocked.create_trial(asked, make_plan(stocked, asked)).id


@pytest.fixture
def door(stocked):
    client = TestClient(
        Guard(PeopleGate(create_app(stocked), stocked)), base_url=BASE, follow_redirects=False,
        raise_server_exceptions=False,
    )  # fmt: skip
    with one_portal(client):
        yield client


@pytest.fixture
def tokens(stocked):
    return {
        role: {"Authorization": f"Bearer {admit(stocked, role, role, script=True).secret}"}
        for role in ("owner", "measurer", "reader")
    }


def words(answer):
    return re.sub(r"<[^>]*>", "", answer.text)


def test_who_is_not_known_reaches_nothing_but_the_page_that_asks(door):
    for method, route in every_route():
        if route in ("/sign-in", "/sign-out", "/look.css"):
            continue
        answer = door.request(method, re.sub(r"\{[^}]*\}", "1", route))
        if method == "GET" and not route.startswith("/api"):
            assert answer.headers.get("location") == "/sign-in", route
        else:
            assert answer.status_code == 401, (method, route)
            assert answer.headers["www-authenticate"] == "Bearer"
    assert door.get("/sign-in").status_code == 200
    assert door.get("/static/../server.py").status_code in (303, 401, 404)


def test_each_role_may_change_what_is_listed_and_nothing_else(door, tokens):
    """A route that is added belongs to the owners until it is listed."""
    allowed = {role: set() for role in tokens}
    for method, route in every_route():
        if method in ("GET", "HEAD") or route.startswith("/sign-"):
            continue
        path = re.sub(r"\{[^}]*\}", "1", route)
        for role, token in tokens.items():
            if role == "owner":
                continue
            answer = door.request(method, path, headers=token)
            if answer.status_code != 403:
                allowed[role].add(f"{method} {route}")
            else:
                assert f"{role} may" in words(answer), route
    assert allowed["reader"] == READS
    assert allowed["measurer"] == READS | MEASURES


def test_an_owner_may_do_all(door, tokens, stocked, trial):
    record = {"name": "New rig"}
    assert door.post("/api/rigs", json=record, headers=tokens["owner"]).status_code == 201
    assert door.get(f"/trials/{trial}/phone", headers=tokens["owner"]).status_code == 200
    for role in ("measurer", "reader"):
        assert door.get(f"/trials/{trial}/phone", headers=tokens[role]).status_code == 403
        assert door.post("/api/rigs", json=record, headers=tokens[role]).status_code == 403
        assert door.get("/rigs", headers=tokens[role]).status_code == 200


def test_entries_bear_the_name_of_who_made_them(door, tokens, stocked, trial):
    body = {"coupon": "A01", "mass_g": 1.7}
    address = f"/api/trials/{trial}/readings"
    assert door.post(address, json=body, headers=tokens["reader"]).status_code == 403
    assert door.post(address, json=body, headers=tokens["measurer"]).status_code == 201
    (said,) = door.get(address, headers=tokens["reader"]).json()["readings"]
    assert said["author"] == "measurer"
    void = f"{address}/{said['reading_id']}/void"
    assert door.post(void, json={"reason": "torn"}, headers=tokens["owner"]).status_code == 200
    with stocked._engine.connect() as connection:
        rows = connection.exec_driver_sql("SELECT author FROM reading_events").fetchall()
    assert rows == [("owner",)]
    page = door.get(f"/trials/{trial}?tab=readings", headers=tokens["reader"])
    assert "by measurer" in words(page)


def test_a_person_signs_in_and_out_and_is_put_out(door, stocked, trial):
    made = admit(stocked, "A. Measurer", "measurer")
    assert "is not the secret of anybody" in words(door.post("/sign-in", data={"secret": "x"}))
    answer = door.post("/sign-in", data={"secret": made.secret})
    assert (answer.status_code, answer.headers["location"]) == (303, "/")
    cookie = answer.headers["set-cookie"]
    assert "HttpOnly" in cookie
    assert "SameSite=strict" in cookie
    assert made.secret not in cookie
    home = door.get("/")
    assert "A. Measurer, measurer" in words(home)
    assert door.post("/sign-out").headers["location"] == "/sign-in"
    assert door.get("/").headers["location"] == "/sign-in"
    door.post("/sign-in", data={"secret": made.secret})
    assert door.get("/").status_code == 200
    withdraw_admission(stocked, admitted(stocked)[0].grant.id)
    assert door.get("/").headers["location"] == "/sign-in"
    said = door.post(f"/trials/{trial}/readings", data={}, headers={"HX-Request": "true"})
    assert said.status_code == 401
    assert "A. Measurer is no longer let in" in said.text


def test_a_change_from_another_site_is_refused_for_those_signed_in(door, stocked, trial):
    door.post("/sign-in", data={"secret": admit(stocked, "A", "owner").secret})
    for headers in ({"Origin": "http://evil.test"}, {"Sec-Fetch-Site": "cross-site"}):
        answer = door.post(
            f"/trials/{trial}/readings", data={"coupon": "A01", "mass_g": "1.7"}, headers=headers
        )
        assert answer.status_code == 403
        assert door.post("/sign-out", headers=headers).status_code == 403
    assert stocked.readings(trial) == []
    assert door.get("/").status_code == 200


def test_wrong_secrets_may_not_come_faster_than_people_type(door, stocked):
    made = admit(stocked, "A", "owner")
    for _ in range(5):
        assert door.post("/sign-in", data={"secret": "guess"}).status_code == 401
    answer = door.post("/sign-in", data={"secret": made.secret})  # the right one, too soon
    assert answer.status_code == 429
    assert "too many wrong secrets came in a short time. Wait a minute" in words(answer)


def test_without_people_nobody_signs_in(client):
    assert client.get("/sign-in").status_code == 404
    assert client.post("/sign-in", data={"secret": "x"}).status_code == 404


@pytest.mark.parametrize(
    ("outside", "host", "said"),
    [
        (Outside(), "127.0.0.1", ""),
        (Outside(), "::1", ""),
        (Outside(), "0.0.0.0", "secrets would cross the network in clear text"),
        (Outside(), "192.168.1.7", "secrets would cross the network in clear text"),
        (Outside(CERTIFICATE, KEY), "0.0.0.0", ""),
        (Outside(CERTIFICATE), "127.0.0.1", "a certificate and its key go together"),
        (Outside(CERTIFICATE, CERTIFICATE), "127.0.0.1", "cannot be used"),
        (Outside(DATA / "none.pem", KEY), "127.0.0.1", "No such file or directory"),
        (Outside(behind_proxy=True), "127.0.0.1", ""),
        (Outside(behind_proxy=True), "0.0.0.0", "listens to this machine alone"),
    ],
)
def test_what_may_be_opened_to_others(outside, host, said):
    if not said:
        outside.check(host)
        return
    with pytest.raises(InputError, match=said):
        outside.check(host)


CALLED = "import sys; from beadworth.cli import main; main(sys.argv[1:])"


def waited(until, process):
    """What comes, while the process is given half a minute for it."""
    end = time.monotonic() + 30
    while not (found := until()):
        assert time.monotonic() < end, process
        time.sleep(0.02)
    return found


@pytest.fixture
def served(nursery, tmp_path):
    """Call the command that serves a bench to people, in a process of its own: its address."""
    begun = []

    def serve(path, *options):
        said = tmp_path / "said"
        words = ["bench", "serve", "--port", "0", "--bench", path, "--people", *options]
        begun.append(nursery.begin(CALLED, list(map(str, words)), {}, tmp_path, said))
        line = waited(lambda: re.search(r"is open at (\S+) .*\n", said.read_text()), begun)
        return line[1].rstrip("/")

    yield serve
    for process in begun:
        os.kill(process, signal.SIGTERM)
        waited(lambda number=process: not alive(number), process)


def test_https_by_a_given_certificate(tmp_path, empty_bench, served):
    path = empty_bench(tmp_path / "x.bench")
    with open_bench(path) as bench:
        made = admit(bench, "A", "owner")
    address = served(path, "--certificate", CERTIFICATE, "--key", KEY)
    assert address.startswith("https://127.0.0.1:")
    trusted = ssl.create_default_context(cafile=str(CERTIFICATE))
    with httpx.Client(base_url=address, verify=trusted, timeout=30) as client:
        answer = client.post("/sign-in", data={"secret": made.secret})
        assert answer.status_code == 303
        assert answer.headers["set-cookie"].startswith("__Host-beadworth_session=")
        assert "Secure" in answer.headers["set-cookie"]
        assert answer.headers["strict-transport-security"] == "max-age=31536000"
        assert client.get("/rigs").status_code == 200
        origin = {"Origin": address}
        assert client.post("/sign-out", headers=origin).status_code == 303
        assert client.get("/rigs").status_code == 303


def test_behind_a_proxy_it_knows_the_name_and_the_scheme(tmp_path, empty_bench, served):
    path = empty_bench(tmp_path / "x.bench")
    with open_bench(path) as bench:
        made = admit(bench, "A", "owner")
    address = served(path, "--behind-proxy", "--name", "bench.test")
    passed = {"Host": "bench.test", "X-Forwarded-Proto": "https", "X-Forwarded-For": "10.0.0.9"}
    answer = httpx.post(
        f"{address}/sign-in", data={"secret": made.secret}, timeout=30,
        headers=passed | {"Origin": "https://bench.test"},
    )  # fmt: skip
    assert answer.status_code == 303
    assert answer.headers["set-cookie"].startswith("__Host-")
    other = passed | {"Host": "evil.test"}
    assert httpx.get(f"{address}/sign-in", headers=other, timeout=30).status_code == 421
