"""The trial page: chart and numbers, the step that is due, the coupons, and tabs for the rest."""

from __future__ import annotations

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import Response

from beadworth.core import NotFoundError
from beadworth.web.responses import page
from beadworth.web.routes.common import BenchOf
from beadworth.web.trial_page import STEPS, Step, trial_context

router = APIRouter(include_in_schema=False)


@router.get("/trials/{trial}")
def one(
    request: Request, bench: BenchOf, trial: str, step: str | None = None, tab: str | None = None
) -> Response:
    """The page of a trial, at a step or tab; left out, those that are due."""
    snapshot = bench.snapshot(trial)
    return page(request, "trial.html", trial_context(snapshot, step=_step(step), tab=tab))


@router.get("/trials/{trial}/tab/{tab}")
def one_tab(request: Request, bench: BenchOf, trial: str, tab: str) -> Response:
    """The tabs with one of them open."""
    context = trial_context(bench.snapshot(trial), tab=tab)
    if context["tab"].name != tab:
        raise NotFoundError(
            f"trial {trial} has no tab {tab!r}.",
            where="tab",
            value=tab,
            remedy=f"It has {', '.join(item.name for item in context['tabs'])}.",
        )
    return page(request, "trial_tabs.html", context)


@router.get("/trials/{trial}/step/{step}")
def one_step(request: Request, bench: BenchOf, trial: str, step: str) -> Response:
    """The card of one step."""
    return page(request, "trial_card.html", trial_context(bench.snapshot(trial), step=_step(step)))


def _step(text: str | None) -> Step | None:
    return next((name for name, _ in STEPS if name == text), None)
