"""Witness prints of the trial's rigs whose codes are open: what they say, graded blind."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from beadworth.report.blocks import Block, Column, Figure, Heading, Paragraph, Row, table
from beadworth.report.charts.witness.threshold import threshold_charts
from beadworth.report.data import ReportData
from beadworth.report.sections.section import Section
from beadworth.text import count, fixed

if TYPE_CHECKING:
    from beadworth.witness import GradeRow, WitnessAnswer

KEY = "witness"
REFERENCES = (
    "Cohen, J. (1968), Weighted kappa, Psychological Bulletin 70, 213-220; its standard error: "
    "Fleiss, J. L., Cohen, J., Everitt, B. S. (1969), Psychological Bulletin 72, 323-327.",
)


@dataclass(frozen=True)
class PublishedWitness:
    """A witness print as a dossier tells of it."""

    number: int
    rig: str
    kind: str
    on: str
    """Day its codes were opened."""
    graders: int
    sheets: int
    answer: WitnessAnswer
    simulated: bool = False
    rows: tuple[GradeRow, ...] = ()
    """Every grade, for open data."""


def _witness(data: ReportData) -> Sequence[Block] | None:
    found: Sequence[PublishedWitness] = data.section_data.get(KEY, ())
    blocks: list[Block] = []
    for one in found:
        blocks.append(Heading(f"{one.kind.capitalize()}, {one.rig}"))
        blocks += [Paragraph(sentence) for sentence in one.answer.sentences]
        blocks += [Figure(chart) for chart in threshold_charts(one.answer.ladders, f"{one.number}")]
        if one.answer.agreement:
            blocks.append(_agreement(one))
        invented = " Its grades are invented, for a demonstration." if one.simulated else ""
        looks = count(one.sheets, "look")
        blocks.append(
            Paragraph(
                f"Graded blind: {count(one.graders, 'grader')}, {looks}; codes opened {one.on} "
                f"when all were in.{invented}",
                kind="note",
            )
        )
    return blocks or None


def _agreement(one: PublishedWitness) -> Block:
    rows = [
        Row(row.who, tuple(
            "cannot tell" if value is None else fixed(value, 2)
            for value in (row.agreement.kappa, row.agreement.low, row.agreement.high)
        ))
        for row in one.answer.agreement
    ]  # fmt: skip
    columns = (
        Column("Who"), Column("weighted kappa", numeric=True), Column("low", numeric=True),
        Column("high", numeric=True),
    )  # fmt: skip
    return table("How far grades agree; 1 is full agreement, 0 chance.", columns, rows)


SECTION = Section(KEY, "Witness prints", _witness, REFERENCES)
