"""Where the app listens: the port asked for, or the next one that is free."""

import asyncio
import socket
from types import SimpleNamespace

import pytest

from beadworth.core import InputError
from beadworth.web import listening, server

HOST = "127.0.0.1"


@pytest.fixture
def taken():
    """A port in use, with a free one behind it."""
    with socket.socket() as used:
        used.bind((HOST, 0))
        used.listen()
        yield used.getsockname()[1]


def test_a_port_in_use_gives_way_to_the_next_one(taken, bench, monkeypatch, capsys):
    with listening.listen_near(HOST, taken) as found:
        assert taken < found.getsockname()[1] < taken + listening.TRIES

    class Quiet:
        def __init__(self, config):
            pass

        def handle_exit(self, *_):
            pass

        def run(self, sockets):
            self.port = sockets[0].getsockname()[1]
            sockets[0].close()

    monkeypatch.setattr("uvicorn.Server", Quiet)
    shut = SimpleNamespace(close=lambda: None)
    app = SimpleNamespace(state=SimpleNamespace(share=shut))
    monkeypatch.setattr("beadworth.web.app.create_app", lambda bench, names: app)
    server.serve(bench, port=taken)
    out, err = capsys.readouterr()
    port = int(out.split()[4].rstrip("/").rpartition(":")[2])
    assert err == f"Port {taken} is in use; port {port} is taken instead.\n"


def test_a_free_port_is_taken_without_a_word(taken):
    with listening.listen_near(HOST, 0) as found:
        free = found.getsockname()[1]
    with listening.listen_near(HOST, free) as found:
        assert found.getsockname()[1] == free


def test_where_every_port_tried_is_in_use_the_last_is_refused(taken, monkeypatch):
    monkeypatch.setattr(listening, "TRIES", 1)
    with pytest.raises(InputError, match=f"port {taken}: "):
        listening.listen_near(HOST, taken)


def test_an_address_of_another_machine_is_refused_at_once():
    with pytest.raises(InputError, match=r"cannot listen on 192\.0\.2\.1 port 8642"):
        listening.listen_near("192.0.2.1", 8642)


def test_small_answers_leave_at_once():
    """Otherwise the body of each waits 40 ms behind its head (RFC 896 beside RFC 1122, 4.2.3.2)."""

    async def no_delay(listener):
        found = asyncio.get_running_loop().create_future()

        def connected(_, writer):
            found.set_result(
                writer.get_extra_info("socket").getsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY)
            )
            writer.close()

        async with await asyncio.start_server(connected, sock=listener):
            _, writer = await asyncio.open_connection(*listener.getsockname())
            writer.close()
            return await found

    assert asyncio.run(no_delay(listening.listen(HOST, 0)))
