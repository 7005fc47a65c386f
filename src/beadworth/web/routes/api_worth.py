"""Worth as JSON: the same data as ``worth compare --json``."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Query
from pydantic import BaseModel, ConfigDict, Field
from starlette.responses import Response

from beadworth.core import to_json, to_mapping
from beadworth.web.routes.api_common import READS, WRITES, BodyOf, answer, takes
from beadworth.web.routes.common import BenchOf, DeskOf
from beadworth.workflow import (
    calculate_worth,
    store_worth,
    stored_worth,
    stored_worths,
    worth_answer,
)
from beadworth.worth import case_from_mapping

router = APIRouter(prefix="/api", tags=["worth"])


class ResultShape(BaseModel):
    """A value with its 95 % interval; a side without a bound is null."""

    value: float | None
    low: float | None
    high: float | None


class WorthShape(BaseModel):
    """What a case comes to; further fields as the command worth compare --json prints them."""

    model_config = ConfigDict(extra="allow")
    sentence: str
    verdict: str
    hours_saved_per_year: ResultShape
    cost: ResultShape
    break_even_prints: ResultShape
    break_even_months: ResultShape
    profiles: list[dict[str, Any]]
    options: dict[str, Any]


class KeptShape(BaseModel):
    """A case on the bench."""

    name: str
    at: str
    sentence: str
    verdict: str


class KeptListShape(BaseModel):
    """Every case, the one kept last first."""

    cases: list[KeptShape]


class CaseShape(BaseModel):
    """A kept case, as typed, and what it comes to."""

    name: str
    at: str
    case: dict[str, Any] = Field(description="the case record")
    answer: WorthShape


@router.post(
    "/worth",
    summary="Replay the prints of a case on both rigs and work it out",
    response_model=WorthShape,
    responses=WRITES,
    openapi_extra=takes("WorthCase"),
)
def compare(
    bench: BenchOf,
    desk: DeskOf,
    body: BodyOf,
    keep: Annotated[bool, Query(description="keep the case on the bench")] = False,
) -> Response:
    """As the command ``worth compare --json``; rigs, trials and prints of the bench."""
    case = case_from_mapping(body, "case")
    asked, found = calculate_worth(bench, case, shelf=desk.shelf)
    if keep:
        store_worth(bench, asked, found)
    return answer(to_json(found))


@router.get(
    "/worth", summary="The worth cases on the bench", response_model=KeptListShape, responses=READS
)
def cases(bench: BenchOf) -> Response:
    """With what each came to when it was kept."""
    return answer(
        {
            "cases": [
                {
                    "name": kept.case.name,
                    "at": kept.at.isoformat(timespec="seconds"),
                    "sentence": kept.result["sentence"],
                    "verdict": kept.result["verdict"],
                }
                for kept in stored_worths(bench)
            ]
        }
    )


@router.get("/worth/case", summary="One kept case", response_model=CaseShape, responses=READS)
def case(bench: BenchOf, name: str) -> Response:
    """Worked out from the times replayed when it was kept."""
    kept = stored_worth(bench, name)
    return answer(
        {
            "name": kept.case.name,
            "at": kept.at.isoformat(timespec="seconds"),
            "case": to_mapping(kept.case),
            "answer": to_json(worth_answer(kept.asked)),
        }
    )
