"""Replayed times of a print on one rig, and how they move with the rig's ceiling.

A print is replayed at the estimate of the ceilings and at both ends of their intervals. Where
flow is the wall, time goes with 1 ÷ ceiling exactly; between and beyond the replays it is taken
as a straight line in that, which follows it where the wall is flow and stays flat where it is
motion (see docs/explanation/worth.md for how far off it is).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from beadworth.capacity import Ceiling, Fit
from beadworth.core import CONFIDENCE, FitError, Problem, coverage_factor, filament_section_mm2
from beadworth.replay import (
    FASTEST,
    Beyond,
    OnRig,
    Replay,
    Side,
    on_rig,
    replay,
    rule_to_compare,
)
from beadworth.rig import Rig
from beadworth.text import duration
from beadworth.worth.case import Feeds

Array = NDArray[np.float64]
Bound = Literal["interval", "at-least", "none"]
SIDES: tuple[Side, Side] = ("low", "high")


@dataclass(frozen=True)
class RigTimes:
    """One print on one rig."""

    rig: str
    group: str
    """Whose ceiling it hangs on: rig and material; empty without a capacity."""
    time_s: float
    low_s: float
    """At the low ends of the ceilings' intervals: the slowest."""
    high_s: float
    """At the high ends: the fastest. For an 'at least': without any ceiling."""
    slowness: tuple[float, float, float]
    """Mean of 1 ÷ ceiling over the print, s/mm³, at low, estimate and high."""
    floor_s: float
    """Not faster than this at any ceiling; 0 where that is not known."""
    bound: Bound
    coverage: float
    """Of the ceilings' intervals."""
    share_s: dict[str, float]
    """Seconds by what holds it back, at the estimate (see ``replay.whatif``)."""
    volume_cm3: float
    """Filament net of retracts."""
    notes: tuple[str, ...] = ()
    predicted: bool = False
    """Whether the ceilings are predicted, not weighed."""
    common: float = 0.0
    """Share of the variance of their logarithm that they have in common with the other rig's."""
    material: str = ""
    """Of the ceilings; empty without any."""

    @property
    def common_key(self) -> str:
        """Whose common part that is."""
        return f"common:{self.material}"

    def ceiling_deviations(self, values: Mapping[str, Array], shape: Array) -> Array:
        """How far from their estimates the ceilings lie in each draw, standard deviations.

        ``shape``: zeros, for inputs that are not drawn.
        """
        own = values.get(f"ceiling:{self.group}", shape)
        if not self.common:
            return own
        both = values.get(self.common_key, shape)
        return math.sqrt(self.common) * both + math.sqrt(1.0 - self.common) * own

    def at(self, z: Array) -> Array:
        """Time at ceilings that lie ``z`` standard deviations from their estimate, s.

        For an 'at least' all between the known side and no ceiling is equally likely
        (rectangular, JCGM 101:2008 6.4.2).
        """
        from scipy.special import ndtr

        z = np.asarray(z, dtype=np.float64)
        if self.bound == "at-least":
            return np.asarray(self.low_s + (self.high_s - self.low_s) * ndtr(z))
        low, middle, high = self.slowness
        if self.bound == "none" or not low > middle > high > 0:
            return np.full(z.shape, self.time_s)
        reach = coverage_factor(confidence=self.coverage)
        below = z < 0.0
        # one power for both sides: it is most of what a case costs
        there = middle * np.where(below, low / middle, high / middle) ** (np.abs(z) / reach)
        worse = (self.low_s - self.time_s) / (low - middle)
        better = (self.time_s - self.high_s) / (middle - high)
        changed = (there - middle) * np.where(below, worse, better)
        return np.maximum(self.time_s + changed, self.floor_s)


