"""The same print if ceiling, temperature or acceleration were otherwise, with the interval."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from beadworth.motion import Rule
from beadworth.replay.ceilings import Change, Side
from beadworth.replay.result import Replay
from beadworth.replay.rig_limits import rule_to_compare
from beadworth.replay.run import replay
from beadworth.rig import AxisLimits, Rig
from beadworth.text import duration, fixed, percent

if TYPE_CHECKING:
    from beadworth.capacity import Fit

_SIDES: tuple[Side, ...] = ("high", "estimate", "low")
"""Of the ceilings: the first asks least of the print."""


@dataclass(frozen=True)
class Range:
    """An estimate between the ends of its interval."""

    low: float
    estimate: float
    high: float


@dataclass(frozen=True)
class Otherwise:
    """A print with something changed: the ends of each range go with those of the ceiling."""

    change: Change
    time_s: float
    """At the rig's own limits; at the file's, where its controller obeys them."""
    ceiling_mm3_s: Range | None
    """The lowest in force; None without a capacity, or where no more than one side is known."""
    over_s: Range | None
    beyond_mm3: Range | None
    speed_share: Range | None
    """Uniform factor on speed that keeps every bead under the ceiling, at most 1."""
    unknown: bool
    """Whether it extrudes at temperatures of whose ceiling only an upper bound is known."""

    @property
    def sentence(self) -> str:
        """The answer in words."""
        takes = f"It takes {duration(self.time_s)}"
        if self.over_s is None or self.beyond_mm3 is None:
            return f"{takes}; choose a capacity to know whether the hot end gives that."
        at = "its ceiling"
        if self.ceiling_mm3_s is not None:
            at = f"a ceiling of {_range(self.ceiling_mm3_s, _tenths, ' mm³/s')}"
        if self.unknown:
            return f"{takes}. Whether it stays under the ceiling is not known: too cold."
        if not self.over_s.high and not self.beyond_mm3.high:
            return f"{takes}, always under {at}, at either end of its interval."
        over = _range(self.over_s, duration, "")
        beyond = _range(self.beyond_mm3, _tenths, " mm³")
        share = ""
        if self.speed_share is not None:
            share = (
                " One speed for all that stays under it: "
                f"{_range(self.speed_share, _percent, '')} of the present one."
            )
        return f"{takes}; against {at} it is over for {over}, {beyond} beyond it.{share}"


def replay_otherwise(
    source: Path | bytes,
    rig: Rig,
    fit: Fit | None,
    change: Change,
    **options: Any,
) -> Otherwise:
    """Replay a print with something changed, once at each end of the ceiling's interval.

    Parameters
    ----------
    options
        As :func:`~beadworth.replay.run.replay` takes them: the group of the fit, name, material.
    """
    changed = accelerated(rig, change.acceleration_mm_s2)
    rule: Rule = "own" if change.acceleration_mm_s2 is not None else rule_to_compare(rig)
    sides: tuple[Side, ...] = _SIDES if fit is not None else ("estimate",)
    found = [
        replay(source, changed, fit, side=side, rule=rule, change=change, **options)
        for side in sides
    ]
    middle = found[len(found) // 2]
    time_s = middle.time_s
    if fit is None:
        return Otherwise(change, time_s, None, None, None, None, False)
    return Otherwise(
        change,
        time_s,
        _ceiling(middle, change.ceiling_share),
        Range(*(one.over_ceiling_s for one in found)),
        Range(*(sum(stretch.missing_mm3 for stretch in one.stretches) for one in found)),
        _shares(found),
        bool(middle.unknown_c),
    )


def accelerated(rig: Rig, acceleration_mm_s2: float | None) -> Rig:
    """The rig with another acceleration in x and y; z and the drive as they are."""
    if acceleration_mm_s2 is None:
        return rig
    a, axes = acceleration_mm_s2, rig.motion.max_acceleration_mm_s2
    motion: dict[str, Any] = {"print_acceleration_mm_s2": a, "travel_acceleration_mm_s2": a}
    if axes is not None:
        motion["max_acceleration_mm_s2"] = AxisLimits(x=a, y=a, z=axes.z)
    return rig.model_copy(update={"motion": rig.motion.model_copy(update=motion)})


def _ceiling(found: Replay, share: float) -> Range | None:
    """The lowest ceiling in force, with its interval."""
    known = [c for c in found.ceilings if c.flow_mm3_s and c.low is not None and c.high is not None]
    if not known:
        return None
    least = min(known, key=lambda c: c.flow_mm3_s or 0.0)
    values = (least.low, least.flow_mm3_s, least.high)
    return Range(*(share * (value or 0.0) for value in values))


def _shares(found: list[Replay]) -> Range | None:
    values = [one.uniform_speed_share for one in reversed(found)]
    if any(value is None for value in values):
        return None
    return Range(*(value or 0.0 for value in values))


def _tenths(value: float) -> str:
    return fixed(value, 1)


def _percent(share: float) -> str:
    return percent(share, 0)


def _range(found: Range, words: Callable[[float], str], unit: str) -> str:
    """``14.0 (13.2 to 14.8) mm³/s``, or the value alone where the ends are told the same."""
    low, middle, high = (words(value) for value in (found.low, found.estimate, found.high))
    if low == middle == high:
        return f"{middle}{unit}"
    return f"{middle} ({low} to {high}){unit}"
