"""A section of a report: a key, a title, and its blocks.

A feature adds its own in a file of :mod:`beadworth.report.sections` that exports one
``SECTION``, and its line in :data:`beadworth.report.sections.order.SECTIONS` says where it
stands. What it needs beyond the trial comes in
:attr:`~beadworth.report.data.ReportData.section_data` under its key, looked up when the section
is asked for.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from beadworth.report.blocks import Block
from beadworth.report.data import ReportData

JCGM_101 = (
    "JCGM 101:2008. Evaluation of measurement data: Supplement 1 to the 'Guide to the expression "
    "of uncertainty in measurement', propagation of distributions using a Monte Carlo method. "
    "Joint Committee for Guides in Metrology."
)
"""As more than one section cites it: listed once, it has to be written once."""


@dataclass(frozen=True)
class Section:
    """One section; page and PDF both lay its blocks out."""

    key: str
    """Anchor in the page, and where its data stands in ``section_data``."""
    title: str
    blocks: Callable[[ReportData], Sequence[Block] | None]
    """The blocks in order; None or none of them leaves the section out."""
    references: tuple[str, ...] = ()
    """Published sources what is said here rests on; listed at the end where it is shown."""


@dataclass(frozen=True)
class FilledSection:
    """A section with what it has to say of one trial."""

    section: Section
    blocks: Sequence[Block]
