"""What the JSON routes share: bodies in, finite numbers out, one error shape, described."""

from __future__ import annotations

import json
import math
from typing import Annotated, Any

from fastapi import Depends, Query
from pydantic import BaseModel, ConfigDict, Field
from starlette.requests import Request
from starlette.responses import JSONResponse

from beadworth.core import InputError, ProblemShape, Record, shape, to_json
from beadworth.web.responses import MalformedError


class ErrorBody(BaseModel):
    """Kind, words, and every problem of the input at once."""

    model_config = ConfigDict(extra="forbid")
    kind: str = Field(description="a stable word scripts may test for")
    message: str
    problems: list[ProblemShape]


class ErrorShape(BaseModel):
    """The one shape every refusal has."""

    model_config = ConfigDict(extra="forbid")
    error: ErrorBody


LONGEST_INTEGER = 18
"""Digits and sign of a whole number that every store and every reader of JSON holds."""
LossOf = Annotated[
    float | None,
    Query(ge=0.005, le=0.2, description="loss at which ceilings are read; left out: the trial's"),
]
MEANING = {
    400: "The request is not valid HTTP or JSON.",
    403: "A change asked for by a page that is not ours.",
    404: "Not on the bench.",
    409: "Refused by the bench's rules: a locked plan, a name taken, a reading already there.",
    413: "The body is larger than any this app has a use for.",
    421: "The request came under a name that is not this server's.",
    422: "Invalid input; every problem is listed.",
    503: "The bench file is unreadable or locked.",
}


def refusals(*codes: int) -> dict[int | str, dict[str, Any]]:
    """The error answers of a route, for its description; 421 and 503 can meet any."""
    return {
        code: {"model": ErrorShape, "description": MEANING[code]}
        for code in sorted({*codes, 421, 503})
    }


FILE = {"application/octet-stream": {"schema": {"type": "string"}}}
"""The content of a body that is a file as it is."""
TABLE = {"text/csv": {"schema": {"type": "string"}}}
"""The content of a body that is a readings table."""


def reads(gives: Any, summary: str, *codes: int) -> dict[str, Any]:
    """What a decorator needs to describe a route that gives a type's JSON.

    ``codes`` are those of the refusals it may meet; left out: 404 and 422.
    """
    return {
        "summary": summary,
        "response_model": shape(gives),
        "responses": refusals(*(codes or (404, 422))),
    }


def writes(
    gives: Any,
    summary: str,
    takes: type[Record] | dict[str, Any] | None = None,
    *codes: int,
    created: bool = False,
) -> dict[str, Any]:
    """The same of a route that takes a body: one of our records, or other content."""
    described = reads(gives, summary, *(codes or (400, 403, 404, 409, 413, 422)))
    if isinstance(takes, type):
        reference = {"$ref": f"#/components/schemas/{takes.__name__}"}
        takes = {"application/json": {"schema": reference}}
    if takes is not None:
        described["openapi_extra"] = {"requestBody": {"required": True, "content": takes}}
    return described | {"status_code": 201 if created else 200}


async def _json_body(request: Request) -> dict[str, Any]:
    try:
        data = json.loads(
            await request.body(),
            parse_constant=_no_constant,
            parse_float=_finite,
            parse_int=_bounded,
        )
    except (ValueError, RecursionError) as error:
        raise MalformedError(
            f"the body is not JSON: {error}.",
            where="request body",
            remedy="Send one JSON object, encoded as UTF-8.",
        ) from None
    if not isinstance(data, dict):
        raise InputError(
            f"the body is a {type(data).__name__}, not an object.",
            where="request body",
            remedy="Send one JSON object.",
        )
    return data


def _no_constant(name: str) -> float:
    raise ValueError(f"{name} is no JSON number")


def _finite(text: str) -> float:
    number = float(text)
    if not math.isfinite(number):
        raise ValueError(f"{text[:40]} is larger than any number that can be stored")
    return number


def _bounded(text: str) -> int:
    if len(text) > LONGEST_INTEGER:
        raise ValueError(f"{text[:40]}… has {len(text)} digits; {LONGEST_INTEGER} are the most")
    return int(text)


BodyOf = Annotated[dict[str, Any], Depends(_json_body)]


def answer(given: Any, status: int = 200) -> JSONResponse:
    """One JSON document, written by the codec."""
    return JSONResponse(to_json(given), status_code=status)
