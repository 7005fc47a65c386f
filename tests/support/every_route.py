"""Every route of the app, now or later: what gates are tried with."""

from __future__ import annotations

from beadworth.web.routes import routers


def every_route():
    """Method and path of every route there is, and of the description of the HTTP interface."""
    found = [one for router in routers() for one in _below(router)]
    assert len(found) > 150
    return [*found, ("GET", "/api/openapi.json")]


def _below(router):
    for route in router.routes:
        inner = getattr(route, "original_router", None)
        yield from _below(inner) if inner else [(m, route.path) for m in route.methods]
