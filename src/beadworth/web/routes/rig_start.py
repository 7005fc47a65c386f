"""A new rig from a typical layout and eight answers; and taking away one that nobody used."""

from __future__ import annotations

from urllib.parse import quote, urlencode

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import Response

from beadworth.core import BeadworthError, InputError
from beadworth.rig import LAYOUTS
from beadworth.web.fields_start import MOVED, RIG_START
from beadworth.web.forms import Form, collect, refused, typed_in
from beadworth.web.responses import page, status_of
from beadworth.web.routes.common import BenchOf, FormOf, see_other
from beadworth.web.routes.record_pages import SURE
from beadworth.workflow import questions_about, remove_rig, started_rig

router = APIRouter(include_in_schema=False)


@router.get("/rigs/new")
def new(request: Request, parent: str | None = None) -> Response:
    """Eight boxes; an upgrade of a rig is asked for part by part."""
    if parent is not None:
        return see_other(f"/rigs/whole?{urlencode({'parent': parent})}")
    return _show(request, Form(typed_in(RIG_START, {})))


@router.post("/rigs/new")
def start(request: Request, bench: BenchOf, sent: FormOf) -> Response:
    """Put the rig on the bench; what is odd is asked about first."""
    typed = typed_in(RIG_START, sent)
    try:
        rig = started_rig(bench, collect(RIG_START, typed))
    except BeadworthError as error:
        return _show(request, refused(RIG_START, typed, error), status_of(error))
    odd = questions_about(bench, rig)
    if odd and not sent.get(SURE):
        form = refused(RIG_START, typed, InputError(odd), MOVED)
        return _show(request, form, 422, asked=True)
    bench.save_rig(rig)
    return see_other(f"/rig/{quote(rig.name)}")


def _show(request: Request, form: Form, status: int = 200, *, asked: bool = False) -> Response:
    context = {
        "groups": RIG_START, "form": form, "asked": asked, "layouts": list(LAYOUTS.values()),
    }  # fmt: skip
    return page(request, "rig_start.html", context, status)


@router.post("/rig-remove")
def remove(bench: BenchOf, name: str) -> Response:
    """Take a rig away that nothing on the bench is about."""
    remove_rig(bench, name)
    return see_other("/rigs")
