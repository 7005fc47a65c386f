"""A rig's record as TOML to edit, its drawing to take away, and the handbook page by heading."""

from __future__ import annotations

from urllib.parse import quote

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import Response

from beadworth.core import (
    BeadworthError,
    InputError,
    NotFoundError,
    Place,
    Problem,
    from_toml,
    to_toml,
)
from beadworth.rig import Rig, side_view, without_typical_marks
from beadworth.web import handbook
from beadworth.web.responses import page, status_of
from beadworth.web.routes.common import BenchOf, FormOf, download, pasted_or_uploaded, see_other
from beadworth.web.toml_lines import with_lines

router = APIRouter(include_in_schema=False)


@router.get("/rig-edit")
def edit_page(request: Request, bench: BenchOf, rig: str) -> Response:
    """The record as text."""
    return _show(request, rig, to_toml(bench.rig(rig)), ())


@router.post("/rig-edit")
def edit(request: Request, bench: BenchOf, rig: str, sent: FormOf) -> Response:
    """The changed text as the rig's next version, or everything that is wrong with it."""
    before = bench.rig(rig)
    text = str(sent.get("text", ""))
    try:
        text, source = pasted_or_uploaded(sent, f"{rig}.toml")
        record = from_toml(Rig, text, source)
        if record.name != rig:
            raise InputError(
                f"this is the record of {record.name!r}, not of {rig!r}.",
                Place.of_field(source, "name"),
                record.name,
                "A record keeps its name; describe another rig on the page of rigs.",
            )
        bench.save_rig(without_typical_marks(before, record))
    except BeadworthError as error:
        return _show(request, rig, text, with_lines(error, text), status_of(error))
    return see_other(f"/rig/{quote(rig)}?saved=1")


def _show(
    request: Request, rig: str, text: str, problems: tuple[Problem, ...], status: int = 200
) -> Response:
    context = {"rig": rig, "text": text, "problems": problems}
    return page(request, "rig_edit.html", context, status)


@router.get("/rig-view")
def view(bench: BenchOf, rig: str) -> Response:
    """The side view as a file."""
    return download(side_view(bench.rig(rig)), f"{rig}, side view.svg", "image/svg+xml")


@router.get("/handbook/{name}")
def handbook_page(request: Request, name: str) -> Response:
    """A page of the documentation."""
    text = handbook.text_of(name)
    if text is None:
        raise NotFoundError(
            f"the page {name!r} of the documentation did not come with this installation.",
            where="handbook",
            value=name,
            remedy="It is in the source tree under docs/explanation.",
        )
    title = text.partition("\n")[0].lstrip("# ")
    context = {"title": title, "body": handbook.html_of(text)}
    return page(request, "handbook.html", context)
