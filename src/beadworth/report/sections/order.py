"""The sections of a report, in reading order: the one list that page, PDF and figures follow.

A feature adds its own by putting its :class:`~beadworth.report.sections.section.Section` where
it belongs in :data:`SECTIONS`.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from beadworth.report.blocks import Bullets, Paragraph
from beadworth.report.data import ReportData
from beadworth.report.sections import (
    bringup,
    cause,
    findings,
    fit,
    journal,
    live,
    method,
    predicted,
    replays,
    typical,
    wear,
    witness,
    worth,
)
from beadworth.report.sections.section import FilledSection, Section

SECTIONS: tuple[Section, ...] = (
    findings.COMPARISON,
    findings.CEILINGS,
    findings.CURVES,
    typical.SECTION,
    predicted.SECTION,
    live.SECTION,
    findings.SPEEDS,
    replays.SECTION,
    worth.SECTION,
    findings.CAUTIONS,
    method.RIGS,
    fit.SECTION,
    bringup.SECTION,
    witness.SECTION,
    cause.SECTION,
    wear.SECTION,
    journal.SECTION,
    method.METHOD,
    method.BUDGET,
    method.READINGS,
    method.ORDER,
    method.AMENDMENTS,
    method.INTERVALS,
    method.PROVENANCE,
)


def filled_sections(
    data: ReportData, sections: Sequence[Section] = SECTIONS
) -> Iterator[FilledSection]:
    """The sections that have something to say, one by one, and last the references of those."""
    cited: dict[str, None] = {}
    for section in sections:
        blocks = section.blocks(data)
        if blocks:
            cited |= dict.fromkeys(section.references)
            yield FilledSection(section, blocks)
    if cited:
        sources = Bullets(tuple(Paragraph(source) for source in cited))
        yield FilledSection(Section("references", "References", lambda _: None), (sources,))


def filled_section(data: ReportData, key: str) -> FilledSection | None:
    """One section by its key; None where it has nothing to say.

    Raises
    ------
    KeyError
        No section of this key.
    """
    section = next((one for one in SECTIONS if one.key == key), None)
    if section is None:
        raise KeyError(key)
    return next(filled_sections(data, (section,)), None)
