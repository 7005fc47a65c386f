"""Prints replayed on the rigs: what the ceilings mean for whole prints."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from beadworth.report.blocks import Block, Column, Paragraph, Row, Table
from beadworth.report.data import ReportData
from beadworth.report.sections.section import Section
from beadworth.text import duration

KEY = "replays"
NOTE = (
    "Each print was replayed move by move through the rig's motion and its ceilings. Files keep "
    "to themselves: a print is named by a number here."
)


@dataclass(frozen=True)
class ReplayedPrint:
    """What the last replay of one print on one rig said."""

    number: int
    """Which print of the bench, counted from 1."""
    rig: str
    time_s: float
    verdict: str


def _replays(data: ReportData) -> Sequence[Block] | None:
    found: tuple[ReplayedPrint, ...] = data.section_data.get(KEY, ())
    if not found:
        return None
    groups: dict[str, list[Row]] = {}
    for one in found:
        row = Row(f"print {one.number}", (duration(one.time_s), one.verdict))
        groups.setdefault(one.rig, []).append(row)
    heads = (Column("print"), Column("time", numeric=True), Column("what the replay says"))
    return [
        Table("Prints as last replayed.", heads,
              tuple((rig, tuple(rows)) for rig, rows in groups.items()), label="Prints replayed"),
        Paragraph(NOTE, kind="note"),
    ]  # fmt: skip


SECTION = Section(KEY, "Prints replayed", _replays)
