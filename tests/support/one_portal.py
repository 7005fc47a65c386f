"""A test client whose requests share one event loop, without the application's start and end."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from anyio.from_thread import start_blocking_portal
from starlette.testclient import TestClient


@contextmanager
def one_portal(client: TestClient) -> Iterator[TestClient]:
    """The client; one that was not entered starts a thread and a loop for every request."""
    with start_blocking_portal(**client.async_backend) as portal:
        client.portal = portal
        try:
            yield client
        finally:
            client.portal = None
