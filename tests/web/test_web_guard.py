"""Another page in the same browser can neither read nor change the bench."""

from __future__ import annotations

import asyncio

import pytest
from fastapi.testclient import TestClient
from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import PlainTextResponse
from starlette.routing import Route

from beadworth.web import guard
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


async def _answer(messages, path="/trials", headers=()):
    """What the guard answers to a body that comes in these pieces: (seconds before, message)."""
    waiting = iter(messages)
    said = []

    async def receive():
        seconds, message = next(waiting)
        await asyncio.sleep(seconds)
        return message

    async def send(message):
        said.append(message)

    async def app(scope, receive, send):
        request = Request(scope, receive)
        try:
            body = await request.body()
        except guard.TooSlowError:
            await PlainTextResponse("too slow", 408)(scope, receive, send)
            return
        await PlainTextResponse(str(len(body)))(scope, receive, send)

    scope = {
        "type": "http", "method": "POST", "path": path, "scheme": "http", "query_string": b"",
        "headers": [(b"host", b"127.0.0.1"), *headers],
    }  # fmt: skip
    await Guard(app)(scope, receive, send)
    return said[0]["status"], said[1]["body"]


def piece(size, more=True):
    return {"type": "http.request", "body": b"x" * size, "more_body": more}


@pytest.mark.parametrize("path", ["/trials", "/prints", "/journal/x"])
def test_a_body_that_stops_is_let_go(monkeypatch, path):
    monkeypatch.setattr(guard, "PATIENCE_S", 0.1)
    status, _ = asyncio.run(_answer([(0, piece(10)), (60, piece(10))], path))
    assert status == 408


def test_a_body_that_comes_in_drops_is_let_go(monkeypatch):
    monkeypatch.setattr(guard, "PATIENCE_S", 0.3)
    status, _ = asyncio.run(_answer([(0.05, piece(1))] * 200))
    assert status == 408


def test_a_body_that_is_slow_but_comes_is_taken(monkeypatch):
    monkeypatch.setattr(guard, "PATIENCE_S", 0.3)
    monkeypatch.setattr(guard, "SLOWEST_BYTES_S", 20_000.0)
    pieces = [(0.05, piece(2_000))] * 19 + [(0.05, piece(2_000, more=False))]  # 40 kB/s for 1 s
    assert asyncio.run(_answer(pieces)) == (200, b"40000")
