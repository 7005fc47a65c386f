"""Publishing: the dossier, its figures, the readings."""

from __future__ import annotations

from collections.abc import Iterator

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import HTMLResponse, Response

from beadworth.bench import Bench
from beadworth.bench.account import dossier_data
from beadworth.dossier.charts import Chart, render_png, render_svg
from beadworth.dossier.charts_ceiling import ceiling_chart, comparison_chart
from beadworth.dossier.charts_loss import delivered_chart, loss_chart, residual_chart
from beadworth.dossier.charts_speeds import speeds_chart
from beadworth.dossier.data import DossierData
from beadworth.errors import NotFoundError, Problem
from beadworth.web.figures import slug
from beadworth.web.routes.common import BenchOf, download
from beadworth.web.routes.parts import show

router = APIRouter(include_in_schema=False)
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


def charts_of(data: DossierData) -> Iterator[Chart]:
    """The charts of a trial worth showing elsewhere."""
    ceilings = [c for c in data.ceilings if c.basis == "readings"]
    rigs = [group.rig for group in data.groups]
    yield loss_chart(data.groups, data.entries, ceilings)
    yield delivered_chart(data.groups, data.entries)
    if len({c.temperature_c for c in ceilings}) > 1:
        yield ceiling_chart(data.ceilings, data.law_ceilings, rigs=rigs)
    if data.differences and data.candidate:
        yield comparison_chart(data.differences, baseline=data.baseline, candidate=data.candidate)
    for rig in dict.fromkeys(row.rig for row in data.speeds):
        yield speeds_chart(data.speeds, rig, reserve=data.reserve)
    yield residual_chart(data.groups)


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
        "figures": [(slug(chart.name), chart.title) for chart in charts_of(data)],
    }
    return show(request, bench, trial, "part_publish.html", "Publish", context)


@router.get("/trials/{trial}/dossier")
def dossier(bench: BenchOf, trial: str) -> Response:
    """The dossier, to look at."""
    from beadworth.dossier.page import dossier_html

    text = dossier_html(_published(bench, trial))
    return HTMLResponse(text, headers={"Content-Security-Policy": DOSSIER_POLICY})


@router.get("/trials/{trial}/dossier.html")
def dossier_file(bench: BenchOf, trial: str) -> Response:
    """The dossier, to keep and send."""
    from beadworth.dossier.page import dossier_html

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
    for chart in charts_of(_published(bench, trial)):
        if slug(chart.name) == name:
            return chart
    raise NotFoundError(
        Problem(f"trial {trial} has no figure {name!r}.", where="figures", value=name)
    )
