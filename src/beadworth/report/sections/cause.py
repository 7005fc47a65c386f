"""What walls of the trial's rigs showed: the causes ranked from photos of them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from beadworth.report.blocks import Block, Column, Heading, Paragraph, Row, table
from beadworth.report.data import ReportData
from beadworth.report.sections.section import Section
from beadworth.text import count, fixed

if TYPE_CHECKING:
    from beadworth.cause import Bounds, CauseReading, CauseRow, StoredCause

KEY = "cause"
LEAST = 0.01
"""Causes less probable are left out of the table; open data has them all."""


@dataclass(frozen=True)
class PublishedCause:
    """A reading of walls as a dossier tells of it."""

    number: int
    rig: str
    reading: CauseReading
    rows: tuple[CauseRow, ...]
    """Every cause, for open data."""


def _in_table(reading: CauseReading) -> list[StoredCause]:
    beside = [reading.second] if reading.second else []
    return [cause for cause in (*reading.causes, *beside) if cause.probability >= LEAST]


def _causes(data: ReportData) -> Sequence[Block] | None:
    found: Sequence[PublishedCause] = data.section_data.get(KEY, ())
    blocks: list[Block] = []
    for one in found:
        reading = one.reading
        blocks += [Heading(f"What the wall showed, {one.rig}"), Paragraph(reading.verdict)]
        blocks.append(_table(reading))
        blocks += [Paragraph(f"Cannot tell: {line}") for line in reading.cannot_tell]
        sides = "; ".join(wall.side for wall in reading.walls)
        invented = " The photo is invented, for a demonstration." if reading.simulated else ""
        blocks.append(
            Paragraph(
                f"Read {reading.on} from {count(len(reading.walls), 'photo')}: {sides}."
                f"{_lamp(reading)}{invented}",
                kind="note",
            )
        )
    return blocks or None


def _lamp(reading: CauseReading) -> str:
    """How good the sizes are that light alone gave."""
    sizes = [cause.measured for cause in _in_table(reading) if cause.size_um is not None]
    if all(sizes) and sizes:
        return ""
    return (
        f" {'Other sizes' if any(sizes) else 'Sizes'} hang on a lamp that nobody measured and are "
        "good to a factor of about two and a half."
    )


def _table(reading: CauseReading) -> Block:
    from beadworth.cause import main_cause, sure

    rows = [
        Row(
            main_cause(cause.name) + (", beside" if cause is reading.second else ""),
            (sure(cause.probability), _words(cause.period, cause.unit),
             _words(cause.size_um, "µm") + (", measured" if cause.measured else "")),
        )
        for cause in _in_table(reading)
    ]  # fmt: skip
    columns = (Column("Cause"), Column("probability", numeric=True), Column("period"),
               Column("size, half its height"))  # fmt: skip
    return table("What makes the pattern, with 95 % intervals.", columns, rows)


def _words(found: Bounds | None, unit: str) -> str:
    if found is None:
        return "not reckoned"
    places = 0 if found.value >= 100 else 1 if found.value >= 10 else 2
    low, value, high = (fixed(v, places) for v in (found.low, found.value, found.high))
    return f"{value} {unit} ({low} to {high})"


SECTION = Section(KEY, "What walls showed", _causes)
