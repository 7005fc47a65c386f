"""What a flow ramp is asked to do, and the steps it consists of."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from beadworth.core import Record

Positive = Annotated[float, Field(gt=0)]
Kind = Literal["reference", "pause", "up", "down", "slow", "fast", "repeat"]

STEPS_PER_BIN = 3
WIDEST_BIN_MM3_S = 0.5
SLOW_MM3, SLOW_MM3_S = 36.0, 0.12
"""Fed so slowly that a balance takes the rise for a drifting zero, where it tracks one at all.

0.15 mg/s: a third of the 0.5 scale intervals a second that a balance of 1 mg may take away, so that
a strand that sways does not lift the rise out of its reach.
"""
FAST_MM3, FAST_MM3_S = 80.0, 3.0
"""The same balance sees this rise whole."""
RAISE_MM = 8.0
"""The nozzle rises by so much after the first cycle of a temperature."""
PAUSE_S = 20.0
"""A mark in the trace: what is under way has landed after half of it."""
RAISE_AFTER_S = 12.0
"""Into that pause, when what was under way has landed."""
LATER_REFERENCE_S = 30.0
"""The lowest flow before the first ramp of every temperature but the first."""
STAYS = ((0.15, 1.5), (0.3, 0.6), (0.6, 1.0), (1.0, 0.4))
"""Up to which share of the range how long a step lasts, beside the others.

