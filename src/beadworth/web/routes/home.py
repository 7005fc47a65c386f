"""The first page: what is on the bench, and where to begin."""

from __future__ import annotations

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import Response

from beadworth.web.responses import look_css, page
from beadworth.web.routes.common import BenchOf, see_other
from beadworth.web.trial_page import trial_line
from beadworth.workflow import overdue_checks

router = APIRouter(include_in_schema=False)


@router.get("/")
def home(request: Request, bench: BenchOf) -> Response:
    """The first page."""
    trials = bench.trials()
    context = {
        "trials": trials,
        "rigs": bench.rigs(),
        "materials": bench.materials(),
        "demo": [trial for trial in trials if trial.simulated],
        "trial_line": trial_line,
        "overdue": overdue_checks(bench),
    }
    return page(request, "home.html", context)


@router.post("/demo")
def add_demo(bench: BenchOf) -> Response:
    """Put the demo on this bench, every record of it marked as simulated."""
    from beadworth.demo import seed, seed_packages

    seed(bench)
    seed_packages(bench)
    return see_other("/")


@router.get("/look.css")
def look() -> Response:
    """Colours, type and spacing, shared with the dossier."""
    return Response(
        look_css(),
        media_type="text/css",
        headers={"Cache-Control": "private, max-age=31536000, immutable"},
    )
