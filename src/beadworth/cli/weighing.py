"""The masses of ``trial weigh``: typed, or from a balance by cable; typing works in any case."""

from __future__ import annotations

from collections.abc import Callable, Generator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import typer

from beadworth.cli.command import Call
from beadworth.core import BeadworthError, InputError, Problem

if TYPE_CHECKING:
    from beadworth.workflow import BalanceListener, Weighing

REST_S = 8.0
"""How long Enter waits for the pan to come to rest."""
STOP = "stop"


@dataclass
class Entering:
    """How masses come in: typed, or with a balance to listen to."""

    call: Call
    balance: BalanceListener | None = None
    hands_free: bool = False
    rest: int = -1
    """The rest of the pan whose reading was taken last."""
    last: str = ""
    """The coupon it was taken for."""
    taken: int = 0
    """Pieces taken hands-free."""

    @classmethod
    @contextmanager
    def opened(
        cls, call: Call, name: str | None, port: str | None, *, hands_free: bool
    ) -> Generator[Entering]:
        """With the balance of that name, where one is named.

        A cable that cannot be used is said, and masses are typed.
        """
        if name is None:
            if hands_free or port:
                raise InputError(
                    "no balance is named.",
                    "--hands-free" if hands_free else "--port",
                    remedy='Name one with --balance "My balance" (beadworth balance list).',
                )
            yield cls(call)
            return
        from beadworth.core import CableError
        from beadworth.workflow import listen_to

        try:
            listener = listen_to(call.bench, name, port)
        except CableError as error:
            typer.echo(str(error), err=True)
            yield cls(call)
            return
        with listener:
            yield cls(call, listener, hands_free)


def mass_of(entering: Entering, coupon: str) -> str:
    """The mass of one coupon, as typed or as the balance says it."""
    while True:
        if entering.balance is None:
            typed: str = typer.prompt(f"{coupon} mass, g")
            return typed
        typed = typer.prompt(f"{coupon} mass, g (Enter: the balance's)", "", show_default=False)
        if typed or (typed := _from_balance(entering, coupon)):
            return typed


def weigh_in_turn(
    entering: Entering,
    waiting: Sequence[Any],
    record: Callable[[str, str], Weighing],
    sentence: Callable[[Weighing], str],
) -> list[Weighing]:
    """Take the mass of each coupon that waits, until told to stop."""
    answers: list[Weighing] = []
    call = entering.call
    for one in waiting:
        label = f"{one.coupon}  {one.rig}  {one.temperature_c:g} °C  {one.flow_mm3_s:g} mm³/s"
        while typed := _mass(entering, one.coupon, label):
            try:
                answers.append(record(one.coupon, typed))
            except BeadworthError as error:
                typer.echo(str(error), err=True)
                continue
            if not call.as_json:
                call.say(sentence(answers[-1]))
            break
        if not typed:
            break
    return answers


def _mass(entering: Entering, coupon: str, label: str) -> str:
    """One mass as text; empty to stop."""
    call = entering.call
    typed: str = ""
    if entering.balance is not None and entering.hands_free:
        return _hands_free(entering, coupon, label)
    if entering.balance is None:
        words = f"{label}  mass, g (Enter alone stops)"
        return str(typer.prompt(words, default="", show_default=False, err=call.as_json))
    words = f"{label}  mass, g (Enter: the balance's; {STOP} ends)"
    while not typed:
        typed = typer.prompt(words, default="", show_default=False, err=call.as_json)
        typed = typed.strip() or _from_balance(entering, coupon)
    return "" if typed.lower() == STOP else typed


def _from_balance(entering: Entering, coupon: str) -> str:
    """The balance's reading once the pan is at rest; empty, and why, where there is none."""
    assert entering.balance is not None
    now = entering.balance.wait(lambda state: state.reading != "", REST_S)
    if not now.reading:
        _say(now.trouble or _moving(now.latest))
        return ""
    if now.rest == entering.rest:
        _say(
            Problem(
                f"nothing was moved on the pan since {entering.last}.",
                "balance",
                remedy=f"Put {coupon} on and press Enter, or type its mass.",
            )
        )
        return ""
    entering.rest, entering.last = now.rest, coupon
    typer.echo(f"{now.reading} g from the balance", err=entering.call.as_json)
    return now.reading


def _hands_free(entering: Entering, coupon: str, label: str) -> str:
    """The next piece that comes to rest; where the cable fails, the mass is typed."""
    assert entering.balance is not None
    typer.echo(f"{label}  put it on the pan (Ctrl-C stops)", err=entering.call.as_json)
    try:
        while True:
            now = entering.balance.wait(lambda state: state.taken > entering.taken, 1.0)
            if now.taken > entering.taken:
                entering.taken, entering.last = now.taken, coupon
                entering.rest = now.rest
                typer.echo(f"{now.taken_reading} g from the balance", err=entering.call.as_json)
                return now.taken_reading
            if now.trouble:
                _say(now.trouble)
                entering.hands_free = False
                return _mass(entering, coupon, label)
    except KeyboardInterrupt:
        return ""


def _moving(latest: str) -> Problem:
    at = f" at {latest} g" if latest else ""
    return Problem(
        f"the balance is not at rest{at}.",
        "balance",
        remedy="Wait and press Enter again, or type the mass.",
    )


def _say(problem: Problem) -> None:
    typer.echo(str(problem), err=True)
