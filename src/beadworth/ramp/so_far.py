"""What a trace says while the ramp still runs: the steps that are over, and what they give."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from beadworth.core import FILAMENT_MM, BeadworthError
from beadworth.ramp.analyse import LiveWeighing, analyse_trace
from beadworth.ramp.noise import Noise
from beadworth.ramp.outlook import learn_first
from beadworth.ramp.placing import place_sections
from beadworth.ramp.record import RampSpec, Section
from beadworth.ramp.trace import FEWEST_ROWS, Trace, second_means

LIKE = 0.93
"""Correlation from which steps that have passed so far count as seen."""


@dataclass(frozen=True)
class SoFar:
    """How far a ramp has come, and what its trace says of that."""

    sections: tuple[Section, ...]
    """Steps that are over; the last temperature may stop after any of its cycles."""
    noise: Noise
    weighing: LiveWeighing | None
    """None before the first cycle is over."""

    @property
    def cycles(self) -> int:
        """Cycles that are over, of all temperatures."""
        return sum(len(section.cycles) for section in self.sections)


def analyse_so_far(
    trace: Trace,
    spec: RampSpec,
    sections: Sequence[Section],
    *,
    filament_diameter_mm: float = FILAMENT_MM,
    known: SoFar | None = None,
    prefix: str = "L",
) -> SoFar | None:
    """What a trace that still grows says: the minute at the lowest flow, then cycle by cycle.

    Parameters
    ----------
    trace : Trace
        So far.
    spec : RampSpec
    sections : sequence of Section
        All steps of the ramp.
    filament_diameter_mm : float
    known : SoFar, optional
        What was found before; given back as it is where no further cycle is over.
    prefix : str

    Returns
    -------
    SoFar or None
        None while not even the minute at the lowest flow is to be seen.
    """
    if trace.time_s.size < FEWEST_ROWS:
        return None
    seconds = second_means(trace)
    for steps in _passed(sections):
        if known is not None and _size(steps) <= _size(known.sections):
            return known
        try:
            placed = place_sections(seconds, steps)
        except BeadworthError:
            continue
        if min(p.likeness for p in placed) < LIKE:
            continue
        noise = known.noise if known else learn_first(seconds, placed[:1])
        weighing = None
        if any(section.cycles for section in steps):
            over = tuple(section for section in steps if section.cycles)
            weighing = analyse_trace(
                trace, spec, sections=over, filament_diameter_mm=filament_diameter_mm, prefix=prefix
            )
        return SoFar(steps, noise, weighing)
    return known


def _size(sections: Sequence[Section]) -> int:
    return sum(len(section.steps) for section in sections)


def _passed(sections: Sequence[Section]) -> list[tuple[Section, ...]]:
    """What may be over, the longest first: whole temperatures, then cycles of the next one."""
    found: list[tuple[Section, ...]] = []
    for k, section in enumerate(sections):
        whole = tuple(sections[:k])
        cycles = [step.cycle for step in section.steps]
        ends = [2] if not k else []  # the minute at the lowest flow, with its pause
        ends += [i + 2 for i, cycle in enumerate(cycles[:-1]) if cycle and cycles[i + 1] != cycle]
        found += [(*whole, Section(section.temperature_c, section.steps[:end])) for end in ends]
        found.append((*whole, section))
    return found[::-1]
