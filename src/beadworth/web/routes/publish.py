"""Publishing: the dossier, its figures, the readings."""

from __future__ import annotations

import threading
from typing import Annotated
from urllib.parse import quote

from fastapi import APIRouter, Depends
from starlette.datastructures import FormData
from starlette.requests import Request
from starlette.responses import FileResponse, HTMLResponse, Response

from beadworth.core import InputError, NotFoundError, Problem
from beadworth.datapackage import DEFAULT_LICENCE, LICENCES, Shown, check_licence
from beadworth.report import WIDE_PX, Chart, DossierData, pictures, render_png, render_svg
from beadworth.store import Bench
from beadworth.web.publishing import Publication, Publisher
from beadworth.web.responses import is_fragment, page
from beadworth.web.routes.common import BenchOf, FormOf, download, see_other
from beadworth.web.routes.parts import show
from beadworth.workflow import PARTS, dossier_data

router = APIRouter(include_in_schema=False)
PATIENCE_S = 0.4
"""How long a publication is waited for before its progress is shown."""
_making = threading.Lock()
DOSSIER_POLICY = "; ".join(
    (
        "default-src 'none'",
        "style-src 'unsafe-inline'",
        "img-src data:",
        "font-src data:",
        "base-uri 'none'",
        "form-action 'none'",
        "frame-ancestors 'none'",
    )
)
"""A dossier carries its styles inside, so that it can be sent as one file; it runs nothing."""


def _published(bench: Bench, trial: str) -> DossierData:
    """The account of a trial that has something to publish."""
    data = dossier_data(bench, trial)
    if not data.groups:
        raise NotFoundError(
            Problem(
                "there is nothing to publish yet: no reading counts.",
                where=f"trial {trial}",
                remedy="Weigh coupons first.",
            )
        )
    return data


@router.get("/trials/{trial}/publish")
def publish(request: Request, bench: BenchOf, trial: str) -> Response:
    """What there is to publish, and what to look at before."""
    data = _published(bench, trial)
    context = {
        "rigs": data.rigs,
        "candidate": data.candidate,
        "figures": [(one.name, one.draw(WIDE_PX).title) for one in pictures(data)],
        "licences": LICENCES,
        "default_licence": DEFAULT_LICENCE,
    }
    return show(request, bench, trial, "part_publish.html", "Publish", context)


@router.get("/trials/{trial}/dossier")
def dossier(bench: BenchOf, trial: str) -> Response:
    """The dossier, to look at."""
    from beadworth.report import dossier_html

    text = dossier_html(_published(bench, trial))
    return HTMLResponse(text, headers={"Content-Security-Policy": DOSSIER_POLICY})


@router.get("/trials/{trial}/dossier.html")
def dossier_file(bench: BenchOf, trial: str) -> Response:
    """The dossier, to keep and send."""
    from beadworth.report import dossier_html

    return download(dossier_html(_published(bench, trial)), f"{trial}.html", "text/html")


@router.get("/trials/{trial}/figures/{name}.svg")
def figure_svg(bench: BenchOf, trial: str, name: str) -> Response:
    """One figure as SVG."""
    chart = _chart(bench, trial, name)
    return download(render_svg(chart, transparent=False), f"{trial}-{name}.svg", "image/svg+xml")


@router.get("/trials/{trial}/figures/{name}.png")
def figure_png(bench: BenchOf, trial: str, name: str) -> Response:
    """One figure as PNG, two pixels to the point."""
    return download(render_png(_chart(bench, trial, name)), f"{trial}-{name}.png", "image/png")


def _chart(bench: Bench, trial: str, name: str) -> Chart:
    for picture in pictures(_published(bench, trial)):
        if picture.name == name:
            return picture.draw(WIDE_PX)
    raise NotFoundError(
        Problem(f"trial {trial} has no figure {name!r}.", where="figures", value=name)
    )


def _publisher(request: Request) -> Publisher:
    state = request.app.state
    with _making:
        if not hasattr(state, "publisher"):
            state.publisher = Publisher()
    publisher: Publisher = state.publisher
    return publisher


PublisherOf = Annotated[Publisher, Depends(_publisher)]


@router.get("/trials/{trial}/dossier.pdf")
def dossier_pdf_file(bench: BenchOf, trial: str) -> Response:
    """The dossier typeset."""
    from beadworth.report import dossier_pdf

    return download(dossier_pdf(_published(bench, trial)), f"{trial}.pdf", "application/pdf")


@router.get("/trials/{trial}/talking-points.md")
def talking_points_file(bench: BenchOf, trial: str) -> Response:
    """The numbers that matter, in words."""
    from beadworth.report import talking_points

    said = talking_points(_published(bench, trial))
    return download(said, f"{trial}-talking-points.md", "text/markdown; charset=utf-8")


@router.post("/trials/{trial}/publication")
def start_publication(
    request: Request, bench: BenchOf, trial: str, publisher: PublisherOf, form: FormOf
) -> Response:
    """Begin a publication of the parts that were ticked."""
    asked = [part for part in PARTS if part in form.getlist("part")]
    if not asked:
        raise InputError(
            Problem(
                "nothing was ticked.", where="publication", remedy="Tick what is to be published."
            )
        )
    _published(bench, trial)
    made = publisher.start(bench, trial, asked, _shown(form) if "package" in asked else Shown())
    address = f"/trials/{quote(trial)}/publication/{made.number}"
    return _progress(request, made) if is_fragment(request) else see_other(address)


def _shown(form: FormData) -> Shown:
    """What the form asks to show in the data package; a tick left out is a tick taken away."""
    licence = str(form.get("licence", DEFAULT_LICENCE))
    check_licence(licence)
    ticked = form.getlist("show")
    return Shown(licence, str(form.get("creator", "")), "notes" in ticked, "prices" in ticked)


@router.get("/trials/{trial}/publication/{number}")
def publication(
    request: Request, bench: BenchOf, trial: str, number: int, publisher: PublisherOf
) -> Response:
    """How far a publication is, or where it can be fetched."""
    return _progress(request, _found(publisher, trial, number), bench)


@router.get("/trials/{trial}/publication/{number}/file")
def publication_file(trial: str, number: int, publisher: PublisherOf) -> Response:
    """A publication as a zip, from disk."""
    made = _found(publisher, trial, number)
    made.done.wait()
    if made.error is not None:
        raise made.error
    return FileResponse(made.file, media_type="application/zip", filename=made.file.name)


def _found(publisher: Publisher, trial: str, number: int) -> Publication:
    made = publisher.find(trial, number)
    if made is None:
        raise NotFoundError(
            Problem(
                "this publication is no longer here: a newer one took its place, or the app was "
                "started anew.",
                where=f"trial {trial}",
                value=number,
                remedy="Publish again.",
            )
        )
    return made


def _progress(request: Request, made: Publication, bench: Bench | None = None) -> Response:
    """The progress of a publication, its link once it is made, or why it was not."""
    if made.done.wait(PATIENCE_S) and made.error is not None:
        raise made.error
    context = {
        "made": made,
        "ready": made.done.is_set(),
        "size": made.file.stat().st_size if made.file.exists() and made.done.is_set() else 0,
    }
    if bench is None or is_fragment(request):
        return page(request, "publication_part.html", context)
    return show(request, bench, made.trial, "publication.html", "Publication", context)
