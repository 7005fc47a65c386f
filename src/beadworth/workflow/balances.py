"""Balances on the bench: a cable and a line format, learnt once, under a name of one's own."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, Literal

from beadworth.core import CableError, InputError, NotFoundError, from_mapping
from beadworth.store import StoredEntry, ledger
from beadworth.trial import Cable, CabledBalance, describe_format
from beadworth.workflow.balance_listener import BalanceListener
from beadworth.workflow.balance_port import find_cable, silent

if TYPE_CHECKING:
    from beadworth.store import Bench


@dataclass(frozen=True)
class BalanceLine:
    """A balance by cable in a list."""

    name: str
    port: str
    words: tuple[str, ...]
    """Its cable and how its lines are read."""


@dataclass(frozen=True)
class BalanceLines:
    """The balances by cable on the bench, by name."""

    balances: tuple[BalanceLine, ...]


BALANCE_KIND: Final = "balance"
ENOUGH_LINES, FEWEST_LINES, COLLECT_S, KEYS_S = 8, 3, 20.0, 30.0
CABLE_CAUTIONS: Final = (
    "Run a laptop on its battery, or try both: a mains adapter can put hum on a cable and make the "
    "last digit wander.",
    "Keep draughts, fans and the printer's vibration off the balance; close its shield.",
    "Let coupons cool to room temperature: a warm one lifts the air over it and weighs light.",
    "Touch something earthed first: charged plastic pulls at the pan.",
)
"""Before a balance is trusted (common practice, no source)."""


def store_balance(bench: Bench, balance: CabledBalance) -> StoredEntry[CabledBalance]:
    """Store a balance; one of that name takes its place, the old one stays in the history."""
    name = balance.name.strip()
    if not name:
        raise InputError("the balance has no name.", "name", balance.name, "Give it one.")
    made = balance.model_copy(update={"name": name})
    old = _current(bench, name)
    number = ledger.add(
        bench, BALANCE_KIND, name, made, old.id if old else None, "learnt again" if old else ""
    )
    return ledger.one(bench, BALANCE_KIND, name, CabledBalance, number)


def stored_balances(bench: Bench) -> list[CabledBalance]:
    """The balances on the bench, by name."""
    entries = ledger.entries(bench.notes(BALANCE_KIND), CabledBalance)
    found = {entry.record.name: entry.record for entry in entries if entry.state == "current"}
    return [found[name] for name in sorted(found, key=str.casefold)]


def find_balance(bench: Bench, name: str) -> CabledBalance:
    """One balance.

    Raises
    ------
    NotFoundError
        None of that name; those there are are named.
    """
    old = _current(bench, name)
    if old is None:
        names = [one.name for one in stored_balances(bench)]
        raise NotFoundError(
            f"there is no balance {name!r} on the bench.",
            "balance",
            name,
            f"Those there are: {', '.join(names)}."
            if names
            else "Connect one first (beadworth balance learn).",
        )
    return old.record


def describe_balance(balance: CabledBalance) -> list[str]:
    """A balance in words: its cable and its lines."""
    cable = balance.cable
    asks = f"asked with {cable.request}" if cable.request else "sends by itself"
    if cable.by_key:
        asks = "sends a line when its key is pressed, and each line is taken as it stands"
    return [
        f"Port {cable.port}, {cable.speed_bd} baud, {cable.frame}; {asks}.",
        *describe_format(balance.lines),
    ]


def _current(bench: Bench, name: str) -> StoredEntry[CabledBalance] | None:
    entries = ledger.every(bench, BALANCE_KIND, name, CabledBalance)
    return next((entry for entry in reversed(entries) if entry.state == "current"), None)


def collect_lines(listener: BalanceListener, phase: Literal["empty", "loaded"]) -> None:
    """Wait for sample lines with the pan at rest: eight, or three of a balance that is slow.

    Raises
    ------
    CableError
        Nothing comes, or nothing that is text.
    """
    listener.begin(phase)
    cable = listener.cable
    enough, seconds = (FEWEST_LINES, KEYS_S) if cable.by_key else (ENOUGH_LINES, COLLECT_S)
    now = listener.wait(lambda _: listener.count(phase) >= enough, seconds)
    if cable.by_key and listener.count(phase) < FEWEST_LINES:
        raise CableError(
            f"{listener.count(phase)} of {FEWEST_LINES} lines came in {KEYS_S:g} s.",
            "balance cable",
            remedy="Press the key of the balance that sends a line, once a second, three times.",
        )
    if listener.count(phase) < FEWEST_LINES:
        raise CableError(now.trouble) if now.trouble else silent(cable.port, cable.request)


def cable_of(port: str, speed: str, frame: str, request: str, by_key: bool = False) -> Cable:
    """A cable from what was typed; a speed of ``find`` is found by listening.

    Raises
    ------
    InputError
        A speed that is no number, a frame or a request that cannot be.
    CableError
        Nothing that is text comes at any speed.
    """
    if speed.strip().lower() == "find":
        return find_cable(port, request)
    if by_key and request:
        raise InputError(
            "a balance is either asked for a line or sends one at its key.", "request", request,
            "Leave the request empty, or take the tick away.",
        )  # fmt: skip
    if not speed.strip().isdecimal():
        raise InputError(
            f"{speed!r} is no speed.", "speed", speed, "Give it in baud, as 9600, or find."
        )
    data = {
        "port": port,
        "speed_bd": int(speed),
        "frame": frame,
        "request": request,
        "by_key": by_key,
    }
    return from_mapping(Cable, data, "balance cable")


def listen_to(
    bench: Bench,
    name: str,
    port: str | None = None,
    patience_s: float | None = None,
    stamp: Callable[[], float] = time.monotonic,
) -> BalanceListener:
    """Listen to a balance on the bench, at another port where one is named.

    It closes itself after ``patience_s`` without a question.

    Raises
    ------
    NotFoundError
        No such balance.
    CableError
        Its port cannot be opened.
    """
    balance = find_balance(bench, name)
    cable = balance.cable.model_copy(update={"port": port}) if port else balance.cable
    return BalanceListener(cable, balance.lines, patience_s, stamp)
