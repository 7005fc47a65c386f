"""The sections of a dossier, in reading order.

Other features add theirs by putting their :class:`~beadworth.report.sections.section.Section`
where it belongs in :data:`SECTIONS`.
"""

from __future__ import annotations

from beadworth.report.sections import (
    bringup as section_bringup,
)
from beadworth.report.sections import findings as findings
from beadworth.report.sections import (
    fit as section_fit,
)
from beadworth.report.sections import (
    journal as section_journal,
)
from beadworth.report.sections import method as method
from beadworth.report.sections import (
    replays as section_replays,
)
from beadworth.report.sections import (
    typical as section_typical,
)
from beadworth.report.sections import (
    wear as section_wear,
)
from beadworth.report.sections import (
    worth as section_worth,
)
from beadworth.report.sections.section import Section

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
