"""Wear logs and journals as JSON: the same data as ``wear`` and ``journal`` with ``--json``."""

from __future__ import annotations

from dataclasses import asdict
from datetime import date
from typing import Annotated, Any

from fastapi import APIRouter, Query
from pydantic import BaseModel, Field
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response

from beadworth.core import InputError, Problem, to_json
from beadworth.store import clean_photo, store_photo
from beadworth.wear import ChartSettings
from beadworth.web.routes.api_common import (
    READS,
    TAKES_FILE,
    WRITES,
    BodyOf,
    answer,
    refusals,
    takes,
)
from beadworth.web.routes.common import BenchOf
from beadworth.workflow import (
    add_journal_page,
    add_wear,
    compare_wear,
    journal_entries,
    rig_wear,
    supersede_journal_page,
    supersede_wear,
    void_journal_page,
    void_wear,
    wear_log,
)

router = APIRouter(prefix="/api", tags=["wear and journal"])
RigOf = Annotated[str, Query(min_length=1, max_length=120, description="a rig on the bench")]
SubjectOf = Annotated[
    str, Query(min_length=1, max_length=120, description="a rig's name or a trial's id")
]
InsteadOf = Annotated[
    int | None, Query(ge=1, lt=2**31, description="entry whose place this takes; it stays")
]
EntryOf = Annotated[int, Query(ge=1, lt=2**31, description="number of the entry")]
ReasonOf = Annotated[str, Query(max_length=300, description="why")]


class KeptShape(BaseModel):
    """An entry as it was entered, and what became of it."""

    id: int
    state: str = Field(description="current, void or superseded")
    reason: str = Field(description="why it no longer counts")
    supersedes: int | None
    entered: str
    entry: dict[str, Any]


class WearLogShape(BaseModel):
    """Every entry of a rig's log in the order entered."""

    rig: str
    entries: list[KeptShape]


class WearSummaryShape(BaseModel):
    """What a log says; further fields as ``wear summary --json`` prints them."""

    rig: str
    total_h: float
    rate: dict[str, Any] | None
    series: list[dict[str, Any]]
    parts: list[dict[str, Any]]
    due: list[dict[str, Any]]


class ChangeShape(BaseModel):
    """A check before and after a change."""

    rig: str
    check: str
    unit: str
    kind: str = Field(description="paired or unpaired")
    difference: float
    low: float
    high: float
    confidence: float
    t: float
    dof: float
    p: float
    before: int
    after: int
    resolved: bool
    sentence: str


class JournalShape(BaseModel):
    """Every page of a journal by the day it tells of."""

    subject: str
    pages: list[KeptShape]


class VoidedShape(BaseModel):
    """Which entry no longer counts."""

    voided: int
    reason: str


class PhotoShape(BaseModel):
    """A photo as it is kept."""

    sha256: str
    width_px: int
    height_px: int
    bytes: int


@router.get("/wear", summary="The wear log of a rig", response_model=WearLogShape, responses=READS)
def log(bench: BenchOf, rig: RigOf) -> Response:
    """Entries that no longer count too, with the reason."""
    return answer({"rig": rig, "entries": [to_json(kept) for kept in wear_log(bench, rig)]})


@router.post(
    "/wear",
    summary="Log an entry, or put a corrected one in another's place",
    status_code=201,
    response_model=KeptShape,
    responses=WRITES,
    openapi_extra=takes("WearEntry"),
)
def add(
    bench: BenchOf, rig: RigOf, body: BodyOf, instead_of: InsteadOf = None, reason: ReasonOf = ""
) -> Response:
    """With ``from_print``, the id of a print, and no hours, its last replay's time is taken."""
    kept = (
        add_wear(bench, rig, body)
        if instead_of is None
        else supersede_wear(bench, rig, instead_of, body, reason)
    )
    return answer(to_json(kept), 201)


