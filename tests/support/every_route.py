"""Every route of the app, now or later, and what roles may ask: what gates are tried with."""

from __future__ import annotations

from beadworth.web.routes import routers

READS = {
    "POST /trials/preview", "POST /api/plan", "POST /api/fit", "POST /api/melt/predict",
    "POST /vibration", "POST /api/vibration", "POST /api/cause/read",
}  # fmt: skip
MEASURES = {
    "POST /trials/{trial}/readings",
    "POST /trials/{trial}/readings/{reading}/void",
    "POST /trials/{trial}/import",
    "POST /trials/{trial}/photos",
    "POST /balance-checks",
    "POST /balance-checks/void",
    "POST /journal/{subject:path}",
    "POST /wear/{rig:path}",
    "POST /witness/{number}/grade",
    "POST /witness/{number}/open",
    "POST /witness/{number}/journal",
    "POST /cause/photo",
    "POST /cause/read/{key}",
    "POST /cause/read/{key}/photo",
    "POST /cause/read/{key}/record",
    "POST /cause/{number}/journal",
    "POST /cause/{number}/void",
    "POST /api/trials/{trial}/readings",
    "POST /api/trials/{trial}/readings/{reading}/void",
    "POST /api/trials/{trial}/import",
    "POST /api/wear",
    "POST /api/wear/void",
    "POST /api/journal",
    "POST /api/journal/void",
    "POST /api/photos",
    "POST /api/witness/{number}/looks",
    "POST /api/witness/{number}/open",
    "POST /live-weighing/first/end",
    "POST /live-weighing/{number}/end",
    "POST /live-weighing/{number}/go-on",
    "POST /live-weighing/{number}/void",
    "POST /api/trials/{trial}/live-weighings",
    "POST /api/live-weighings/{number}/void",
    "POST /api/cause",
    "POST /api/cause/{number}/void",
}


def every_route():
    """Method and path of every route there is, and of the description of the HTTP interface."""
    found = [one for router in routers() for one in _below(router)]
    assert len(found) > 150
    return [*found, ("GET", "/api/openapi.json")]


def _below(router):
    for route in router.routes:
        inner = getattr(route, "original_router", None)
        yield from _below(inner) if inner else [(m, route.path) for m in route.methods]
