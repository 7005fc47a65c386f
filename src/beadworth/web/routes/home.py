"""The first page: what is on the bench, and where to begin."""

from __future__ import annotations

import threading
from typing import Any, Final

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import Response

from beadworth.web.paging import shown
from beadworth.web.responses import look_css, page
from beadworth.web.routes.common import BenchOf, see_other
from beadworth.web.routes.upgrades import job_of
from beadworth.web.trial_page import number_lines, trial_line
from beadworth.workflow import (
    WEAR_KIND,
    Stage,
    StageName,
    bench_view,
    newest_upgrade,
    overdue_checks,
)

_laying_out = threading.Lock()
router = APIRouter(include_in_schema=False)
BEGINNINGS: Final[tuple[tuple[StageName, str, str, str], ...]] = (
    ("fit", "Does it fit?", "Before anything is taken apart.", "/rigs/new"),
    ("bring-up", "Bring it up", "Steps, offsets, heater after the swap.", "/rigs/new"),
    ("trial", "How much can it melt?", "Weigh coupons, find the ceiling.", "/trials/new"),
    ("speed", "How fast?", "The ceiling as a speed for each bead.", "/trials/new"),
    ("prints", "Which prints?", "Replay your own print files.", "/prints"),
    ("worth", "Worth it?", "Hours and money, against other ways to spend it.", "/worth"),
    ("wear", "Months later", "Hours, checks, what wears.", "/rigs"),
    ("publish", "Publish", "A page, a PDF, figures and open data.", "/trials/new"),
)
EMPTY_JOB: Final = tuple(
    (Stage(name, title, "open", fact), address) for name, title, fact, address in BEGINNINGS
)
"""The job on a bench that has nothing yet: where each stage begins."""


@router.get("/")
def home(request: Request, bench: BenchOf) -> Response:
    """The first page."""
    view = bench_view(bench)
    own = [trial for trial in view.trials if not trial.simulated]
    newest = max(own or view.trials, key=lambda trial: trial.created_at, default=None)
    found = newest_upgrade(view)
    context: dict[str, Any] = {
        "trials": shown(view.trials, request.query_params.get("trials"), "trials"),
        "rigs": view.rigs.values(),
        "materials": view.materials.values(),
        "demo": [trial for trial in view.trials if trial.simulated],
        "trial_line": trial_line,
        "overdue": overdue_checks(view.rigs.values(), view.notes[WEAR_KIND]),
        "newest": newest,
        "upgrade": found,
        "job": job_of(found) if found else EMPTY_JOB,
    }
    if newest is not None:
        context |= {"record": newest, "numbers": number_lines(newest)}
    return page(request, "home.html", context)


@router.post("/demo")
def add_demo(bench: BenchOf) -> Response:
    """Put the demo on this bench, every record of it marked as simulated."""
    from beadworth.demo import seed, seed_packages

    with _laying_out:  # pressed twice, the second finds it there
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
