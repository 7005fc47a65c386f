"""Checks of a balance: entered by hand or from the cable, in words, and what a plan takes."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any
from urllib.parse import urlencode

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import Response

from beadworth.core import BeadworthError, InputError, NotFoundError, Problem
from beadworth.text import parse_number, whole_number
from beadworth.trial import describe_weighing
from beadworth.web.balance_desk import BalanceDesk
from beadworth.web.responses import page, status_of
from beadworth.web.routes.common import BalancesOf, BenchOf, FormOf, see_other
from beadworth.workflow import (
    CABLE_CAUTIONS,
    Bench,
    add_balance_check,
    checked_balance,
    checks_of,
    describe_check,
    parse_check_values,
    void_balance_check,
)

router = APIRouter(include_in_schema=False)
FORMS = {
    "repeatability": (
        "Repeatability",
        "Zero, put one piece on, read, take it off; five times, better ten. Values in g, blanks "
        "between them.",
        "1.784 1.783 1.785 1.784 1.785",
    ),
    "linearity": (
        "Linearity",
        "Known masses over the range you use, 0 for the empty pan: known=shown, in g.",
        "0=0.000 1=1.001 2=2.001 5=5.002",
    ),
    "drift": (
        "Drift",
        "One piece stays on the pan: minutes=shown, every few minutes for half an hour.",
        "0=1.784 10=1.785 20=1.785 30=1.786",
    ),
}
"""Each check: its title, how it is done, an example."""
TYPED = ("values", "step", "on")


@router.get("/balance-checks")
def every(
    request: Request, bench: BenchOf, desk: BalancesOf, name: str, done: str = ""
) -> Response:
    """The checks of one balance."""
    return _show(request, bench, desk, name, done=done)


def _show(
    request: Request,
    bench: Bench,
    desk: BalanceDesk,
    name: str,
    *,
    wrong: str = "",
    typed: dict[str, str] | None = None,
    problems: Sequence[Problem] = (),
    done: str = "",
    status: int = 200,
) -> Response:
    try:
        taken = describe_weighing(checked_balance(bench, name))
    except NotFoundError:
        taken = ""
    entries = list(reversed(checks_of(bench, name)))
    context = {
        "name": name,
        "forms": FORMS,
        "wrong": wrong,
        "typed": typed or dict.fromkeys(TYPED, ""),
        "problems": problems,
        "taken": taken,
        "entries": [(entry, describe_check(entry.record)) for entry in entries],
        "step": f"{entries[0].record.step_g:g}" if entries else "",
        "in_use": desk.name == name,
        "done": done,
        "cautions": CABLE_CAUTIONS,
    }
    return page(request, "balance_checks.html", context, status)


@router.post("/balance-checks")
def add(request: Request, bench: BenchOf, desk: BalancesOf, sent: FormOf) -> Response:
    """Store a check, or say what is wrong with it."""
    name, kind = str(sent.get("name", "")).strip(), str(sent.get("kind", ""))
    typed = {field: str(sent.get(field, "")).strip() for field in TYPED}
    try:
        words = typed["values"].replace(" =", "=").replace("= ", "=").replace(";", " ").split()
        at, shown = parse_check_values(kind, words)
        data: dict[str, Any] = {
            "balance": name, "kind": kind, "at": at, "shown_g": shown, "on": typed["on"],
            "by_cable": bool(sent.get("by_cable")), "step_g": _step(typed["step"]),
        }  # fmt: skip
        add_balance_check(bench, data)
    except BeadworthError as error:
        return _show(
            request, bench, desk, name, wrong=kind, typed=typed, problems=error.problems,
            status=status_of(error),
        )  # fmt: skip
    return see_other(f"/balance-checks?{urlencode({'name': name, 'done': kind})}")


def _step(text: str) -> float | None:
    if not text:
        return None
    value = parse_number(text)
    if value is None:
        raise InputError(f"{text!r} is no display step.", "step", text, "Give it in g, as 0.01.")
    return value


@router.post("/balance-checks/void")
def void(request: Request, bench: BenchOf, desk: BalancesOf, sent: FormOf) -> Response:
    """Let a check no longer count."""
    name, number = str(sent.get("name", "")), str(sent.get("entry", ""))
    try:
        void_balance_check(bench, name, whole_number(number) or 0, str(sent.get("reason", "")))
    except BeadworthError as error:
        return _show(request, bench, desk, name, problems=error.problems, status=status_of(error))
    return see_other(f"/balance-checks?{urlencode({'name': name, 'done': 'void'})}")
