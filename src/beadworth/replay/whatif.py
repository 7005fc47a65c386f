"""The same print on two rigs: what holds it back, and whether a better hot end would help."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from beadworth.replay.result import Replay
from beadworth.replay.rig_limits import rule_to_compare
from beadworth.replay.run import replay
from beadworth.rig import Rig
from beadworth.text import capital, duration, percent

if TYPE_CHECKING:
    from beadworth.capacity import Fit
    from beadworth.replay.melt_ceiling import Beyond


FASTEST = 20.0
"""Factor on extruding feeds that leaves ceiling and motion as the only limits."""
GROUPS = {
    "acceleration": "acceleration",
    "corner": "cornering",
    "extruder step": "cornering",
    "arc": "cornering",
    "axis speed": "top speed",
    "extruder speed": "top speed",
    "stop": "stops",
    "look-ahead": "stops",
}


@dataclass(frozen=True)
class OnRig:
    """A print on one rig: three answers, each with its own name."""

    rig: str
    as_commanded: Replay
    """As written: the feeds of the file, and the limits it sets as the rig's controller takes
    them; whatever the hot end gives."""
    under_ceiling: Replay
    """At the rig's own limits: those feeds, slowed where they are over the ceiling."""
    fastest: Replay
    """Fastest under the ceiling: every bead as fast as ceiling and the rig's own limits allow; the
    file's feeds do not limit."""
    share_written_s: dict[str, float]
    """What ``as_commanded`` is made of: commanded, acceleration, cornering, …"""
    share_s: dict[str, float]
    """What ``under_ceiling`` is made of, by the same names and flow, which the ceiling adds."""
    share_fastest_s: dict[str, float]
    """What ``fastest`` is made of, by the same names; flow is the time at the ceiling."""
    obeys: bool
    """Whether the controller obeys the file, so that the file's limits stay in all three."""

    @property
    def uncapped_s(self) -> float:
        """Time at the limits of the second answer, whatever the hot end gives."""
        written = self.as_commanded
        return written.time_s if self.obeys else written.time_at_rig_limits_s


@dataclass(frozen=True)
class WhatIf:
    """Two rigs and the sentence that compares them."""

    baseline: OnRig
    candidate: OnRig
    saved_s: float
    """At the rig's own limits, under the ceiling, at the file's feeds: baseline less candidate."""
    saved_fastest_s: float
    """As fast as ceiling and motion allow: baseline less candidate."""
    sentence: str


def on_rig(
    source: Path | bytes,
    rig: Rig,
    fit: Fit | None,
    *,
    fit_rig: str | None = None,
    fit_material: str | None = None,
    name: str | None = None,
    predicted: Beyond | None = None,
) -> OnRig:
    """Replay a print three ways on one rig and split its time by what holds it back.

    ``predicted``: ceilings of a rig without a fit; see :func:`beadworth.replay.replay`.
    """
    rule = rule_to_compare(rig)
    read_as = rig
    ways: list[Replay] = []
    for cap, scale, limits in ((False, 1.0, None), (True, 1.0, rule), (True, FASTEST, rule)):
        ways.append(replay(
            source, read_as, fit, fit_rig=fit_rig, fit_material=fit_material, name=name,
            cap=cap, scale=scale, rule=limits, predicted=predicted,
        ))  # fmt: skip
        read_as = ways[0].read_as
    commanded, under, fastest = ways
    written_s, share_s = (_shares(one, commanded.commanded_s) for one in (commanded, under))
    fastest_s, obeys = _shares(fastest, None), rule == "obeyed"
    return OnRig(rig.name, commanded, under, fastest, written_s, share_s, fastest_s, obeys)


def _shares(found: Replay, commanded_s: float | None) -> dict[str, float]:
    """Seconds by cause; ``flow`` is what the ceiling adds to the commanded time."""
    share = dict.fromkeys(("commanded", "flow", *GROUPS.values()), 0.0)
    if commanded_s is None:
        share["flow"] = found.commanded_s
    else:
        share["commanded"] = commanded_s
        share["flow"] = max(0.0, found.commanded_s - commanded_s)
    for cause, seconds in found.held_back_s.items():
        share[GROUPS[cause]] += seconds
    return share


def compare(baseline: OnRig, candidate: OnRig) -> WhatIf:
    """Two rigs held against each other in one sentence."""
    saved = baseline.under_ceiling.time_s - candidate.under_ceiling.time_s
    fastest = baseline.fastest.time_s - candidate.fastest.time_s
    return WhatIf(
        baseline, candidate, saved, fastest, _sentence(baseline, candidate, saved, fastest)
    )


def _sentence(baseline: OnRig, candidate: OnRig, saved: float, fastest: float) -> str:
    before, after = baseline.under_ceiling.time_s, candidate.under_ceiling.time_s
    as_is = f"{_whose_limits(baseline, candidate)}, this print takes " + (
        f"{duration(after)} on {candidate.rig} instead of {duration(before)}"
        if abs(saved) > 0.005 * before
        else f"{duration(before)} on both"
    )
    share = fastest / baseline.fastest.time_s if baseline.fastest.time_s else 0.0
    wall = candidate.share_fastest_s
    moving = wall["acceleration"] + wall["cornering"] + wall["top speed"]
    total = sum(wall.values())
    most = (
        f"motion (acceleration, cornering, top speed) takes {percent(moving / total, 0)} of its "
        "time"
        if total
        else ""
    )
    if share > 0.02:
        pushed = (
            "with its speeds raised to the ceiling it would take "
            f"{duration(candidate.fastest.time_s)} instead of "
            f"{duration(baseline.fastest.time_s)} ({percent(share, 0)} less), where {most}"
        )
    else:
        pushed = f"raising its speeds to the ceiling gains nothing more on {candidate.rig}: {most}"
    return f"{capital(as_is)}; {pushed}.{_as_written(baseline, candidate)}"


def _whose_limits(*sides: OnRig) -> str:
    """The limits that the rigs are compared at, in words."""
    if not any(on.as_commanded.sets_limits for on in sides):
        return "at its own feeds"
    if all(on.obeys for on in sides):
        return "at the limits that the file sets"
    if any(on.obeys for on in sides):
        return "each at the limits that its controller keeps"
    return "at each rig's own limits"


def _as_written(first: OnRig, second: OnRig) -> str:
    """What the limits that a file sets make of it, where it sets some."""
    sides = (first, second)
    if not any(on.as_commanded.sets_limits for on in sides):
        return ""
    obeying = list(dict.fromkeys(on.rig for on in sides if on.obeys))
    if obeying:
        own = " and ".join(
            f"{duration(on.as_commanded.time_at_rig_limits_s)} on {on.rig}" for on in sides
        )
        many = "obey" if len(obeying) > 1 else "obeys"
        return f" {' and '.join(obeying)} {many} the file; at each rig's own limits: {own}."
    written = " and ".join(f"{duration(on.as_commanded.time_s)} on {on.rig}" for on in sides)
    return f" The file sets limits of its own; as written: {written}."
