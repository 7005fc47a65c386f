"""People and scripts let in to a served bench: a secret each, a role, and what was withdrawn."""

from __future__ import annotations

import secrets
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING, Final, Literal, cast

from beadworth.core import (
    ConflictError,
    InputError,
    NotFoundError,
    UnknownVisitorError,
    flat,
)
from beadworth.store import Grant, NewGrant
from beadworth.text import name_problem
from beadworth.workflow.phones import digest_of, matching

if TYPE_CHECKING:
    from beadworth.store import Bench

Role = Literal["owner", "measurer", "reader"]
ROLES: Final[tuple[Role, ...]] = ("owner", "measurer", "reader")
"""All; enter what is measured; look."""
SESSION_LIFE: Final = timedelta(hours=12)
LONGEST_NAME: Final = 60


@dataclass(frozen=True)
class Visitor:
    """Whoever asks, once it is known who."""

    name: str
    role: Role


@dataclass(frozen=True)
class Admitted:
    """A person or script, and whether it still is let in."""

    grant: Grant = field(metadata=flat("id", "kind", "name", "role", "at"))
    state: Literal["let in", "withdrawn"]


@dataclass(frozen=True)
class People:
    """Everybody who was ever let in, the last first."""

    people: tuple[Admitted, ...]


@dataclass(frozen=True)
class NewSecret:
    """A secret, shown once; the bench holds only its hash."""

    name: str
    role: Role
    kind: Literal["person", "script"]
    secret: str


def admit(bench: Bench, name: str, role: str, *, script: bool = False) -> NewSecret:
    """Let a person or script in, with the secret it shows from now on.

    Raises
    ------
    InputError
        A name that cannot be seen whole, is too long, or empty; no such role.
    ConflictError
        Somebody of that name is let in already: entries must say who made them.
    """
    problem = name_problem(name) or (
        f"the name has {len(name)} characters" if not 0 < len(name) <= LONGEST_NAME else None
    )
    if problem:
        raise InputError(
            f"{problem}.", "name", name, f"1 to {LONGEST_NAME} plain characters are a name."
        )
    if role not in ROLES:
        raise InputError(f"{role!r} is no role.", "role", role, f"One of {', '.join(ROLES)}.")
    if any(one.grant.name == name and one.state == "let in" for one in admitted(bench)):
        raise ConflictError(
            f"{name!r} is let in already.", "name", name, "Choose another name, or withdraw it."
        )
    secret = secrets.token_urlsafe(32)
    kind: Literal["person", "script"] = "script" if script else "person"
    bench.give(NewGrant(kind, name, role, digest_of(secret)))
    return NewSecret(name, role, kind, secret)


def admitted(bench: Bench) -> list[Admitted]:
    """Everybody who was ever let in, the last first."""
    return [
        Admitted(grant, "let in" if grant.state == "open" else "withdrawn")
        for grant in reversed(bench.grants())
        if grant.kind in ("person", "script")
    ]


def withdraw_admission(bench: Bench, number: int) -> str:
    """Let somebody in no longer, from the next request on; gives the name.

    Raises
    ------
    NotFoundError
        Nobody of that number.
    ConflictError
        It was withdrawn before.
    """
    if number not in {one.grant.id for one in admitted(bench)}:
        raise NotFoundError(
            f"nobody of the number {number} was let in.",
            "number",
            number,
            "The numbers stand in the list: beadworth bench people.",
        )
    return bench.withdraw(number).name


def sign_in(bench: Bench, secret: str, now: datetime | None = None) -> tuple[str, Visitor]:
    """Use a person's secret for a session of its own; gives what the browser shows from now on.

    Raises
    ------
    UnknownVisitorError
        Nobody's secret, a script's, or one that was withdrawn.
    """
    found = matching(bench, "person", secret.strip())
    if found is None or found.state != "open":
        raise _unknown("this is not the secret of anybody who is let in.")
    session = secrets.token_urlsafe(32)
    until = (now or datetime.now(UTC)) + SESSION_LIFE
    bench.give(NewGrant("session", found.name, found.role, digest_of(session), until))
    return session, _visitor(found)


def sign_out(bench: Bench, session: str) -> None:
    """End a session; one that ended already stays so."""
    found = matching(bench, "session", session)
    if found is not None and found.state == "open":
        bench.withdraw(found.id)


def visitor_of(
    bench: Bench, session: str | None = None, token: str | None = None, now: datetime | None = None
) -> Visitor:
    """Whoever shows a session's secret, or a script's token.

    Raises
    ------
    UnknownVisitorError
        Neither, or one that is unknown, ended, or whose person is no longer let in.
    """
    if token is not None:
        found = matching(bench, "script", token)
        if found is None or found.state != "open":
            raise _unknown("this token is not one of a script that is let in.")
        return _visitor(found)
    opened = matching(bench, "session", session) if session else None
    if opened is None:
        raise _unknown("who asks is not known here.")
    at = now or datetime.now(UTC)
    if opened.state != "open" or opened.until is None or at >= opened.until:
        raise _unknown("this session ended.")
    person = _person(bench.grants("person"), opened.name)
    if person is None:
        raise _unknown(f"{opened.name} is no longer let in.")
    return _visitor(person)


def _person(grants: Sequence[Grant], name: str) -> Grant | None:
    return next((one for one in grants if one.name == name and one.state == "open"), None)


def _visitor(grant: Grant) -> Visitor:
    return Visitor(grant.name, cast(Role, grant.role))


def _unknown(what: str) -> UnknownVisitorError:
    return UnknownVisitorError(
        what, "sign-in", None, "Sign in with your secret; an owner of the bench gives one."
    )
