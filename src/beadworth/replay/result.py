"""What a replay says of a print, as plain data."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import ClassVar, Literal

import numpy as np
from numpy.typing import NDArray

from beadworth.capacity import Ceiling
from beadworth.core import LEFT_OUT, flat, named
from beadworth.gcode import GcodeSummary
from beadworth.motion import ASSUMED, RIG, Cause, LimitInForce
from beadworth.replay.breakdown import Feature, FlowHistogram, ToolFilament
from beadworth.replay.remaining import RemainingMarks
from beadworth.replay.waits import Wait
from beadworth.rig import Rig
from beadworth.text import duration, fixed, percent

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Stretch:
    """A run of a print that asks for more than the ceiling."""

    kind: Literal["burst", "sustained"]
    """sustained: the flow out of the nozzle is over the ceiling for longer than the pressure lag,
    and the nozzle delivers less; burst: not so, the melt pressure smooths it over."""
    line: int
    last_line: int
    layer: int | None
    """From 1, in the order in which the heights first appear; None before the first."""
    at_mm: tuple[float, float, float]
    """Where it starts: x, y, z."""
    start_s: float
    asked_s: float
    """Time for which the drive is asked for more than the ceiling."""
    over_s: float
    """Time for which the flow out of the nozzle is above it, pressure lag included."""
    length_mm: float
    temperature_c: float
    ceiling_mm3_s: float
    asked_mm3_s: float
    """Highest flow asked for."""
    flow_mm3_s: float
    """Highest flow out of the nozzle."""
    loss: float | None
    """Predicted loss at that flow, with its interval; None without a curve."""
    loss_low: float | None
    loss_high: float | None
    missing_mm3: float
    """Volume asked for beyond the ceiling."""
    drawn_mm3: float
    """How far the melt zone's molten stock is drawn down at most, what earlier stretches took and
    the pauses gave back included."""
    shows: Literal["will", "may", "cannot"] | None
    """Against what the melt zone holds; None where the rig does not say that."""


@dataclass(frozen=True)
class Layer:
    """One layer (height at which something is extruded)."""

    layer: int
    """From 1, in the order in which the heights first appear."""
    z_mm: float
    time_s: float
    flow_mm3_s: float
    """Mean over the extruding time."""
    max_mm3_s: float
    headroom: float | None
    """Ceiling ÷ highest flow − 1; below 0 it is over. None without a ceiling."""
    over_s: float
    fan: float | None = None
    """Duty of the part cooling over its time, 0 to 1; None where the file never sets it."""


@dataclass(frozen=True)
class Flow:
    """Flow the drive is asked for, weighted by time over the extruding moves."""

    max_mm3_s: float
    mean_mm3_s: float
    p99_mm3_s: float


@dataclass(frozen=True)
class Priming:
    """What is extruded apart from the print: priming before its first layer, purging after its
    last, filament pushed while z alone moves. No flow, stretch or speed of the print counts it.
    """

    moves: int
    line: int | None
    """Of the first of them."""
    filament_mm: float
    time_s: float
    worst_flow_mm3_s: float

    @property
    def sentence(self) -> str:
        """What was set apart, in words; empty where nothing was."""
        if not self.moves:
            return ""
        return (
            f"Priming and purging, first at line {self.line}: {fixed(self.filament_mm, 1)} mm of "
            f"filament in {duration(self.time_s)}, up to {fixed(self.worst_flow_mm3_s, 1)} mm³/s. "
            "It is counted separately: the flows, stretches and speeds here leave it out."
        )


@dataclass(frozen=True)
class FlowSeries:
    """Flow the drive is asked for over time, and the ceiling; infinite without one."""

    start_s: Array
    flow_mm3_s: Array
    ceiling_mm3_s: Array


@dataclass(frozen=True)
class Replay:
    """A print on a rig."""

    summary: GcodeSummary = field(metadata=flat())
    rig: str
    read_as: Rig = field(metadata=LEFT_OUT)
    """The rig, with the readings of E and arcs that were taken."""
    verdict: str
    time_s: float
    """As written: its own feeds, and the limits it sets as the rig's controller takes them."""
    time_at_rig_limits_s: float
    """At the rig's own limits: the same feeds, without the limits the file sets, but for a kind
    of limit that the rig says nothing of."""
    commanded_s: float
    """Time it would take at the commanded speed all the way."""
    held_back_s: dict[str, float]
    """What each limit adds to that; with ``commanded`` they add up to the moving time."""
    dwell_s: float
    flow: Flow
    priming: Priming
    melt_zone_mm3: float | None
    """What the melt zone holds: section of its bore × its length; None where not recorded."""
    over_ceiling_s: float
    stretches: tuple[Stretch, ...]
    """The worst ones in the order of the print, at most 500."""
    bursts: int
    sustained: int
    layers: tuple[Layer, ...] = field(metadata=named("layer_table"))
    series_s: Array = field(metadata=LEFT_OUT)
    """Starts of the bins of the time line."""
    series_mm3_s: Array = field(metadata=LEFT_OUT)
    series_ceiling_mm3_s: Array = field(metadata=LEFT_OUT)
    mass_g: float | None
    heater_w: float | None
    """Melt power at the mean flow of the extruding time; None without a material."""
    heater_max_w: float | None
    """Melt power at the highest flow; None without a material."""
    temperatures_c: tuple[float, ...]
    """Commanded while something is extruded, lowest first."""
    lowest_temperature_c: float | None
    """Lowest temperature at which nothing is over the ceiling; None where none is known to be."""
    uniform_speed_share: float | None
    """Uniform factor on speed that keeps every move under the ceiling (at most 1)."""
    notes: tuple[str, ...]
    flow_histogram: FlowHistogram = field(default_factory=lambda: FlowHistogram(1.0, ()))
    """Time spent at each flow."""
    features: tuple[Feature, ...] = ()
    """By the comments of the file; empty where the rig gives no pattern of them."""
    tools: tuple[ToolFilament, ...] = ()
    """Filament of every tool used."""
    waits: tuple[Wait, ...] = ()
    """What the file waits for; what the rig states of it counts in the times."""
    remaining_marks: RemainingMarks | None = None
    """The maker's own estimate; None where the file carries none."""
    limits: tuple[LimitInForce, ...] = ()
    """Every limit in force, its values in their order, and who says so."""
    ceilings: tuple[Ceiling, ...] = ()
    """Ceilings at the temperatures it extrudes at, coolest first; empty without a fit."""

    unknown_c: tuple[float, ...] = ()
    """Temperatures it extrudes at, of whose ceiling no more than an upper bound is known: whether
    the hot end gives what is asked there is not known."""
    weighed_c: tuple[float, ...] = field(default=(), metadata=LEFT_OUT)
    """Temperatures that coupons were weighed at."""

    json_also: ClassVar = {"series": "series", "shortest_layer": "shortest_layer"}

    @property
    def sets_limits(self) -> bool:
        """Whether the file sets limits that make a difference on this rig."""
        return self.time_s != self.time_at_rig_limits_s or any(
            limit.origin not in (RIG, ASSUMED) for limit in self.limits
        )

    @property
    def assumed_limits(self) -> int:
        """How many limits neither the rig nor the file states."""
        return len({limit.name for limit in self.limits if limit.origin == ASSUMED})

    @property
    def shortest_layer(self) -> Layer | None:
        """The layer that takes the least time; None where z rises all the time."""
        own = [layer for layer in self.layers if layer.layer > 0]
        if self.summary.layers is None or not own:
            return None
        return min(own, key=lambda layer: layer.time_s)

    @property
    def shortest_layer_sentence(self) -> str:
        """The shortest layer in words; empty where there is none."""
        least = self.shortest_layer
        if least is None:
            return ""
        fan = "" if least.fan is None else f", fan at {percent(least.fan, 0)}"
        return (
            f"The shortest layer is {least.layer}, at z {least.z_mm:g} mm: "
            f"{duration(least.time_s)}{fan}"
        )

    @property
    def waits_s(self) -> float:
        """Time the rig states for all that the file waits for besides its dwells."""
        return sum(wait.total_s or 0.0 for wait in self.waits)

    @property
    def waits_sentence(self) -> str:
        """What the file waits for besides its dwells, and whether it counts; empty for nothing."""
        known = [f"{_times(wait)} {duration(wait.total_s)}"
                 for wait in self.waits if wait.total_s is not None]  # fmt: skip
        unknown = [_times(wait) for wait in self.waits if wait.total_s is None]
        parts = []
        if known:
            parts.append(f"Waits as the rig states them, in its time: {', '.join(known)}.")
        if unknown:
            parts.append(
                f"Not counted, since the rig does not say how long it takes: {', '.join(unknown)}."
            )
        return " ".join(parts)

    @property
    def series(self) -> FlowSeries:
        """The flow over time, as it is published."""
        return FlowSeries(self.series_s, self.series_mm3_s, self.series_ceiling_mm3_s)


def _times(wait: Wait) -> str:
    return wait.what if wait.times == 1 else f"{wait.what} ({wait.times} times)"


CAUSE_WORDS = {
    Cause.COMMANDED: "commanded",
    Cause.AXIS_SPEED: "axis speed",
    Cause.EXTRUDER_SPEED: "extruder speed",
    Cause.ARC: "arc",
    Cause.CORNER: "corner",
    Cause.EXTRUDER_STEP: "extruder step",
    Cause.STOP: "stop",
    Cause.WINDOW: "look-ahead",
    Cause.ACCELERATION: "acceleration",
}
