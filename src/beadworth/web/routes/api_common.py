"""What the JSON routes share: bodies in, finite numbers out, one error shape, described."""

from __future__ import annotations

import json
from typing import Annotated, Any

from fastapi import Depends, Query
from pydantic import BaseModel, Field
from starlette.requests import Request
from starlette.responses import JSONResponse

from beadworth.core import InputError, Problem, to_json
from beadworth.web.responses import MalformedError


class ProblemShape(BaseModel):
    """One thing that is wrong with an input."""

    what: str = Field(description="what is wrong, with the number and the limit")
    where: str = Field(description="the place: file, row, column, or field")
    value: float | str | bool | None = Field(description="the value seen")
    remedy: str = Field(description="what to do")


class ErrorBody(BaseModel):
    """Kind, words, and every problem of the input at once."""

    kind: str = Field(description="a stable word scripts may test for")
    message: str
    problems: list[ProblemShape]


class ErrorShape(BaseModel):
    """The one shape every refusal has."""

    error: ErrorBody


LossOf = Annotated[
    float | None,
    Query(ge=0.005, le=0.2, description="loss at which ceilings are read; left out: the trial's"),
]
MEANING = {
    400: "The request is not written as HTTP or JSON wants it.",
    403: "A change asked for by a page that is not ours.",
    404: "Not on the bench.",
    409: "Refused by the bench's rules: a locked plan, a name taken, a reading already there.",
    413: "The body is larger than any this app has a use for.",
    421: "The request came under a name that is not this server's.",
    422: "An input that cannot be used; every problem of it is listed.",
    503: "The bench file cannot be used.",
}


def refusals(*codes: int) -> dict[int | str, dict[str, Any]]:
    """The error answers of a route, for its description; 421 and 503 can meet any."""
    return {
        code: {"model": ErrorShape, "description": MEANING[code]}
        for code in sorted({*codes, 421, 503})
    }


READS = refusals(404, 422)
WRITES = refusals(400, 403, 404, 409, 413, 422)


def takes(schema: str) -> dict[str, Any]:
    """The description of a JSON body that one of our own records checks."""
    reference = {"schema": {"$ref": f"#/components/schemas/{schema}"}}
    return {"requestBody": {"required": True, "content": {"application/json": reference}}}


TAKES_FILE: dict[str, Any] = {
    "requestBody": {
        "required": True,
        "content": {"application/octet-stream": {"schema": {"type": "string"}}},
    }
}
"""The description of a body that is a file as it is."""


async def _json_body(request: Request) -> dict[str, Any]:
    try:
        data = json.loads(await request.body(), parse_constant=_no_constant)
    except (ValueError, RecursionError) as error:
        raise MalformedError(
            Problem(
                f"the body is not JSON: {error}.",
                where="request body",
                remedy="Send one JSON object, encoded as UTF-8.",
            )
        ) from None
    if not isinstance(data, dict):
        raise InputError(
            Problem(
                f"the body is a {type(data).__name__}, not an object.",
                where="request body",
                remedy="Send one JSON object.",
            )
        )
    return data


def _no_constant(name: str) -> float:
    raise ValueError(f"{name} is no JSON number")


BodyOf = Annotated[dict[str, Any], Depends(_json_body)]


def answer(data: Any, status: int = 200) -> JSONResponse:
    """One JSON document."""
    return JSONResponse(to_json(data), status_code=status)
