"""The sections of a dossier, in reading order.

Other features add theirs by putting their :class:`~beadworth.dossier.section.Section`
where it belongs in :data:`SECTIONS`.
"""

from __future__ import annotations

from beadworth.dossier import (
    section_bringup,
    section_fit,
    section_journal,
    section_replays,
    section_typical,
    section_wear,
    section_worth,
)
from beadworth.dossier import section_findings as findings
from beadworth.dossier import section_method as method
from beadworth.dossier.section import Section

SECTIONS: tuple[Section, ...] = (
    findings.COMPARISON,
    findings.CEILINGS,
    findings.CURVES,
    section_typical.SECTION,
    findings.SPEEDS,
    section_replays.SECTION,
    section_worth.SECTION,
    findings.CAUTIONS,
    method.RIGS,
    section_fit.SECTION,
    section_bringup.SECTION,
    section_wear.SECTION,
    section_journal.SECTION,
    method.METHOD,
    method.BUDGET,
    method.READINGS,
    method.ORDER,
    method.AMENDMENTS,
    method.INTERVALS,
    method.PROVENANCE,
)
