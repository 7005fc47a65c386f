"""A balance's trace recorded from its cable: every line with the time it came."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Final

from beadworth.core import CableError, written_whole
from beadworth.ramp import GAP_S
from beadworth.workflow.balances import listen_to

if TYPE_CHECKING:
    from beadworth.store import Bench
    from beadworth.workflow.balance_listener import BalanceListener

EACH_S: Final = 0.2
"""How often lines are written down: a computer that stops loses no more, but for the file's name
(``.part`` stands behind it until the end)."""


@dataclass(frozen=True)
class Recorded:
    """What was recorded."""

    rows: int
    seconds: float
    damaged: int
    """Lines that were damaged and dropped."""
    gaps: int
    """Silences of more than :data:`.ramp.GAP_S`."""
    longest_gap_s: float


def record_trace(
    bench: Bench,
    balance: str,
    out: Path,
    seconds: float,
    *,
    port: str | None = None,
    tell: Callable[[int, float], object] = lambda _rows, _mass_g: None,
) -> Recorded:
    """Record a balance on the bench until the time is over, or until it is interrupted.

    Parameters
    ----------
    out : Path
        Table to write: time_s, mass_g, stable. It gets its name when the recording ends; an
        interruption (Ctrl+C) ends it in order.
    seconds : float
        The longest it may take.
    tell : function of (rows, mass_g)
        Called about once a second.

    Raises
    ------
    InputError
        The table cannot be written there.
    NotFoundError
        No such balance.
    CableError
        Its port cannot be opened, or not one line of it could be read.
    """
    rows = gaps = damaged = 0
    longest = told = last = 0.0
    with written_whole(out) as part, part.open("w", encoding="utf-8", newline="\n") as file:
        with listen_to(bench, balance, port) as listener:
            marked = listener.form is not None and listener.form.marked
            file.write("time_s,mass_g,stable\n" if marked else "time_s,mass_g\n")
            listener.heard()
            start = time.monotonic()
            try:
                while time.monotonic() - start < seconds:
                    for line in listener.heard():
                        at = line.at_s - start
                        if rows > 0 and at - last > GAP_S:
                            gaps, longest = gaps + 1, max(longest, at - last)
                        last, rows = at, rows + 1
                        stable = f",{int(bool(line.stable))}" if marked else ""
                        file.write(f"{at:.3f},{line.mass_g:.6g}{stable}\n")
                        if at - told > 1.0:
                            told = at
                            tell(rows, line.mass_g)
                    file.flush()
                    time.sleep(EACH_S)
            except KeyboardInterrupt:
                pass
            damaged = listener.state().dropped
        if not rows:
            raise nothing_came(listener)
    return Recorded(rows, last, damaged, gaps, longest)


def nothing_came(listener: BalanceListener) -> CableError:
    """Why not one line of a balance could be read."""
    trouble = listener.state().trouble
    return CableError(trouble) if trouble else CableError(
        "not one line came.", "balance cable",
        remedy="Look at what comes with `beadworth balance listen`.",
    )  # fmt: skip
