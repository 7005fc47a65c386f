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
    return _over(found, takes)


def _over(found: Replay, takes: str) -> str:
    """Whether what is over the ceiling shows, for how long it is, and where it is worst."""
    sustained = [s for s in found.stretches if s.kind == "sustained"]
    certain, number = "will", found.sustained
    if found.melt_zone_mm3 is not None:
        showing = [s for s in sustained if s.shows == "will"]
        certain = "will" if showing else "may"
        showing = showing or [s for s in sustained if s.shows == "may"]
        if not showing:
            drawn = max(s.drawn_mm3 for s in sustained)
            return (
                f"{takes}: over the ceiling for {duration(found.over_ceiling_s)}, which cannot "
                f"show; the melt zone holds {found.melt_zone_mm3:.0f} mm³, and at most "
                f"{drawn:.1f} mm³ of it are drawn."
            )
        if len(showing) < len(sustained):  # of those kept; the rest draw less
            sustained, number = showing, len(showing)
    worst = max(sustained, key=lambda s: (s.missing_mm3, s.over_s))
    place = f"line {worst.line}" + (f", layer {worst.layer}" if worst.layer is not None else "")
    loss = ""
    if worst.loss is not None and worst.loss_low is not None and worst.loss_high is not None:
        loss = (
            f", where about {percent(worst.loss)} ({percent(worst.loss_low)} to "
            f"{percent(worst.loss_high)}) {certain} be missing"
        )
    count = "one stretch" if number == 1 else f"{number} stretches"
    return (
        f"{takes}: {duration(found.over_ceiling_s)} in {count} over the ceiling that {certain} "
        f"show; worst at {place}{loss}."
    )
