"""Readings tables in and out: into a trial, as a trial of their own, and as CSV."""

from __future__ import annotations

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import Response

from beadworth.core import BeadworthError
from beadworth.trial import write_readings_csv
from beadworth.web.forms import Form
from beadworth.web.responses import page, status_of
from beadworth.web.routes.common import BenchOf, FormOf, download, file_or_pasted, see_other
from beadworth.workflow import PublicationOptions, import_readings, shown_readings

router = APIRouter(include_in_schema=False)


@router.get("/trials/import")
def bare(request: Request) -> Response:
    """The form for a table of readings without a plan."""
    return _show(request, None, Form({"text": "", "question": ""}))


@router.post("/trials/import")
def take_bare(request: Request, bench: BenchOf, sent: FormOf) -> Response:
    """A table of readings becomes a trial of its own: all of it, or nothing."""
    question = str(sent.get("question", "")).strip()
    try:
        data, source = file_or_pasted(sent, "pasted table")
        made, _ = import_readings(bench, data, source, question=question or None)
    except BeadworthError as error:
        form = Form({"text": str(sent.get("text", "")), "question": question}, error.problems)
        return _show(request, None, form, status_of(error))
    return see_other(f"/trials/{made}")


@router.get("/trials/{trial}/import")
def into(request: Request, bench: BenchOf, trial: str) -> Response:
    """The form for a table of readings of this trial's coupons."""
    bench.trial(trial)
    return _show(request, trial, Form({"text": "", "question": ""}))


@router.post("/trials/{trial}/import")
def take_into(request: Request, bench: BenchOf, trial: str, sent: FormOf) -> Response:
    """A table of readings joins a trial: all of it, or nothing."""
    try:
        data, source = file_or_pasted(sent, "pasted table")
        import_readings(bench, data, source, trial=trial)
    except BeadworthError as error:
        form = Form({"text": str(sent.get("text", "")), "question": ""}, error.problems)
        return _show(request, trial, form, status_of(error))
    return see_other(f"/trials/{trial}?tab=readings")


@router.get("/trials/{trial}/readings.csv")
def give(request: Request, bench: BenchOf, trial: str) -> Response:
    """The readings that count now, with their remarks unless a form left them out."""
    query = request.query_params
    options = PublicationOptions(notes="chosen" not in query or "notes" in query.getlist("show"))
    text = write_readings_csv(shown_readings(bench.current_readings(trial), options))
    return download(text, f"{trial}-readings.csv", "text/csv; charset=utf-8")


def _show(request: Request, trial: str | None, form: Form, status: int = 200) -> Response:
    return page(request, "import.html", {"trial": trial, "form": form}, status)
