"""Publishing: the dossier, its figures, the readings."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any
from urllib.parse import quote

from fastapi import APIRouter
from starlette.datastructures import ImmutableMultiDict, QueryParams
from starlette.requests import Request
from starlette.responses import FileResponse, HTMLResponse, Response

from beadworth.core import InputError, NotFoundError
from beadworth.report import ReportData, figure, pictures, render_png, render_svg
from beadworth.web.jobs import Job, Jobs
from beadworth.web.responses import is_fragment, page
from beadworth.web.routes.common import (
    PATIENCE_S,
    BenchOf,
    FormOf,
    PublicationsOf,
    download,
    see_other,
)
from beadworth.web.routes.parts import show
from beadworth.workflow import (
    DEFAULT_LICENCE,
    LICENCES,
    LOOK_AT,
    PARTS,
    Part,
    PublicationOptions,
    TrialSnapshot,
    check_licence,
    look_at,
    publish_trial,
    report_data,
    shown_data,
)

if TYPE_CHECKING:
    from beadworth.store import Bench

router = APIRouter(include_in_schema=False)
SHOWN = ("notes", "prices", "wear", "replays")
"""Ticks of the form, in the order of the options."""
EVERYTHING = PublicationOptions(wear=True, replays=True)
"""All that the ticks of the form can show."""
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


def _gathered(bench: Bench, trial: str | TrialSnapshot) -> ReportData:
    """The account of a trial that has something to publish, all of it."""
    data = report_data(bench, trial)
    if not data.groups:
        raise NotFoundError(
            "there is nothing to publish yet: no reading counts.",
            where=f"trial {trial if isinstance(trial, str) else trial.record.id}",
            remedy="Weigh coupons first.",
        )
    return data


def _published(bench: Bench, trial: str, request: Request | None = None) -> ReportData:
    """The account of a trial as far as a request shows it."""
    data = _gathered(bench, trial)
    ticks = request.query_params if request is not None else QueryParams()
    return shown_data(data, _options(ticks) if "chosen" in ticks else PublicationOptions())


@router.get("/trials/{trial}/publish")
def publish(request: Request, bench: BenchOf, trial: str) -> Response:
    """What there is to publish, and what to look at before."""
    with bench.reading():
        snapshot = bench.snapshot(trial)
        whole = _gathered(bench, snapshot)
    data = shown_data(whole, PublicationOptions())
    context = {
        "look_at_words": LOOK_AT,
        "look_at": look_at(whole, EVERYTHING),
        "rigs": data.rigs,
        "candidate": data.candidate,
        "figures": [(one.name, one.chart.title) for one in pictures(data)],
        "licences": LICENCES,
        "default_licence": DEFAULT_LICENCE,
    }
    return show(request, snapshot.record, "part_publish.html", "Publish", context)


@router.get("/trials/{trial}/dossier")
def dossier(request: Request, bench: BenchOf, trial: str) -> Response:
    """The dossier, to look at."""
    from beadworth.report import dossier_html

    text = dossier_html(_published(bench, trial, request))
    return HTMLResponse(text, headers={"Content-Security-Policy": DOSSIER_POLICY})


@router.get("/trials/{trial}/dossier.html")
def dossier_file(request: Request, bench: BenchOf, trial: str) -> Response:
    """The dossier, to keep and send."""
    from beadworth.report import dossier_html

    return download(dossier_html(_published(bench, trial, request)), f"{trial}.html", "text/html")


@router.get("/trials/{trial}/figures/{name}.svg")
def figure_svg(bench: BenchOf, trial: str, name: str) -> Response:
    """One figure as SVG."""
    text = render_svg(figure(_published(bench, trial), name), transparent=False)
    return download(text, f"{trial}-{name}.svg", "image/svg+xml")


@router.get("/trials/{trial}/figures/{name}.png")
def figure_png(bench: BenchOf, trial: str, name: str) -> Response:
    """One figure as PNG, two pixels to the point."""
    data = render_png(figure(_published(bench, trial), name))
    return download(data, f"{trial}-{name}.png", "image/png")


@router.get("/trials/{trial}/dossier.pdf")
def dossier_pdf_file(request: Request, bench: BenchOf, trial: str) -> Response:
    """The dossier typeset."""
    from beadworth.report import dossier_pdf

    return download(
        dossier_pdf(_published(bench, trial, request)), f"{trial}.pdf", "application/pdf"
    )


@router.get("/trials/{trial}/talking-points.md")
def talking_points_file(request: Request, bench: BenchOf, trial: str) -> Response:
    """The numbers that matter, in words."""
    from beadworth.report import talking_points

    said = talking_points(_published(bench, trial, request))
    return download(said, f"{trial}-talking-points.md", "text/markdown; charset=utf-8")


@router.post("/trials/{trial}/publication")
def start_publication(
    request: Request, bench: BenchOf, trial: str, publications: PublicationsOf, form: FormOf
) -> Response:
    """Begin a publication of the parts that were ticked."""
    parts = frozenset(part for part in PARTS if part in form.getlist("part"))
    if not parts:
        raise InputError(
            "nothing is ticked.", where="publication", remedy="Tick what is to be published."
        )
    _published(bench, trial)
    options = _options(form)
    job = publication_job(publications, bench, trial, parts, options)
    address = f"/trials/{quote(trial)}/publication/{job.number}"
    return _progress(request, trial, job) if is_fragment(request) else see_other(address)


def publication_job(
    publications: Jobs,
    bench: Bench,
    trial: str,
    parts: frozenset[Part],
    options: PublicationOptions,
) -> Job:
    """Publish into a zip; an earlier publication of the trial gives up its place.

    The same one that is still being made is handed out again. A licence given cannot be taken
    back, so one that differs is never answered with what was asked for before.
    """
    key = ("publication", trial, parts, options)
    publications.drop(
        lambda other: isinstance(other, tuple) and other[:2] == key[:2] and other != key
    )

    def work(job: Job) -> Path:
        def tell(what: str, done: int, total: int) -> None:
            job.progress(done, total, what)

        return publish_trial(bench, trial, parts, options, job.folder / f"{trial}.zip", tell)

    return publications.start(key, work, words="Publishing", detail=_being_made, anew=True)


def _being_made(job: Job) -> str:
    many = f": {job.count} of {job.total}" if (job.total or 0) > 1 else ""
    return f"{job.step or 'what the bench knows'}{many}."


def _options(form: ImmutableMultiDict[str, Any]) -> PublicationOptions:
    """What the form asks to show; a tick left out is a tick taken away."""
    licence = str(form.get("licence", DEFAULT_LICENCE))
    check_licence(licence)
    ticked = form.getlist("show")
    return PublicationOptions(
        licence, str(form.get("creator", "")), *(name in ticked for name in SHOWN)
    )


@router.get("/trials/{trial}/publication/{number}")
def publication(
    request: Request, bench: BenchOf, trial: str, number: int, publications: PublicationsOf
) -> Response:
    """How far a publication is, or where it can be fetched."""
    return _progress(request, trial, _found(publications, trial, number), bench)


@router.get("/trials/{trial}/publication/{number}/file")
def publication_file(trial: str, number: int, publications: PublicationsOf) -> Response:
    """A publication as a zip, from disk."""
    file = _found(publications, trial, number).answer()
    return FileResponse(file, media_type="application/zip", filename=file.name)


def _found(publications: Jobs, trial: str, number: int) -> Job:
    job = publications.numbered(number)
    if job is None or not isinstance(job.key, tuple) or job.key[1] != trial:
        raise NotFoundError(
            "this publication is no longer here: a newer one took its place, or the app was "
            "restarted.",
            where=f"trial {trial}",
            value=number,
            remedy="Publish again.",
        )
    return job


def _progress(request: Request, trial: str, job: Job, bench: Bench | None = None) -> Response:
    """The progress of a publication, its link once it is made, or why it was not."""
    address = f"/trials/{quote(trial)}/publication/{job.number}"
    size = job.answer().stat().st_size if job.wait(PATIENCE_S) else None
    context = {"job": job, "again": address, "trial": trial, "size": size}
    if bench is None or is_fragment(request):
        return page(request, "publication_part.html", context)
    return show(request, bench.trial(trial), "publication.html", "Publication", context)
