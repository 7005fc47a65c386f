"""Live weighings of the trial: what was found, which checks it passed, whether it is used."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from beadworth.report.blocks import Block, Column, Figure, Heading, Paragraph, Row, table
from beadworth.report.charts.trial.trace import trace_chart
from beadworth.report.data import ReportData
from beadworth.report.sections.section import Section
from beadworth.report.sentences import ceiling_words, level, temperature
from beadworth.text import capital, fixed, join_words, percent

if TYPE_CHECKING:
    from beadworth.capacity import Ceiling
    from beadworth.ramp import Check, RampSpec, Trace
    from beadworth.ramp import Section as Steps
    from beadworth.trial import JointErrors, Reading

KEY = "live"
SIMULATED = (
    "Live weighing has been tried in simulation alone so far: hold it against coupons where you "
    "can."
)


@dataclass(frozen=True)
class PublishedLive:
    """A live weighing as a dossier and a data package tell of it."""

    number: int
    on: str
    """Day it was begun."""
    state: str
    """current, or voided."""
    reason: str
    spec: RampSpec
    sections: tuple[Steps, ...]
    rig: str
    material: str
    trace: Trace
    readings: tuple[Reading, ...]
    joint: JointErrors
    checks: tuple[Check, ...]
    hang_mg: float
    hang_s: float
    wander: float
    grams: float
    minutes: float
    standing: str
    """used; kept but not used, and why; voided, and why."""
    ceilings: tuple[Ceiling, ...] = ()
    """By itself; empty where it is not used."""
    note: str = ""
    """What the person saw."""

    @property
    def counts(self) -> bool:
        """Whether its readings may be used."""
        from beadworth.ramp import failed_checks

        return self.state == "current" and not failed_checks(self.checks)


def _live(data: ReportData) -> Sequence[Block] | None:
    found: Sequence[PublishedLive] = data.section_data.get(KEY, ())
    blocks: list[Block] = []
    for one in found:
        blocks.append(Heading(f"Live weighing {one.number}, {one.rig}, {one.on}"))
        blocks.append(Paragraph(capital(f"{one.standing}.")))
        if one.ceilings:
            told = join_words(
                f"{temperature(c.temperature_c)}: {ceiling_words(c)}" for c in one.ceilings
            )
            blocks.append(
                Paragraph(f"Ceilings at {level(one.ceilings[0].loss)} loss by itself: {told}.")
            )
        blocks.append(_checks(one))
        blocks.append(Figure(trace_chart(one.trace, one.sections, one.grams, one.minutes)))
        seen = f" Seen: {one.note}" if one.note else ""
        blocks.append(
            Paragraph(
                f"{one.material}; {fixed(one.grams, 1)} g in {fixed(one.minutes, 0)} min of steps; "
                f"{fixed(one.hang_mg, 1)} mg hang and sway, the filament wanders by "
                f"{percent(one.wander)} along the spool.{seen}",
                kind="note",
            )
        )
    if blocks:
        used = any(one.counts for one in found)
        beside = any(entry.state == "current" and not entry.live for entry in data.entries)
        told = "The trial's ceilings come from its coupons; what was weighed live stands beside. "
        whole = "The trial's ceilings are read from live weighing, no coupon was weighed. "
        lead = (told if beside else whole) if used else ""
        blocks.insert(0, Paragraph(f"{lead}{SIMULATED}"))
    return blocks or None


def _checks(one: PublishedLive) -> Block:
    columns = (Column("Check"), Column("verdict"), Column("found"))
    rows = [Row(capital(c.name), (c.verdict, capital(c.found))) for c in one.checks]
    return table("What would lie without showing, and what was found.", columns, rows)


SECTION = Section(KEY, "Live weighing", _live)
