"""Times as people say them."""

from __future__ import annotations

from datetime import datetime

from beadworth.text.numbers import UNKNOWN, fixed


def moment(when: datetime) -> str:
    """A time in this machine's zone, to the minute."""
    return when.astimezone().strftime("%Y-%m-%d %H:%M")


def duration(seconds: float | None) -> str:
    """``0.4 s``, ``45 s``, ``12 min``, ``1 h``, ``1 h 23 min``; unknown is ``–``.

    Tenths under 10 s, seconds under a minute and a half, minutes above.
    """
    if seconds is None or not abs(seconds) < float("inf"):
        return UNKNOWN
    if seconds < 0:
        return f"\N{MINUS SIGN}{duration(-seconds)}"
    if seconds < 9.95:
        return f"{fixed(seconds)} s"
    if seconds < 89.5:
        return f"{seconds:.0f} s"
    hours, minutes = divmod(round(seconds / 60), 60)
    if not hours:
        return f"{minutes} min"
    return f"{hours} h {minutes:02d} min" if minutes else f"{hours} h"
