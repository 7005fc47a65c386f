"""Checks of balances on the bench: entered, in words, and what a plan takes of them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from typing import TYPE_CHECKING, Any, Final

from beadworth.core import InputError, NotFoundError, Problem, from_mapping
from beadworth.store import StoredEntry, ledger
from beadworth.text import parse_number
from beadworth.trial import (
    Balance,
    BalanceCheck,
    drift,
    linearity,
    measured_balance,
    repeatability,
)
from beadworth.workflow.balances import find_balance

if TYPE_CHECKING:
    from beadworth.store import Bench

CHECK_KIND: Final = "balance check"
CHECKS: Final = {
    "repeatability": "a number of grams, as 1.784",
    "drift": "MINUTES=SHOWN, as 10=1.784",
    "linearity": "KNOWN=SHOWN, as 2=2.001",
}
"""How each value of a check is written."""


def parse_check_values(kind: str, typed: Sequence[str]) -> tuple[list[float], list[float]]:
    """Values of a check as typed: ``1.784``, or ``MINUTES=1.784`` and ``KNOWN=2.001``.

    Returns
    -------
    list of float, list of float
        What stands beside each value (none for repeatability), and the values shown, g.

    Raises
    ------
    InputError
        No such check; all values that cannot be read, at once.
    """
    if kind not in CHECKS:
        raise InputError(
            f"{kind!r} is no check.", "kind", kind, f"Choose one of {', '.join(CHECKS)}."
        )
    wanted = 1 if kind == "repeatability" else 2
    rows, wrong = [], []
    for text in typed:
        parts = [parse_number(part) for part in text.split("=")]
        numbers = [part for part in parts if part is not None]
        if len(parts) == wanted == len(numbers):
            rows.append(numbers)
        else:
            wrong.append(text)
    if wrong:
        remedy = f"Give each as {CHECKS[kind]}."
        raise InputError(
            [Problem(f"{text!r} cannot be read.", kind, text, remedy) for text in wrong]
        )
    return [row[0] for row in rows] if wanted == 2 else [], [row[-1] for row in rows]


def add_balance_check(
    bench: Bench, data: Mapping[str, Any], today: date | None = None
) -> StoredEntry[BalanceCheck]:
    """Store a check.

    Parameters
    ----------
    data : mapping
        Fields of :class:`~beadworth.trial.BalanceCheck`. Left out, ``on`` is today, and ``step_g``
        that of the balance on the bench or of its last check.

    Raises
    ------
    RecordError
        What is wrong with it, all at once.
    InputError
        No display step is known.
    """
    given = {"on": (today or date.today()).isoformat()} | {
        name: value for name, value in data.items() if value not in (None, "")
    }
    if "step_g" not in given:
        given["step_g"] = _step_of(bench, str(given.get("balance", "")))
    check = from_mapping(BalanceCheck, given, "balance check")
    number = ledger.add(bench, CHECK_KIND, check.balance, check)
    return ledger.one(bench, CHECK_KIND, check.balance, BalanceCheck, number)


def _step_of(bench: Bench, name: str) -> float:
    checks = _counted(bench, name)
    if checks:
        return checks[-1].step_g
    try:
        lines = find_balance(bench, name).lines
    except NotFoundError:
        raise InputError(
            "the smallest step of the display is not known.",
            "step_g",
            remedy="Give it in grams, for example 0.01.",
        ) from None
    return float(f"{lines.step_g:.6g}")


def checks_of(bench: Bench, name: str | None = None) -> list[StoredEntry[BalanceCheck]]:
    """Checks of one balance or of all, those that do not count too, in the order entered."""
    notes = bench.notes(CHECK_KIND, name) if name else bench.notes(CHECK_KIND)
    return ledger.entries(notes, BalanceCheck)


def _counted(bench: Bench, name: str) -> list[BalanceCheck]:
    entries = [entry for entry in checks_of(bench, name) if entry.state == "current"]
    return [entry.record for entry in sorted(entries, key=lambda one: (one.record.on, one.id))]


def void_balance_check(bench: Bench, name: str, check_id: int, reason: str) -> None:
    """Let a check no longer count; it stays, with the reason."""
    ledger.void(bench, CHECK_KIND, name, BalanceCheck, check_id, reason)


def checked_balance(bench: Bench, name: str) -> Balance:
    """A balance for a plan: what its checks measured, in place of what is assumed.

    Raises
    ------
    NotFoundError
        No check of that balance counts; those there are are named.
    """
    checks = _counted(bench, name)
    if not checks:
        names = checked_names(bench)
        raise NotFoundError(
            f"no check of a balance {name!r} is on the bench.",
            "balance",
            name,
            f"There are checks of: {', '.join(names)}."
            if names
            else "Check it first (beadworth balance check), or state its figures.",
        )
    step = checks[-1].step_g
    return measured_balance(checks, Balance(readability_g=step, repeatability_g=step))


def checked_names(bench: Bench) -> list[str]:
    """The balances that have a check that counts, by name."""
    found = {entry.record.balance for entry in checks_of(bench) if entry.state == "current"}
    return sorted(found, key=str.casefold)


def describe_check(check: BalanceCheck) -> list[str]:
    """What a check says, in sentences."""
    return {"repeatability": _repeatability, "drift": _drift, "linearity": _linearity}[check.kind](
        check
    )


def _repeatability(check: BalanceCheck) -> list[str]:
    found, n = repeatability(check.shown_g, check.step_g), len(check.shown_g)
    if found.dof is None:
        return [
            f"All {n} placings show the same: the scatter is below {_small(found.high_g)} (95 %).",
            f"Half a display step, {_small(found.sd_g)}, is taken for it.",
        ]
    return [
        f"Repeatability {_small(found.sd_g)} from {n} placings.",
        f"From so many it is known to ± {100 * (found.relative_u or 0):.0f} %: at 95 % it lies "
        f"between {_small(found.low_g)} and {_small(found.high_g)}.",
    ]


def _drift(check: BalanceCheck) -> list[str]:
    found = drift(check.at, check.shown_g)
    said = (
        f"Drift {1000 * found.g_per_hour:+.2g} mg an hour ± {1000 * found.u_g_per_hour:.2g} mg "
        f"(standard uncertainty) over {found.minutes:g} min"
    )
    if not found.resolved:
        return [f"{said}: not told from none."]
    minutes = 30 * check.step_g / abs(found.g_per_hour)
    return [f"{said}.", f"It takes {minutes:.0f} min for half a display step: zero more often."]


def _linearity(check: BalanceCheck) -> list[str]:
    found = linearity(check.at, check.shown_g)
    return [
        f"At most {_small(found.largest_g)} from a straight line, {min(check.at):g} to "
        f"{max(check.at):g} g, {len(check.at)} masses.",
        f"Scale error {100 * found.slope_error:+.2g} %, which cancels in a loss.",
    ]


def _small(grams: float) -> str:
    return f"{1000 * grams:.2g} mg" if abs(grams) < 0.1 else f"{grams:.2g} g"
