"""What is typical for hot ends of the class: the trial's ceilings beside others, with sources."""

from __future__ import annotations

from collections.abc import Sequence

from beadworth.dossier.blocks import Block, Bullets, Column, Figure, Paragraph, Row, table
from beadworth.dossier.charts_typical import classes_of, forest_chart, typical_chart
from beadworth.dossier.data import DossierData
from beadworth.dossier.section import Section
from beadworth.dossier.sentences import number, short
from beadworth.worth.typical import ClassPool, HotEndClass, Typical, TypicalRow

HOW = (
    "A class is a range of heated lengths and nozzle bores, never a maker. Trials are pooled by a "
    "random-effects model once three of a class are here; fewer cannot tell."
)


def typical_blocks(typical: Typical) -> list[Block]:
    """A chart for each class, a forest for each pool, the table, and how to read them."""
    blocks: list[Block] = []
    for hot_end, polymer in classes_of(typical):
        blocks.append(_chart(typical, hot_end, polymer))
    pooled = [p for p in typical.pools if p.pooled is not None]
    blocks += [Paragraph(p.sentence) for p in typical.pools]
    blocks += [_forest(p) for p in pooled]
    if typical.rows:
        blocks.append(_table(typical.rows))
    notes = (Paragraph(HOW), *(Paragraph(note) for note in typical.notes))
    blocks.append(Bullets(notes, kind="notes"))
    return blocks


def _blocks(data: DossierData) -> Sequence[Block] | None:
    typical = data.extras.get("typical")
    return typical_blocks(typical) if isinstance(typical, Typical) else None


def _chart(typical: Typical, hot_end: HotEndClass, polymer: str) -> Figure:
    return Figure(lambda px: typical_chart(typical, hot_end, polymer, width_px=px))


def _forest(pool: ClassPool) -> Figure:
    return Figure(lambda px: forest_chart(pool, width_px=px))


def _table(rows: Sequence[TypicalRow]) -> Block:
    columns = (
        Column("melt zone"),
        "nozzle, mm",
        Column("polymer"),
        "temperature, °C",
        "flow, mm³/s",
        Column("what it is"),
        Column("source"),
    )
    return table(
        "Typical flows by class of hot end",
        columns,
        [
            Row(
                row.zone or "not stated",
                (
                    short(row.nozzle_mm),
                    row.polymer,
                    short(row.temperature_c),
                    _flow(row),
                    "delivery falls off" if row.what == "ceiling" else "the drive slips",
                    row.source,
                ),
            )
            for row in rows
        ],
    )


def _flow(row: TypicalRow) -> str:
    if row.low_mm3_s == row.high_mm3_s:
        return number(row.low_mm3_s)
    return f"{short(row.low_mm3_s)} to {short(row.high_mm3_s)}"


SECTION = Section("typical", "What is typical", blocks=_blocks)
