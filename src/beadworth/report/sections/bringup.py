"""How the rigs were brought up: what was measured on each, and what to set."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from beadworth.report.blocks import Block, Heading, Pairs, Paragraph
from beadworth.report.data import ReportData
from beadworth.report.sections.section import Section

if TYPE_CHECKING:
    from beadworth.bringup import Finding

KEY = "bringup"


@dataclass(frozen=True)
class BroughtUp:
    """The newest of every measurement made on one rig."""

    rig: str
    day: str
    """Of the newest, ``2031-04-02``."""
    findings: tuple[Finding, ...]


def _bringup(data: ReportData) -> Sequence[Block] | None:
    found: tuple[BroughtUp, ...] = data.section_data.get(KEY, ())
    blocks: list[Block] = []
    for one in found:
        said = tuple((finding.title, _sentence(finding)) for finding in one.findings)
        blocks += [Heading(f"{one.rig}, {one.day}"), Pairs(said)]
    if not blocks:
        return None
    told = "Every ± is the half-width of the 95\u00a0% interval."
    return [*blocks, Paragraph(told, kind="note")]


def _sentence(finding: Finding) -> str:
    rows = "; ".join(f"{term} {said}" for term, said in finding.rows)
    return f"{finding.advice} ({rows}.)" if rows else finding.advice


SECTION = Section(KEY, "Bring-up", _bringup)