Long at the lowest flows, which losses are held against; short where nothing is lost yet; long
about the ceiling that is expected; short beyond, where much is lost: that tells the curve's shape.
"""
REPEAT_S = 30.0
"""The lowest flow once more at the end of a temperature."""


class RampSpec(Record):
    """A flow ramp: which rig and material, which temperatures, from which flow to which."""

    rig: str = Field(description="name of the rig")
    material: str = Field(description="name of the material")
    temperatures_c: tuple[Positive, ...] = Field(
        min_length=1, max_length=6, description="nozzle temperatures, °C"
    )
    lowest_mm3_s: tuple[Positive, ...] = Field(
        min_length=1,
        description="lowest flow, mm³/s, where nothing must be lost yet, 0.7 times the ceiling you "
        "expect: one for all temperatures, or one for each",
    )
    highest_mm3_s: tuple[Positive, ...] = Field(
        min_length=1,
        description="highest flow, mm³/s, 1.4 times the ceiling you expect: one for all "
        "temperatures, or one for each",
    )
    cycles: Annotated[int, Field(ge=0, le=8)] = Field(
        2, description="ramps up and down at each temperature; 0: the first minute alone"
    )
    leg_s: Annotated[float, Field(ge=120, le=1800)] = Field(
        310.0, description="time from the lowest flow to the highest, s; as long back"
    )
    reference_s: Annotated[float, Field(ge=30, le=300)] = Field(
        60.0, description="time at the lowest flow before the first ramp, s"
    )
    cup_height_mm: Annotated[float, Field(gt=0, le=400)] = Field(
        80.0, description="height of balance and cup together over the bed, mm"
    )
    cup_capacity_ml: Positive = Field(600.0, description="what the cup holds, ml")

    @model_validator(mode="after")
    def _rises(self) -> Self:
        count = len(self.temperatures_c)
        for name, flows in (("lowest", self.lowest_mm3_s), ("highest", self.highest_mm3_s)):
            if len(flows) not in (1, count):
                raise ValueError(
                    f"{len(flows)} {name} flows stand beside {count} temperatures. Give one flow "
                    "for all, or one for each temperature."
                )
        if len(set(self.temperatures_c)) < count:
            raise ValueError("a temperature stands there twice. Name each once.")
        for low, high in self.ranges_mm3_s:
            if high < low + 6 * WIDEST_BIN_MM3_S:
                raise ValueError(
                    f"a ramp from {low:g} to {high:g} mm³/s is too short. The highest flow must "
                    f"lie {6 * WIDEST_BIN_MM3_S:g} mm³/s above the lowest, or more."
                )
        return self

    @property
    def ranges_mm3_s(self) -> tuple[tuple[float, float], ...]:
        """Lowest and highest flow of each temperature."""
        n = len(self.temperatures_c)
        low, high = (f * n if len(f) == 1 else f for f in (self.lowest_mm3_s, self.highest_mm3_s))
        return tuple(zip(low, high, strict=True))


def bin_edges_mm3_s(low_mm3_s: float, high_mm3_s: float) -> list[float]:
    """Edges of bins of flow, equal and each at most :data:`WIDEST_BIN_MM3_S` wide."""
    count = math.ceil((high_mm3_s - low_mm3_s) / WIDEST_BIN_MM3_S - 1e-9)
    return [low_mm3_s + (high_mm3_s - low_mm3_s) * i / count for i in range(count + 1)]


@dataclass(frozen=True)
class Step:
    """One stretch of constant flow, or a pause (flow 0)."""

    start_s: float
    """From the first extrusion of its temperature."""
    end_s: float
    flow_mm3_s: float
    kind: Kind
    cycle: int = 0
    """From 1; 0 outside the cycles."""
    bin: int = -1
    """Bin of flow, from 0 for the lowest; −1 outside the cycles."""

    @property
    def seconds(self) -> float:
        """How long it lasts."""
        return self.end_s - self.start_s

    @property
    def volume_mm3(self) -> float:
        """Volume fed."""
        return self.flow_mm3_s * self.seconds


@dataclass(frozen=True)
class Section:
    """All steps of one temperature, from its first extrusion to its last mark."""

    temperature_c: float
    steps: tuple[Step, ...]

    @property
    def seconds(self) -> float:
        """From the first extrusion to the end of the last pause."""
        return self.steps[-1].end_s

    @property
    def volume_mm3(self) -> float:
        """Volume fed."""
        return math.fsum(step.volume_mm3 for step in self.steps)

    @property
    def cycles(self) -> tuple[tuple[Step, ...], ...]:
        """Steps of each cycle, in their order."""
        numbers = sorted({s.cycle for s in self.steps if s.cycle})
        return tuple(tuple(s for s in self.steps if s.cycle == n) for n in numbers)

    @property
    def falls(self) -> bool:
        """Whether every cycle has a leg of falling flow, too."""
        return all({"up", "down"} <= {s.kind for s in steps} for steps in self.cycles)


def sections_of(spec: RampSpec) -> tuple[Section, ...]:
    """The steps of a flow ramp, temperature by temperature.

    Each temperature: a minute at the lowest flow, a pause (the mark), the cycles with a pause
    after each, the lowest flow again, a pause. The first temperature has the slow-and-fast check
    before its cycles.
    """
    pairs = zip(spec.temperatures_c, spec.ranges_mm3_s, strict=True)
    return tuple(
        _section(spec, t, low, high, first=not i) for i, (t, (low, high)) in enumerate(pairs)
    )


def _section(
    spec: RampSpec, temperature: float, low: float, high: float, *, first: bool
) -> Section:
    rows: list[tuple[float, float, Kind, int, int]] = [
        (spec.reference_s if first else LATER_REFERENCE_S, low, "reference", 0, -1),
        (PAUSE_S, 0.0, "pause", 0, -1),
    ]
    if first:
        fast = min(low, FAST_MM3_S)
        rows += [
            (SLOW_MM3 / SLOW_MM3_S, SLOW_MM3_S, "slow", 0, -1),
            (PAUSE_S, 0.0, "pause", 0, -1),
            (FAST_MM3 / fast, fast, "fast", 0, -1),
            (PAUSE_S, 0.0, "pause", 0, -1),
        ]
    count = (len(bin_edges_mm3_s(low, high)) - 1) * STEPS_PER_BIN
    rise = (high - low) / count
    stays = [next(stay for to, stay in STAYS if (i + 0.5) / count <= to) for i in range(count)]
    legs = [
        (spec.leg_s * stay / sum(stays), low + rise * (i + 0.5), i // STEPS_PER_BIN)
        for i, stay in enumerate(stays)
    ]
    for cycle in range(1, spec.cycles + 1):
        rows += [(seconds, flow, "up", cycle, at) for seconds, flow, at in legs]
        rows += [(seconds, flow, "down", cycle, at) for seconds, flow, at in reversed(legs)]
        rows.append((PAUSE_S, 0.0, "pause", 0, -1))
    if spec.cycles:
        rows += [
            (REPEAT_S, low, "repeat", 0, -1),
            (PAUSE_S, 0.0, "pause", 0, -1),
        ]
    steps, at_s = [], 0.0
    for seconds, flow, kind, cycle, at in rows:
        steps.append(Step(at_s, at_s + seconds, flow, kind, cycle, at))
        at_s += seconds
    return Section(temperature, tuple(steps))
