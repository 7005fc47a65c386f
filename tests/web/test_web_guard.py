"""Another page in the same browser can neither read nor change the bench."""

from __future__ import annotations

import pytest
from fastapi.testclient import TestClient
from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import PlainTextResponse
from starlette.routing import Route

from beadworth.web.guard import BODY_LIMIT_BYTES, Guard, host_is_ours


async def echo(request: Request):
    return PlainTextResponse(f"{request.method} {len(await request.body())}")


def client_of(names=()):
    app = Starlette(routes=[Route("/{path:path}", echo, methods=["GET", "POST"])])
    return TestClient(Guard(app, names), base_url="http://127.0.0.1:8642")


@pytest.mark.parametrize(
    "host",
    ["127.0.0.1", "127.0.0.1:8642", "localhost:1", "LOCALHOST", "[::1]:8642", "192.168.1.7"],
)
def test_own_hosts(host):
    assert host_is_ours(host, {"localhost"})


@pytest.mark.parametrize(
    "host",
    ["", "evil.test", "127.0.0.1.evil.test", "localhost.evil.test:8642", "[::1", "0x7f.1", ":80"],
)
def test_rebound_names_are_refused(host):
    assert not host_is_ours(host, {"localhost"})
    answer = client_of().get("/api/rigs", headers={"Host": host})
    assert answer.status_code == 421
    assert answer.json()["error"]["kind"] == "foreign-host"


def test_a_name_the_server_was_told_is_its_own():
    assert client_of(["Bench.test"]).get("/api", headers={"Host": "bench.test:80"}).text == "GET 0"


@pytest.mark.parametrize(
    "headers",
    [
        {"Origin": "http://evil.test"},
        {"Origin": "null"},
        {"Origin": "http://127.0.0.1:9999"},
        {"Origin": "https://127.0.0.1:8642"},
        {"Sec-Fetch-Site": "cross-site"},
        {"Sec-Fetch-Site": "same-site"},
    ],
)
def test_changes_from_foreign_pages_are_refused(headers):
    answer = client_of().post("/api/rigs", headers=headers)
    assert answer.status_code == 403
    assert answer.json()["error"]["kind"] == "foreign-origin"


@pytest.mark.parametrize(
    "headers", [{}, {"Origin": "http://127.0.0.1:8642"}, {"Sec-Fetch-Site": "same-origin"}]
)
def test_changes_from_own_pages_and_from_scripts_pass(headers):
    assert client_of().post("/api/rigs", headers=headers, content=b"abc").text == "POST 3"


def test_reading_across_is_left_to_the_browsers_own_rule():
    answer = client_of().get("/x", headers={"Origin": "http://evil.test"})
    assert answer.status_code == 200
    assert "access-control-allow-origin" not in answer.headers
    assert answer.headers["cross-origin-resource-policy"] == "same-origin"


def test_size_is_bounded_whether_announced_or_not():
    client = client_of()
    assert client.post("/x", content=b"x" * BODY_LIMIT_BYTES).text == f"POST {BODY_LIMIT_BYTES}"
    over = b"x" * (BODY_LIMIT_BYTES + 1)
    for content in (over, iter([over[:9], over[9:]])):
        answer = client.post("/api/x", content=content)
        assert answer.status_code == 413
        assert answer.json()["error"]["kind"] == "too-large"


def test_every_answer_carries_the_policy_refusals_too():
    for answer in (client_of().get("/x"), client_of().get("/x", headers={"Host": "evil.test"})):
        policy = answer.headers["content-security-policy"]
        assert "default-src 'none'" in policy
        assert "unsafe" not in policy
        assert "frame-ancestors 'none'" in policy
        assert answer.headers["x-content-type-options"] == "nosniff"
