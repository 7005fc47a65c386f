"""Worth as JSON: the same data as ``worth compare --json``."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Query
from starlette.responses import Response

from beadworth.web.routes.api_common import BodyOf, answer, reads, writes
from beadworth.web.routes.common import BenchOf, DeskOf
from beadworth.workflow import (
    StoredCase,
    StoredWorth,
    WorthAnswer,
    WorthCase,
    WorthCases,
    WorthLine,
    calculate_worth,
    case_from_mapping,
    store_worth,
    stored_worth,
    stored_worths,
    worth_answer,
)

router = APIRouter(prefix="/api", tags=["worth"])


@router.post(
    "/worth",
    **writes(WorthAnswer, "Replay the prints of a case on both rigs and calculate it", WorthCase),
)
def compare(
    bench: BenchOf,
    desk: DeskOf,
    body: BodyOf,
    keep: Annotated[bool, Query(description="store the case on the bench")] = False,
) -> Response:
    """As the command ``worth compare --json``; rigs, trials and prints of the bench."""
    inputs, found = calculate_worth(bench, case_from_mapping(body, "case"), shelf=desk.shelf)
    if keep:
        store_worth(bench, inputs, found)
    return answer(found)


def _at(stored: StoredWorth) -> str:
    return stored.at.isoformat(timespec="seconds")


@router.get("/worth", **reads(WorthCases, "The worth cases on the bench"))
def cases(bench: BenchOf) -> Response:
    """With what each came to when it was stored."""
    lines = (
        WorthLine(one.case.name, _at(one), one.result["sentence"], one.result["verdict"])
        for one in stored_worths(bench)
    )
    return answer(WorthCases(tuple(lines)))


@router.get("/worth/case", **reads(StoredCase, "One stored case"))
def case(bench: BenchOf, name: str) -> Response:
    """Calculated from the times replayed when it was stored."""
    stored = stored_worth(bench, name)
    return answer(
        StoredCase(stored.case.name, _at(stored), stored.case, worth_answer(stored.asked))
    )
