"""What is typical for hot ends of the class: the trial's ceilings beside others, with sources."""

from __future__ import annotations

from collections.abc import Sequence

from beadworth.report.blocks import (
    Block,
    Bullets,
    Cell,
    Column,
    Figure,
    Paragraph,
    Row,
    Table,
    table,
)
from beadworth.report.charts.worth.forest import forest_chart
from beadworth.report.charts.worth.typical import classes_of, typical_chart
from beadworth.report.data import ReportData
from beadworth.report.sections.section import Section
from beadworth.report.sentences import interval, percent, temperature
from beadworth.text import fixed, number
from beadworth.typical import ClassPool, Typical, TypicalRow

HOW = (
    "A class is a range of heated lengths and nozzle bores, never a maker. Trials are pooled by a "
    "random-effects model once three of a class are here; fewer are too few."
)


def typical_blocks(typical: Typical) -> list[Block]:
    """A chart and a forest for each class, the pools, the table, and how to read them."""
    blocks: list[Block] = []
    for hot_end, polymer in classes_of(typical):
        blocks.append(Figure(typical_chart(typical, hot_end, polymer)))
    if typical.pools:
        blocks.append(_pools(typical.pools))
    blocks += [Figure(forest_chart(pool)) for pool in forests(typical)]
    if typical.rows:
        blocks.append(_table(typical.rows))
    if typical.credits:
        credits = tuple(Paragraph(credit) for credit in typical.credits)
        blocks += [Paragraph("Data of others that were used:"), Bullets(credits)]
    notes = (Paragraph(HOW), *(Paragraph(note) for note in typical.notes))
    blocks.append(Bullets(notes, kind="notes"))
    return blocks


def forests(typical: Typical) -> list[ClassPool]:
    """One pool of each class, at its middle temperature: the plan fixed that, not the outcome."""
    made = []
    for hot_end, polymer in classes_of(typical):
        pooled = (p for p in typical.pools if p.pooled is not None)
        own = [p for p in pooled if (p.hot_end, p.polymer) == (hot_end, polymer)]
        made += own[len(own) // 2 : len(own) // 2 + 1]
    return made


def _blocks(data: ReportData) -> Sequence[Block] | None:
    typical = data.section_data.get("typical")
    return typical_blocks(typical) if isinstance(typical, Typical) else None


def _pools(pools: Sequence[ClassPool]) -> Block:
    columns = (
        Column("temperature"),
        Column("trials", numeric=True),
        Column("ceiling, mm³/s", numeric=True),
        Column("a further trial, mm³/s", numeric=True),
        Column("differ by", numeric=True),
    )
    grouped: dict[str, list[Row]] = {}
    for pool in pools:
        row = Row(temperature(pool.temperature_c), _pool_cells(pool))
        grouped.setdefault(f"{pool.hot_end}, {pool.polymer}", []).append(row)
    groups = tuple((name, tuple(rows)) for name, rows in grouped.items())
    return Table("Other trials of the class, pooled", columns, groups)


def _pool_cells(pool: ClassPool) -> tuple[str | Cell, ...]:
    aside = f" (+{pool.one_sided} as bounds)" if pool.one_sided else ""
    first = f"{len(pool.trials)}{aside}"
    if pool.pooled is None:
        return (first, "cannot tell", "cannot tell", "cannot tell")
    p = pool.pooled
    return (
        first,
        Cell(fixed(p.flow_mm3_s), interval(p.low, p.high)),
        interval(p.prediction_low, p.prediction_high),
        percent(p.between),
    )


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
                    number(row.nozzle_mm),
                    row.polymer,
                    number(row.temperature_c),
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
        return fixed(row.low_mm3_s)
    return f"{number(row.low_mm3_s)} to {number(row.high_mm3_s)}"


SECTION = Section("typical", "What is typical", blocks=_blocks)
