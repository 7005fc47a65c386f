"""Wear logs and journals as JSON: the same data as ``wear`` and ``journal`` with ``--json``."""

# No deferred annotations here: those of the routes made in entry_routes are its own variables.
from collections.abc import Callable
from datetime import date
from typing import Annotated, Any

from fastapi import APIRouter, Query
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response

from beadworth.core import InputError, Record
from beadworth.web.routes.api_common import FILE, BodyOf, answer, reads, writes
from beadworth.web.routes.common import BenchOf
from beadworth.workflow import (
    ChartSettings,
    Journal,
    JournalEntry,
    RigWear,
    StoredEntry,
    StoredPhoto,
    Voided,
    WearChange,
    WearEntry,
    WearLog,
    add_journal_page,
    add_photo,
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
RigOf = Annotated[
    str, Query(alias="rig", min_length=1, max_length=120, description="a rig on the bench")
]
SubjectOf = Annotated[
    str, Query(min_length=1, max_length=120, description="a rig's name or a trial's id")
]
InsteadOf = Annotated[
    int | None, Query(ge=1, lt=2**31, description="entry whose place this takes; it stays")
]
EntryOf = Annotated[int, Query(ge=1, lt=2**31, description="number of the entry")]
ReasonOf = Annotated[str, Query(max_length=300, description="why")]


def entry_routes(
    path: str,
    about: Any,
    log: Any,
    kind: type[Record],
    summaries: tuple[str, str, str],
    *,
    every: Callable[..., Any],
    add: Callable[..., Any],
    supersede: Callable[..., Any],
    void: Callable[..., Any],
) -> None:
    """List, add, correct and void the dated records about something."""
    listed, added, voided = summaries

    @router.get(path, **reads(log, listed), name=f"list {path}")
    def show(bench: BenchOf, subject: about) -> Response:
        return answer(log(subject, tuple(every(bench, subject))))

    @router.post(path, **writes(StoredEntry[kind], added, kind, created=True), name=f"add {path}")
    def put(
        bench: BenchOf,
        subject: about,
        body: BodyOf,
        instead_of: InsteadOf = None,
        reason: ReasonOf = "",
    ) -> Response:
        if instead_of is None:
            return answer(add(bench, subject, body), 201)
        return answer(supersede(bench, subject, instead_of, body, reason), 201)

    @router.post(f"{path}/void", **writes(Voided, voided), name=f"void {path}")
    def no_longer(bench: BenchOf, subject: about, entry: EntryOf, reason: ReasonOf) -> Response:
        void(bench, subject, entry, reason)
        return answer(Voided(entry, reason))


entry_routes(
    "/wear",
    RigOf,
    WearLog,
    WearEntry,
    (
        "The wear log of a rig; entries that no longer count too, with the reason",
        "Log an entry, or put a corrected one in another's place; with from_print, the id of a "
        "print, and no hours, its last replay's time is taken",
        "Let an entry of a wear log no longer count; it stays, with the reason",
    ),
    every=wear_log,
    add=add_wear,
    supersede=supersede_wear,
    void=void_wear,
)
entry_routes(
    "/journal",
    SubjectOf,
    Journal,
    JournalEntry,
    (
        "The journal of a rig or a trial; pages that no longer count too, with the reason",
        "Write a page, or put a corrected one in another's place; photos are named by their "
        "digest, after POST /api/photos",
        "Let a page of a journal no longer count; it stays, and no dossier shows it",
    ),
    every=journal_entries,
    add=add_journal_page,
    supersede=supersede_journal_page,
    void=void_journal_page,
)


@router.get(
    "/wear/summary",
    **reads(RigWear, "Hours, failure rate, charts, lives of parts, what is due"),
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
    return answer(RigWear(rig, rig_wear(bench, rig, stated if check else None)))


@router.get("/wear/compare", **reads(WearChange, "A check before and after a change"))
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
            "the change is not named.",
            "on, at",
            None,
            "Give the day, or the number of the entry: one of them.",
        )
    unit, found = compare_wear(bench, rig, check, when)
    return answer(WearChange(rig, check, unit, found, found.resolved, found.sentence(unit)))


@router.post(
    "/photos",
    **writes(
        StoredPhoto,
        "Store a photo (JPEG, PNG or WebP, up to 15 MB), stripped to its pixels",
        FILE, 403, 413, 422, created=True,
    ),
)  # fmt: skip
async def photo(request: Request, bench: BenchOf) -> Response:
    """The body is the file; the answer names what a journal page refers to."""
    return answer(await run_in_threadpool(add_photo, bench, await request.body()), 201)
