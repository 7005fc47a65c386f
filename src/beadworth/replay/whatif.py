"""The same print on two rigs: what holds it back, and whether a better hot end would help."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from beadworth.replay.result import Replay
from beadworth.replay.run import replay
from beadworth.rig import Rig
from beadworth.text import capital, duration, percent

if TYPE_CHECKING:
    from beadworth.capacity import Fit


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
    """A print on one rig, three ways."""

    rig: str
    as_commanded: Replay
    """At the feeds of the file, whatever the hot end gives."""
    under_ceiling: Replay
    """At those feeds, slowed where they are over the ceiling."""
    fastest: Replay
    """Every bead as fast as ceiling and motion allow; the file's feeds do not limit."""
    share_s: dict[str, float]
    """What ``under_ceiling`` is made of: commanded, flow, acceleration, cornering, …"""
    share_fastest_s: dict[str, float]
    """What ``fastest`` is made of, by the same names; flow is the time at the ceiling."""


@dataclass(frozen=True)
class WhatIf:
    """Two rigs and the sentence that compares them."""

    baseline: OnRig
    candidate: OnRig
    saved_s: float
    """Under the ceiling, at the file's feeds: baseline less candidate."""
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
) -> OnRig:
    """Replay a print three ways on one rig and split its time by what holds it back."""
    ways = [
        replay(
            source, rig, fit, fit_rig=fit_rig, fit_material=fit_material, name=name,
            cap=cap, scale=scale,
        )
        for cap, scale in ((False, 1.0), (True, 1.0), (True, FASTEST))
    ]  # fmt: skip
    commanded, under, fastest = ways
    share = _shares(under, commanded.commanded_s)
    return OnRig(rig.name, commanded, under, fastest, share, _shares(fastest, None))


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
    as_is = (
        f"as it is written, this print takes {duration(after)} on {candidate.rig} "
        f"instead of {duration(before)}"
        if abs(saved) > 0.005 * before
        else f"as it is written, this print takes {duration(before)} on both"
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
    return f"{capital(as_is)}; {pushed}."
