"""A section of a dossier: a key, a title, and its blocks.

A feature adds its own in a file ``section_<key>.py`` that exports one ``SECTION``, and its
line in :data:`beadworth.report.sections.order.SECTIONS` says where it stands. Its data comes in
:attr:`~beadworth.report.data.DossierData.extras` under its key.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from beadworth.report.blocks import Block, Bullets, Paragraph
from beadworth.report.data import DossierData


@dataclass(frozen=True)
class Section:
    """One section; page and PDF both lay its blocks out."""

    key: str
    """Anchor in the page, and where its data stands in ``extras``."""
    title: str
    blocks: Callable[[DossierData], Sequence[Block] | None]
    """The blocks in order; None or none of them leaves the section out."""
    references: tuple[str, ...] = ()
    """Published sources what is said here rests on; listed at the end where it is shown."""


@dataclass(frozen=True)
class Told:
    """A section with what it has to say of one trial."""

    section: Section
    blocks: Sequence[Block]


def told(data: DossierData, sections: Sequence[Section]) -> list[Told]:
    """The sections that have something to say, in order, and the references of those."""
    made = []
    for section in sections:
        blocks = section.blocks(data)
        if blocks:
            made.append(Told(section, blocks))
    cited = dict.fromkeys(source for one in made for source in one.section.references)
    if cited:
        listed = (Bullets(tuple(Paragraph(source) for source in cited)),)
        made.append(Told(Section("references", "References", lambda data: None), listed))
    return made