def times_on(
    source: Path | bytes,
    rig: Rig,
    fit: Fit | None,
    feeds: Feeds,
    *,
    fit_rig: str | None = None,
    fit_material: str | None = None,
    name: str | None = None,
    predicted: Beyond | None = None,
    step: Callable[[], None] | None = None,
) -> RigTimes:
    """Replay a print on one rig at its ceilings and at both ends of their intervals.

    Parameters
    ----------
    feeds : 'as written' or 'raised'
        The file's own feeds, slowed where they are over the ceiling; or every bead as fast as
        ceiling and motion allow.
    predicted : callable, optional
        The ceilings of a rig without a fit; see :mod:`beadworth.worth.predicted`.
    step : callable, optional
        Called after each of the replays.

    Raises
    ------
    FitError
        A ceiling known only from above: no time follows from it.
    GcodeError, NotFoundError
        As :func:`beadworth.replay.replay`.
    """
    where: dict[str, Any] = {
        "fit_rig": fit_rig, "fit_material": fit_material, "name": name, "predicted": predicted,
    }  # fmt: skip
    tell = step or (lambda: None)
    found = on_rig(source, rig, fit, **where)
    tell()
    raised = feeds == "raised"
    middle = found.fastest if raised else found.under_ceiling
    share = found.share_fastest_s if raised else found.share_s
    _known_from_below(middle.ceilings, name or str(source))
    ends = {}
    for side in SIDES:
        ends[side] = middle
        if middle.ceilings:
            scale = FASTEST if raised else 1.0
            ends[side] = replay(
                source, middle.read_as, fit, **where, cap=True, scale=scale, side=side,
                rule=rule_to_compare(rig),
            )  # fmt: skip
        tell()
    one_sided = any(ceiling.high is None for ceiling in middle.ceilings)
    section = filament_section_mm2(rig.filament_diameter_mm)
    known = bool(middle.ceilings)
    material = middle.ceilings[0].material if known else ""
    group = f"{middle.ceilings[0].rig} / {material}" if known else ""
    return RigTimes(
        rig=rig.name,
        group=group,
        time_s=middle.time_s,
        low_s=ends["low"].time_s,
        high_s=ends["high"].time_s,
        slowness=(_slowness(ends["low"]), _slowness(middle), _slowness(ends["high"])),
        floor_s=0.0 if raised else found.uncapped_s,
        bound="at-least" if one_sided else "interval" if known else "none",
        coverage=min((c.confidence for c in middle.ceilings), default=CONFIDENCE),
        share_s=share,
        volume_cm3=middle.summary.filament_net_mm * section * 1e-3,
        notes=(*_file_limits(found), *_notes(middle, rig)),
        predicted=known and fit is None,
        material=material,
    )


def _known_from_below(ceilings: tuple[Ceiling, ...], name: str) -> None:
    problems = [
        Problem(
            f"at {c.temperature_c:g} °C the ceiling of {c.rig} is only known to be at most "
            f"{c.high or 0.0:.1f} mm³/s, so the time of this print could be anything longer.",
            f"print {name}, material {c.material}",
            c.high,
            f"Weigh coupons at {c.temperature_c:g} °C, down to flows it delivers whole (the "
            "trial's next coupons say which), or leave this print out.",
        )
        for c in ceilings
        if c.low is None
    ]
    if problems:
        raise FitError(problems)


def _file_limits(found: OnRig) -> tuple[str, ...]:
    """What is done with the limits that a file sets."""
    written = found.as_commanded
    if not written.sets_limits:
        return ()
    if found.obeys:
        return (
            f"{found.rig} obeys the limits that the file sets; at its own the print would take "
            f"{duration(written.time_at_rig_limits_s)} instead of {duration(written.time_s)}",
        )
    return (
        f"the limits that the file sets do not count: it is compared at those of {found.rig}; "
        f"as written it takes {duration(written.time_s)}",
    )


def _slowness(found: Replay) -> float:
    """Mean of 1 ÷ ceiling over the time line; 0 where nothing is limited."""
    ceilings = found.series_ceiling_mm3_s
    with np.errstate(divide="ignore"):
        slow = 1.0 / ceilings[ceilings > 0]
    slow = slow[slow > 0]
    return float(slow.mean()) if len(slow) else 0.0


def _notes(found: Replay, rig: Rig) -> tuple[str, ...]:
    notes = list(found.notes)
    if not found.ceilings:
        notes.append(f"no ceiling of {rig.name} is known: only its motion limits count")
    notes += [
        f"the ceiling of {c.rig} at {c.temperature_c:g} °C is at least {c.low or 0.0:.1f} mm³/s; "
        "all times from there to no ceiling at all are taken as equally likely"
        for c in found.ceilings
        if c.high is None
    ]
    return tuple(dict.fromkeys(notes))
