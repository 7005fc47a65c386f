"""How the rigs have lasted: hours, failures with their bound, checks over months."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from beadworth.report.blocks import Block, Column, Figure, Heading, Paragraph, Row, table
from beadworth.report.charts.wear.figures import hours_charts, part_charts, series_charts
from beadworth.report.data import ReportData
from beadworth.report.sections.section import Section
from beadworth.text import capital, fixed, slug

if TYPE_CHECKING:
    from beadworth.wear import WearEntry, WearSummary

KEY = "wear"
REFERENCES = (
    "NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2 (individuals chart), 6.3.2.4 (EWMA "
    "chart), 8.4.5.1 (bounds on a failure rate) and 8.4.1.3 (Weibull law with units still "
    "running), doi:10.18434/M32189.",
)
NOTE = (
    "A check is first held against a slope and a step over its whole length, then each reading "
    "against limits around its first ones, the wider the fewer they are. Of logs that never "
    "changed at most about 1 in 20 shows anything, independent readings supposed; no signal is not "
    "proof of no change. A rate without a failure is a "
    "bound at the 0.05 level: it does not say that a part cannot fail."
)


def _wear(data: ReportData) -> Sequence[Block] | None:
    logs: Mapping[str, WearSummary] = data.section_data.get(KEY, {})
    blocks: list[Block] = []
    for rig, found in logs.items():
        own = _log(rig, found)
        if len(logs) > 1:
            blocks.append(Heading(rig))
            own = [_of_rig(rig, block) for block in own]
        blocks += own
    return [*blocks, Paragraph(NOTE, kind="note")] if blocks else None


def _of_rig(rig: str, block: Block) -> Block:
    """A figure whose name says whose it is, where two rigs have the same."""
    if not isinstance(block, Figure):
        return block
    chart = block.chart
    return Figure(replace(chart, name=f"{chart.name}-{slug(rig, 'rig')}"))


def _log(rig: str, found: WearSummary) -> list[Block]:
    span = f"{found.since} to {found.until}"
    simulated = " The log is simulated." if found.simulated else ""
    said = found.rate.sentence if found.rate else "No hours were entered."
    blocks: list[Block] = [Paragraph(f"{said} Logged {span}.{simulated}", lead=f"{rig}.")]
    blocks += map(Figure, hours_charts(found))
    for report in found.series:
        blocks += map(Figure, series_charts(found, report))
    blocks += [
        Paragraph(capital(report.finding), lead=f"{capital(report.series.name)}.")
        for report in found.series
        if report.individuals is not None or (report.course is not None and report.course.changed)
    ]
    few = [
        report.series.name
        for report in found.series
        if report.individuals is None and not (report.course is not None and report.course.changed)
    ]
    if few:
        blocks.append(Paragraph(f"Too few readings for limits yet: {'; '.join(few)}.", kind="note"))
    for part in found.parts:
        blocks += map(Figure, part_charts(part))
        rate = part.rate.sentence if part.rate else ""
        told = f"{part.life.sentence} {rate}" if part.life else rate
        blocks.append(Paragraph(told.strip(), lead=f"{capital(part.lives.part)}."))
    if found.changes:
        blocks.append(_changes(found))
    return blocks


def _changes(found: WearSummary) -> Block:
    """What was changed and what failed; notes beside an entry are not published."""
    rows = [
        Row(str(entry.on), (_named(entry), entry.what, _hours(found, entry)))
        for entry in found.changes
    ]
    columns = (
        Column("Day"), Column("what happened"), Column("part"),
        Column("rig hours", numeric=True),
    )  # fmt: skip
    return table("Changes and failures.", columns, rows)


def _named(entry: WearEntry) -> str:
    if entry.kind == "replacement":
        why = {"failed": "it failed", "precaution": "precaution", "upgrade": "for a better one"}
        return f"replaced: {why.get(entry.because or '', '')}"
    return "adjusted" if entry.kind == "adjustment" else "failed, repaired"


def _hours(found: WearSummary, entry: WearEntry) -> str:
    total = max((at.total_h for at in found.hours if at.on <= entry.on), default=0.0)
    return fixed(total, 0)


SECTION = Section(KEY, "Over months", _wear, REFERENCES)
