"""Forms for what a rig's record holds as lists, and for how well each value is known."""

from __future__ import annotations

from typing import Any
from urllib.parse import quote

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import Response

from beadworth.core import BeadworthError, from_mapping, to_mapping
from beadworth.rig import Rig
from beadworth.web.forms import Form, refused, typed_from, typed_in
from beadworth.web.responses import page, status_of
from beadworth.web.rig_lists import (
    LISTS,
    KnownRows,
    known_groups,
    known_rows,
    list_groups,
    rows_of,
    short_rows,
    typed_lists,
    with_known,
    with_lists,
)
from beadworth.web.routes.common import BenchOf, FormOf, see_other

router = APIRouter(include_in_schema=False)


@router.get("/rig-lists")
def lists(request: Request, bench: BenchOf, rig: str) -> Response:
    """Fans, holes and slots as rows to fill in."""
    record = bench.rig(rig)
    counts = {rows.path: rows_of(record, rows) for rows in LISTS}
    typed = typed_from(list_groups(counts), typed_lists(record))
    return _show_lists(request, record, Form(typed), counts)


@router.post("/rig-lists")
def save_lists(request: Request, bench: BenchOf, rig: str, sent: FormOf) -> Response:
    """The rows as the rig's next version; or more empty rows; or everything that is wrong."""
    record = bench.rig(rig)
    asked = str(sent.get("more", ""))
    sent_rows = {rows.path: _rows_sent(sent, rows.path) for rows in LISTS}
    if asked:
        counts = {p: n + (4 if p == asked else 0) for p, n in sent_rows.items()}
        typed = typed_in(list_groups(counts), sent)
        return _show_lists(request, record, Form(typed), counts)
    groups = list_groups(sent_rows)
    typed = typed_in(groups, sent)
    data, moved = with_lists(to_mapping(record), typed, sent_rows)
    try:
        bench.save_rig(from_mapping(Rig, data, "rig"))
    except BeadworthError as error:
        form = refused(groups, typed, error, moved)
        return _show_lists(request, record, form, sent_rows, status_of(error))
    return see_other(f"/rig/{quote(rig)}?saved=1")


@router.get("/rig-known")
def known(request: Request, bench: BenchOf, rig: str) -> Response:
    """Every recorded value with its uncertainty, where it came from, and a note."""
    record = bench.rig(rig)
    rows = known_rows(record)
    typed = typed_from(known_groups(rows), to_mapping(record))
    return _show_known(request, record, Form(typed), rows)


@router.post("/rig-known")
def save_known(request: Request, bench: BenchOf, rig: str, sent: FormOf) -> Response:
    """What is known of each value, as the rig's next version."""
    record = bench.rig(rig)
    rows = known_rows(record)
    groups = known_groups(rows)
    typed = typed_in(groups, sent)
    try:
        bench.save_rig(from_mapping(Rig, with_known(to_mapping(record), groups, typed), "rig"))
    except BeadworthError as error:
        form = refused(groups, typed, error)
        return _show_known(request, record, form, rows, status_of(error))
    return see_other(f"/rig/{quote(rig)}?saved=1")


def _rows_sent(sent: Any, path: str) -> int:
    """How many rows of a list a form sent, empty ones too."""
    numbers = [
        int(rest.partition(".")[0])
        for name in sent
        if name.startswith(f"{path}.") and (rest := name.removeprefix(f"{path}."))[:1].isdigit()
    ]
    return max(numbers, default=-1) + 1


def _show_lists(
    request: Request, rig: Rig, form: Form, counts: dict[str, int], status: int = 200
) -> Response:
    context = {
        "rig": rig,
        "form": form,
        "groups": list_groups(counts),
        "lists": [(rows, short_rows(rows, counts[rows.path])) for rows in LISTS],
    }
    return page(request, "rig_lists.html", context, status)


def _show_known(
    request: Request, rig: Rig, form: Form, rows: KnownRows, status: int = 200
) -> Response:
    context = {"rig": rig, "form": form, "rows": rows, "groups": known_groups(rows)}
    return page(request, "rig_known.html", context, status)