@router.get(
    "/wear/summary",
    summary="Hours, failure rate, charts, lives of parts, what is due",
    response_model=WearSummaryShape,
    responses=READS,
)
def summary(
    bench: BenchOf,
    rig: RigOf,
    check: Annotated[str, Query(max_length=200, description="check the rest is for")] = "",
    baseline: Annotated[int | None, Query(ge=1, le=10_000)] = None,
    target: Annotated[float | None, Query(allow_inf_nan=False)] = None,
    since: Annotated[date | None, Query(description="leave out readings before it")] = None,
    more_rules: Annotated[bool, Query(description="steps and runs are signals too")] = False,
) -> Response:
    """As ``wear summary --json``; a check is named as 'name, place'."""
    stated = {check: ChartSettings(baseline, target, since, more_rules=more_rules)}
    found = rig_wear(bench, rig, stated if check else None)
    return answer({"rig": rig, **to_json(found)})


@router.get(
    "/wear/compare",
    summary="A check before and after a change",
    response_model=ChangeShape,
    responses=READS,
)
def compare(
    bench: BenchOf,
    rig: RigOf,
    check: Annotated[str, Query(min_length=1, max_length=200, description="name, or name, place")],
    on: Annotated[date | None, Query(description="day of the change")] = None,
    at: Annotated[int | None, Query(ge=1, lt=2**31, description="entry that is the change")] = None,
) -> Response:
    """One of ``on`` and ``at`` is needed. As ``wear compare --json``."""
    when = on if at is None else at
    if when is None or (on is not None and at is not None):
        raise InputError(
            Problem("it is not said which change.", "on, at", None,
                    "Give the day, or the number of the entry: one of them.")
        )  # fmt: skip
    unit, found = compare_wear(bench, rig, check, when)
    return answer(
        {"rig": rig, "check": check, "unit": unit, **asdict(found), "resolved": found.resolved,
         "sentence": found.sentence(unit)}
    )  # fmt: skip


@router.post(
    "/wear/void",
    summary="Let an entry of a wear log no longer count; it stays",
    response_model=VoidedShape,
    responses=WRITES,
)
def void(bench: BenchOf, rig: RigOf, entry: EntryOf, reason: ReasonOf) -> Response:
    """The reason stays with it."""
    void_wear(bench, rig, entry, reason)
    return _voided(entry, reason)


@router.get(
    "/journal",
    summary="The journal of a rig or a trial",
    response_model=JournalShape,
    responses=READS,
)
def pages(bench: BenchOf, subject: SubjectOf) -> Response:
    """Pages that no longer count too, with the reason."""
    found = [to_json(kept) for kept in journal_entries(bench, subject)]
    return answer({"subject": subject, "pages": found})


@router.post(
    "/journal",
    summary="Write a page, or put a corrected one in another's place",
    status_code=201,
    response_model=KeptShape,
    responses=WRITES,
    openapi_extra=takes("JournalEntry"),
)
def write(
    bench: BenchOf, subject: SubjectOf, body: BodyOf, instead_of: InsteadOf = None,
    reason: ReasonOf = "",
) -> Response:  # fmt: skip
    """Photos are named by their digest, after ``POST /api/photos``."""
    kept = (
        add_journal_page(bench, subject, body)
        if instead_of is None
        else supersede_journal_page(bench, subject, instead_of, body, reason)
    )
    return answer(to_json(kept), 201)


@router.post(
    "/journal/void",
    summary="Let a page of a journal no longer count; it stays",
    response_model=VoidedShape,
    responses=WRITES,
)
def void_one(bench: BenchOf, subject: SubjectOf, entry: EntryOf, reason: ReasonOf) -> Response:
    """The reason stays with it; no dossier shows it."""
    void_journal_page(bench, subject, entry, reason)
    return _voided(entry, reason)


def _voided(entry: int, reason: str) -> Response:
    return answer({"voided": entry, "reason": reason})


@router.post(
    "/photos",
    summary="Keep a photo (JPEG, PNG or WebP, up to 15 MB), stripped to its pixels",
    status_code=201,
    response_model=PhotoShape,
    responses=refusals(403, 413, 422),
    openapi_extra=TAKES_FILE,
)
async def keep(request: Request, bench: BenchOf) -> Response:
    """The body is the file; the answer names what a journal page refers to."""
    body = await request.body()

    def work() -> dict[str, Any]:
        made = clean_photo(body, "photo")
        store_photo(bench, made)
        return {
            "sha256": made.sha256,
            "width_px": made.width_px,
            "height_px": made.height_px,
            "bytes": len(made.data),
        }

    return answer(await run_in_threadpool(work), 201)
