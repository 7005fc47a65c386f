"""The verdict of a replay as one sentence a person can repeat."""

from __future__ import annotations

from typing import TYPE_CHECKING

from beadworth.text import capital, duration, join_words, percent

if TYPE_CHECKING:
    from collections.abc import Iterator

    from beadworth.gcode import GcodeSummary
    from beadworth.replay.ceilings import Ceilings
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
        return f"{takes}; without a capacity it is not known whether the hot end gives that."
    unknown = unknown_sentence(found)
    if not found.sustained and not found.bursts:
        if unknown:
            return f"{takes}. {unknown}"
        return f"{takes}, always under the ceiling.{_predicted(found)}"
    if not found.sustained:
        count = "one short burst" if found.bursts == 1 else f"{found.bursts} short bursts"
        said = f"{takes}: {count} over the ceiling, which the melt pressure smooths over."
    else:
        said = _over(found, takes)
    return f"{said} {unknown}" if unknown else f"{said}{_predicted(found)}"


def unknown_sentence(found: Replay) -> str:
    """That it is not known whether the hot end gives what is asked, and where; else empty."""
    if not found.unknown_c:
        return ""
    at = join_words([f"{celsius:g} °C" for celsius in found.unknown_c])
    weighed = [f"{celsius:g} °C" for celsius in found.weighed_c]
    return (
        f"Not known at {at} whether the hot end gives that: coupons were weighed at "
        f"{join_words(weighed)}, and a colder nozzle gives less."
    )


def _predicted(found: Replay) -> str:
    """The ceilings that were predicted, not weighed, with their intervals."""
    told = [
        f"{c.flow_mm3_s:.1f} mm³/s ({c.low:.1f} to {c.high:.1f}) at {c.temperature_c:g} °C"
        for c in found.ceilings
        if c.extrapolated and c.flow_mm3_s and c.low is not None and c.high is not None
    ]
    return f" That ceiling is predicted, not weighed: {join_words(told)}." if told else ""


def notes_on(ceilings: Ceilings) -> Iterator[str]:
    """Where each ceiling beyond the temperatures weighed comes from, and what would help."""
    used = ceilings.used
    for celsius, ceiling in sorted(ceilings.known.items()):
        if celsius not in used:
            continue
        if ceiling.unknown_below:
            yield (
                f"the ceiling at {celsius:g} °C is not known: weigh coupons there, or name the "
                "print's material, so that the melt model can predict it"
            )
        elif ceilings.fit is None:
            continue  # whoever handed the predictions in says where they come from
        elif ceiling.basis == "melt":
            yield (
                f"the ceiling at {celsius:g} °C is predicted by the melt model, set by the "
                "trial's own ceilings: it is outside the temperatures weighed"
            )
        elif ceiling.extrapolated:
            yield f"the ceiling at {celsius:g} °C is outside the temperatures weighed"


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
