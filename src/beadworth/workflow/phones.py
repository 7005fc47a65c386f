"""A phone paired for one trial: a code that serves once, and what the phone then shows instead."""

from __future__ import annotations

import hashlib
import hmac
import secrets
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING, Final, Literal

from beadworth.core import (
    ConflictError,
    NotFoundError,
    UnknownVisitorError,
    flat,
)
from beadworth.store import Grant, NewGrant

if TYPE_CHECKING:
    from beadworth.store import Bench

CODE_LIFE: Final = timedelta(minutes=10)
"""Long enough to fetch the phone; what was photographed off the screen is soon worth nothing."""
PHONE_LIFE: Final = timedelta(hours=12)
"""An evening's weighing, and the morning after."""
LETTERS: Final = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
"""32 that are not taken for one another: without I, L, O and U."""
CODE_LETTERS: Final = 12
"""60 bits: of 60 guesses a minute, as many as all may make, for ten minutes one in 2·10¹⁵ finds it.
"""
_READ_AS: Final = str.maketrans("OIL", "011")
_BEGINS: Final = 8
"""Digits of a digest by which its row is looked up; the whole of it is compared in constant time.
"""


@dataclass(frozen=True)
class PairingCode:
    """A code for one phone, as it is shown once; the bench holds only its hash."""

    code: str
    """Three groups of four letters and digits."""
    trial: str
    until: datetime


@dataclass(frozen=True)
class PairedPhone:
    """A phone that was paired, and whether it still may weigh in."""

    grant: Grant = field(metadata=flat("id", "name", "trial", "at", "until"))
    state: Literal["paired", "ran out", "unpaired"]


@dataclass(frozen=True)
class Phones:
    """Every phone that was ever paired, the last first."""

    phones: tuple[PairedPhone, ...]


def digest_of(secret: str) -> str:
    """SHA-256 of a secret, hex: what is stored of it.

    The secrets are random and long, so a slow hash, which guards those that people choose, would
    only slow down each request.
    """
    return hashlib.sha256(secret.encode()).hexdigest()


def matching(bench: Bench, kind: str, secret: str) -> Grant | None:
    """The right that a secret stands for, whatever became of it; compared in constant time."""
    digest = digest_of(secret)
    found = None
    for grant in bench.grants(kind, begins=digest[:_BEGINS]):
        if hmac.compare_digest(grant.digest, digest):
            found = grant
    return found


def make_pairing_code(bench: Bench, trial: str, now: datetime | None = None) -> PairingCode:
    """A new code that pairs one phone with a trial, within :data:`CODE_LIFE`.

    Raises
    ------
    NotFoundError
        No such trial.
    ConflictError
        The trial has no plan, so there are no coupons to weigh.
    """
    if bench.trial(trial).plan is None:
        raise ConflictError(
            "this trial has readings but no plan, so there are no coupons to weigh.",
            f"trial {trial}",
            trial,
            "Plan a trial first.",
        )
    letters = "".join(secrets.choice(LETTERS) for _ in range(CODE_LETTERS))
    until = (now or datetime.now(UTC)) + CODE_LIFE
    bench.give(NewGrant("code", "code", "weigh-in", digest_of(letters), until, trial))
    groups = (letters[start : start + 4] for start in range(0, CODE_LETTERS, 4))
    return PairingCode("-".join(groups), trial, until)


def read_code(typed: str) -> str:
    """A code as it was typed: small letters, blanks and dashes, O for 0, I and L for 1."""
    return "".join(c for c in typed.upper().translate(_READ_AS) if c in LETTERS)


def pair_phone(bench: Bench, code: str, now: datetime | None = None) -> tuple[str, PairedPhone]:
    """Use a code, and give the phone the secret that it shows from now on.

    Returns
    -------
    secret : str
        256 random bits; only its hash is stored.
    phone : PairedPhone

    Raises
    ------
    UnknownVisitorError
        No such code, or one that was used, ran out, or was withdrawn.
    """
    at = now or datetime.now(UTC)
    found = matching(bench, "code", read_code(code))
    if found is None:
        raise _refused("this code is not one of this bench.")
    if found.state == "used":
        raise _refused("this code was used already: it pairs one phone.")
    if found.state == "withdrawn":
        raise _refused("this code was withdrawn at the desk.")
    if found.until is None or at >= found.until:
        raise _refused("this code ran out.")
    secret = secrets.token_urlsafe(32)

    def named(grants: Sequence[Grant]) -> NewGrant:
        number = 1 + sum(grant.kind == "phone" for grant in grants)
        until = at + PHONE_LIFE
        return NewGrant(
            "phone", f"phone {number}", "weigh-in", digest_of(secret), until, found.trial
        )

    try:
        phone = bench.exchange(found.id, named)
    except ConflictError:  # another was a moment earlier
        raise _refused("this code was used already: it pairs one phone.") from None
    return secret, PairedPhone(phone, "paired")


def _refused(what: str) -> UnknownVisitorError:
    remedy = "At the desk, open the trial, choose 'Weigh with a phone' and show a new code."
    return UnknownVisitorError(what, "pairing code", None, remedy)


def phone_of(bench: Bench, secret: str | None, now: datetime | None = None) -> Grant:
    """The phone that shows a secret.

    Raises
    ------
    UnknownVisitorError
        It shows none, or one that is unknown, was withdrawn or ran out.
    """
    found = matching(bench, "phone", secret) if secret else None
    remedy = (
        "At the desk, open the trial, choose 'Weigh with a phone' and pair this phone again. "
        "Entries that wait on it are sent then."
    )
    if found is None:
        what = "this phone is not paired with this bench."
    elif found.state != "open":
        what = "this phone was unpaired at the desk."
    elif found.until is None or (now or datetime.now(UTC)) >= found.until:
        what = "this phone's pairing ran out."
    else:
        return found
    raise UnknownVisitorError(what, "phone", None, remedy)


def paired_phones(
    bench: Bench, trial: str | None = None, now: datetime | None = None
) -> list[PairedPhone]:
    """Phones that were paired (with one trial), the last first."""
    at = now or datetime.now(UTC)
    return [
        PairedPhone(grant, _state(grant, at))
        for grant in reversed(bench.grants("phone"))
        if trial in (None, grant.trial)
    ]


def _state(grant: Grant, at: datetime) -> Literal["paired", "ran out", "unpaired"]:
    if grant.state != "open":
        return "unpaired"
    return "paired" if grant.until is not None and at < grant.until else "ran out"


def unpair_phones(bench: Bench, numbers: Iterable[int] = (), *, every: bool = False) -> list[str]:
    """Unpair phones by their numbers, or every one that is paired; gives their names.

    Codes that wait for a phone are withdrawn with ``every``.

    Raises
    ------
    NotFoundError
        No phone of that number; none was unpaired.
    ConflictError
        It was unpaired before.
    """
    phones = {phone.grant.id: phone for phone in paired_phones(bench)}
    if every:
        for code in bench.grants("code"):
            if code.state == "open":
                bench.withdraw(code.id)
        wanted = [number for number, phone in phones.items() if phone.state == "paired"]
    else:
        wanted = list(dict.fromkeys(numbers))
    unknown = [number for number in wanted if number not in phones]
    if unknown:
        raise NotFoundError(
            f"no phone of the number {unknown[0]} was paired.",
            "phone",
            unknown[0],
            "The numbers stand in the list: beadworth bench phones.",
        )
    return [bench.withdraw(number).name for number in wanted]
