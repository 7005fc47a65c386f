"""Build notes: the pages of the journal that were chosen to be shown, with their photos."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from beadworth.report.blocks import Block, Column, Heading, Paragraph, Photo, Row, table
from beadworth.report.data import ReportData
from beadworth.report.sections.section import Section
from beadworth.text import count, number

if TYPE_CHECKING:
    from beadworth.wear import JournalEntry

KEY = "journal"


@dataclass(frozen=True)
class PublishedPage:
    """A page chosen to be shown, with its photos as kept."""

    entry: JournalEntry
    photos: tuple[tuple[bytes, str], ...]
    """JPEG bytes without metadata, and what each shows in words."""


def _journal(data: ReportData) -> Sequence[Block] | None:
    pages: Sequence[PublishedPage] = data.section_data.get(KEY, ())
    if not pages:
        return None
    entries = [page.entry for page in pages]
    blocks: list[Block] = [_timeline(entries)]
    invented = sum(entry.simulated for entry in entries)
    if invented:
        said = "These pages are" if invented == len(entries) else f"{invented} of these pages are"
        blocks.append(Paragraph(f"{said} invented, for a demonstration.", kind="note"))
    for page in pages:
        entry = page.entry
        blocks.append(Heading(f"{entry.on}, {entry.stage}: {entry.title}"))
        blocks += [Paragraph(text) for text in entry.text.split("\n") if text.strip()]
        if entry.problem:
            blocks.append(Paragraph(entry.problem, lead="What went wrong."))
        if entry.solved:
            cost = f" It cost {number(entry.lost_h)} h." if entry.lost_h else ""
            blocks.append(Paragraph(entry.solved + cost, lead="How it was solved."))
        elif entry.lost_h:
            blocks.append(Paragraph(f"{number(entry.lost_h)} h.", lead="Time it cost."))
        blocks += [Photo(jpeg, "image/jpeg", alt, alt) for jpeg, alt in page.photos]
    return blocks


def _timeline(entries: Sequence[JournalEntry]) -> Block:
    troubles = [entry for entry in entries if entry.problem]
    lost = sum(entry.lost_h or 0.0 for entry in troubles)
    said = count(len(troubles), "problem") + (f", {number(lost)} h lost" if lost else "")
    rows = [Row(str(e.on), (e.stage, e.title, number(e.lost_h or None))) for e in entries]
    columns = (
        Column("Day"), Column("stage"), Column("what happened"), Column("lost, h", numeric=True),
    )  # fmt: skip
    return table(f"As it went: {said}.", columns, rows)


SECTION = Section(KEY, "Build notes", _journal)
