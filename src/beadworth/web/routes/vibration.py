"""An accelerometer's record in the browser: spectra, modes, ripple, command filters."""

from __future__ import annotations

from typing import Any

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import Response

from beadworth.core import BeadworthError, InputError
from beadworth.report import filters_chart, ripple_chart, shaking_chart
from beadworth.text import ambiguity, parse_number, parse_numbers
from beadworth.web.figures import figure
from beadworth.web.responses import page, status_of
from beadworth.web.routes.common import FormOf, file_or_pasted
from beadworth.workflow import Vibration, describe_bounds, read_vibration

router = APIRouter(include_in_schema=False)
START = {"accelerations": "500 1000 2000 4000 8000", "speed_step": "100"}


@router.get("/vibration")
def vibration_page(request: Request) -> Response:
    """A place to give a record."""
    return _page(request, START)


@router.post("/vibration")
def read(request: Request, sent: FormOf) -> Response:
    """What a record says; it is not stored."""
    typed = {name: str(sent.get(name, "")) for name in START}
    try:
        data, name = file_or_pasted(sent, "record")
        content = data.encode() if isinstance(data, str) else data
        found = read_vibration(content, name, _ladder(typed["accelerations"]),
                               _number(typed["speed_step"]))  # fmt: skip
    except BeadworthError as error:
        return _page(request, typed, error=error)
    return _page(request, typed, found)


def _ladder(text: str) -> list[float]:
    values = parse_numbers(text)
    wrong = [value for value in values if isinstance(value, str)]
    unclear = ambiguity(text)
    if wrong or unclear or not values:
        raise InputError(
            f"{text[:60]!r} is no list of accelerations.", "accelerations", text,
            unclear[1] if unclear else "Write for example 1000 2000 4000.",
        )  # fmt: skip
    return [value for value in values if not isinstance(value, str)]


def _number(text: str) -> float:
    value = parse_number(text)
    if value is None:
        raise InputError(f"{text[:30]!r} is no speed.", "change of speed", text, "Write mm/s.")
    return value


def _page(
    request: Request,
    typed: dict[str, str],
    found: Vibration | None = None,
    error: BeadworthError | None = None,
) -> Response:
    context: dict[str, Any] = {
        "typed": typed, "found": found, "problems": error.problems if error else (),
        "bounds": describe_bounds, "modes": (), "figures": (), "filters": (), "ripple": None,
    }  # fmt: skip
    if found is not None:
        modes = tuple(mode for axis in found.axes for mode in axis.modes)
        context |= {
            "modes": modes,
            "shaking": figure(shaking_chart(found)),
            "ripple": figure(ripple_chart(modes)) if modes else None,
            "filters": [figure(filters_chart(mode)) for mode in modes[:2]],
        }
    return page(request, "vibration.html", context, status_of(error) if error else 200)
