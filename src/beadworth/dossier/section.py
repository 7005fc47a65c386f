"""A section of a dossier: a key, a title, and its blocks.

A feature adds its own in a file ``section_<key>.py`` that exports one ``SECTION``, and its
line in :data:`beadworth.dossier.sections.SECTIONS` says where it stands. Its data comes in
:attr:`~beadworth.dossier.data.DossierData.extras` under its key.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from beadworth.dossier.blocks import Block
from beadworth.dossier.data import DossierData


@dataclass(frozen=True)
class Section:
    """One section; page and PDF both lay its blocks out."""

    key: str
    """Anchor in the page, and where its data stands in ``extras``."""
    title: str
    blocks: Callable[[DossierData], Sequence[Block] | None]
    """The blocks in order; None or none of them leaves the section out."""
