"""Does the upgrade fit: the checks of the candidate against its parent, as far as known."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from beadworth.report.blocks import Block, Cell, Column, Paragraph, Row, table
from beadworth.report.charts.rig.fit import fit_sentence
from beadworth.report.data import ReportData
from beadworth.report.sections.section import Section
from beadworth.report.sentences import temperature
from beadworth.text import fixed, join_words, number

if TYPE_CHECKING:
    from beadworth.fit import Check

KEY = "fit"
NOTE = (
    "Each check is a number against its limit, calculated from the two records; what "
    "is not recorded waits for a measurement and does not count as fitting."
)


@dataclass(frozen=True)
class FitFound:
    """The checks of an upgrade, and the job they were made for."""

    rig: str
    checks: tuple[Check, ...]
    unchanged: frozenset[str]
    """Names of checks that say the same of the parent."""
    temperature_c: float
    flow_mm3_s: float


def _fit(data: ReportData) -> Sequence[Block] | None:
    found: FitFound | None = data.section_data.get(KEY)
    if found is None:
        return None
    known = [check for check in found.checks if check.verdict != "measure this"]
    waiting = [check.name for check in found.checks if check.verdict == "measure this"]
    said = fit_sentence(found.checks, found.rig, sorted(found.unchanged))
    blocks: list[Block] = [
        Paragraph(said),
        table(
            f"Checks at {temperature(found.temperature_c)} and {number(found.flow_mm3_s)} mm³/s.",
            (Column("check"), Column("verdict"), "value", "limit", "room left", Column("why")),
            [_row(check, found) for check in known],
            label="Fit checks",
        ),
    ]
    if waiting:
        blocks.append(Paragraph(f"Not known yet: {join_words(waiting)}.", kind="note"))
    cautions = dict.fromkeys(check.caution for check in known if check.caution)
    blocks += [Paragraph(caution) for caution in cautions]
    return [*blocks, Paragraph(NOTE, kind="note")]


def _row(check: Check, found: FitFound) -> Row:
    def sized(value: float | None) -> str:
        if value is None:
            return ""
        return f"{fixed(value, 0) if abs(value) >= 1000 else number(value)} {check.unit}"

    room = sized(check.margin)
    beside = "" if not check.u or not room else f"u {number(float(f'{check.u:.2g}'))}"
    verdict = check.verdict + (", as before" if check.name in found.unchanged else "")
    cells = (verdict, sized(check.value), sized(check.limit), Cell(room, beside), check.why)
    return Row(check.name, cells)


SECTION = Section(KEY, "Does it fit", _fit)
