"""Sign in to a bench that several people use, and out of it."""

from __future__ import annotations

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import Response

from beadworth.core import BeadworthError, NotFoundError
from beadworth.web.guesses import Guesses
from beadworth.web.people_gate import COOKIE, SECURE_COOKIE, session_of
from beadworth.web.responses import page, status_of
from beadworth.web.routes.common import BenchOf, FormOf, see_other
from beadworth.workflow import SESSION_LIFE, sign_in, sign_out

router = APIRouter(include_in_schema=False)


@router.get("/sign-in")
def ask(request: Request) -> Response:
    """The page of whoever is not known yet."""
    _require_people(request)
    return page(request, "sign_in.html", {"problems": ()})


@router.post("/sign-in")
def enter(request: Request, bench: BenchOf, sent: FormOf) -> Response:
    """A secret becomes a session of its own."""
    _require_people(request)
    guesses: Guesses = request.app.state.guesses
    try:
        with guesses.one(request, "secret"):
            session, _ = sign_in(bench, str(sent.get("secret", ""))[:200])
    except BeadworthError as error:
        return page(request, "sign_in.html", {"problems": error.problems}, status_of(error))
    secure = request.url.scheme == "https"
    answer = see_other("/")
    answer.set_cookie(
        SECURE_COOKIE if secure else COOKIE, session, secure=secure, httponly=True,
        samesite="strict", max_age=round(SESSION_LIFE.total_seconds()),
    )  # fmt: skip
    return answer


@router.post("/sign-out")
def leave(request: Request, bench: BenchOf) -> Response:
    """The session ends on the bench, not only in this browser."""
    _require_people(request)
    session = session_of(request.headers)
    if session:
        sign_out(bench, session)
    answer = see_other("/sign-in")
    answer.delete_cookie(COOKIE)
    answer.delete_cookie(SECURE_COOKIE, secure=True)
    return answer


def _require_people(request: Request) -> None:
    if not request.scope.get("people_door", False):
        raise NotFoundError(
            "nobody signs in here: the bench is open to whoever works at this machine.",
            f"{request.method} {request.url.path}",
            remedy="Start at /.",
        )
