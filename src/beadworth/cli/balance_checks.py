"""Values of a balance's check, taken over its cable piece by piece."""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

import typer

from beadworth.cli.command import Call
from beadworth.core import CableError

if TYPE_CHECKING:
    from beadworth.workflow import BalanceListener, LiveBalance

Values = tuple[list[float], list[float]]
"""What stands beside each value (minutes, known masses), and the values shown."""
WAIT_S = 120.0
"""How long a piece is waited for."""


def values_by_cable(
    call: Call, listener: BalanceListener, kind: str, typed: Sequence[str], minutes: float
) -> Values:
    """Values from the balance.

    Raises
    ------
    InputError, CableError
        Known masses that are no numbers; a cable that fails, a piece that does not come.
    """
    from beadworth.trial import USUAL_PLACINGS
    from beadworth.workflow import parse_check_values

    if kind == "drift":
        return _watch(call, listener, minutes)
    parse_check_values(kind, ())
    at = parse_check_values("repeatability", typed)[1]
    if kind == "linearity":
        return at, [_placed(call, listener, f"{mass:g} g", n, len(at), empty=mass == 0)
                    for n, mass in enumerate(at, 1)]  # fmt: skip
    many = int(at[0]) if at else USUAL_PLACINGS
    return [], [_placed(call, listener, "the piece", n, many) for n in range(1, many + 1)]


def _placed(
    call: Call, listener: BalanceListener, what: str, n: int, of: int, *, empty: bool = False
) -> float:
    """The reading of the next piece put on an empty pan, or of the empty pan."""
    before = listener.state().taken
    said = "empty the pan" if empty else f"empty the pan, put {what} on"
    typer.echo(f"{n} of {of}: {said}", err=call.as_json)
    if empty:
        now = _wait(listener, lambda s: s.reading_g is not None and abs(s.reading_g) < s.on_pan_g)
        text, grams = now.reading, now.reading_g
    else:
        now = _wait(listener, lambda s: s.taken > before)
        text, grams = now.taken_reading, float(now.taken_reading)
    typer.echo(f"{text} g", err=call.as_json)
    assert grams is not None
    return grams


def _wait(listener: BalanceListener, done: Callable[[LiveBalance], bool]) -> LiveBalance:
    now = listener.wait(done, WAIT_S)
    if done(now):
        return now
    raise (
        CableError(now.trouble)
        if now.trouble
        else CableError(
            f"no piece came to rest in {WAIT_S:g} s.", "balance", remedy="Begin the check again."
        )
    )


def _watch(call: Call, listener: BalanceListener, minutes: float) -> Values:
    """A reading now and then of a piece that stays on the pan: 13 in all."""
    typer.echo(f"Leave one piece on the pan for {minutes:g} min.", err=call.as_json)
    begun = time.monotonic()
    at, shown = [], []
    for n in range(13):
        time.sleep(max(0.0, begun + 60 * minutes * n / 12 - time.monotonic()))
        now = _wait(listener, lambda state: state.reading_g is not None)
        assert now.reading_g is not None
        at.append(round((time.monotonic() - begun) / 60, 4))
        shown.append(now.reading_g)
        typer.echo(f"{at[-1]:6.2f} min  {now.reading} g", err=call.as_json)
    return at, shown
