"""The verdict of a replay as one sentence a person can repeat."""

from __future__ import annotations

from typing import TYPE_CHECKING

from beadworth.text import capital, duration, percent

if TYPE_CHECKING:
    from beadworth.gcode import GcodeSummary
    from beadworth.replay.result import Replay


def no_print(summary: GcodeSummary) -> str | None:
    """What to say of a text without a single move: any text can be read as G-code."""
    if summary.moves:
        return None
    return f"no line of it moves anything ({summary.lines} read): this is no print."


def verdict(found: Replay, *, known: bool) -> str:
    """One sentence: under the ceiling or not, where not, and whether it will show."""
    empty = no_print(found.summary)
    if empty is not None:
        return capital(empty)
    if not found.summary.extruding_moves:
        return f"It takes {duration(found.time_s)} and lays nothing: no move pushes filament."
    takes = f"It takes {duration(found.time_s)} and asks for up to {found.flow.max_mm3_s:.1f} mm³/s"
    if not known:
        return f"{takes}; without a capacity nobody can say whether the hot end gives that."
    if not found.sustained and not found.bursts:
        return f"{takes}, always under the ceiling."
    if not found.sustained:
        count = "one short burst" if found.bursts == 1 else f"{found.bursts} short bursts"
        return f"{takes}: {count} over the ceiling, which the melt pressure smooths over."
    worst = max(
        (s for s in found.stretches if s.kind == "sustained"), key=lambda s: (s.loss or 0, s.over_s)
    )
    place = f"line {worst.line}" + (f", layer {worst.layer}" if worst.layer is not None else "")
    loss = ""
    if worst.loss is not None and worst.loss_low is not None and worst.loss_high is not None:
        loss = (
            f", where about {percent(worst.loss)} ({percent(worst.loss_low)} to "
            f"{percent(worst.loss_high)}) will be missing"
        )
    count = "one stretch" if found.sustained == 1 else f"{found.sustained} stretches"
    return (
        f"{takes}: {duration(found.over_ceiling_s)} in {count} over the ceiling that will show; "
        f"worst at {place}{loss}."
    )
