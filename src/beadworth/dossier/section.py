"""A section of a dossier: a key, a title, and its blocks.

A feature adds its own in a file ``section_<key>.py`` that exports one ``SECTION``, and its
line in :data:`beadworth.dossier.sections.SECTIONS` says where it stands. Its data comes in
:attr:`~beadworth.dossier.data.DossierData.extras` under its key.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

from beadworth.dossier.blocks import Block
from beadworth.dossier.data import DossierData

Context = dict[str, Any]


@dataclass(frozen=True)
class Section:
    """One section; it gives ``blocks``, which page and PDF both lay out.

    ``template`` and ``context`` are the older way, for the page alone.
    """

    key: str
    """Anchor in the page, and where its data stands in ``extras``."""
    title: str
    template: str = ""
    context: Callable[[DossierData], Context | None] | None = None
    blocks: Callable[[DossierData], Sequence[Block] | None] | None = None
    """The blocks in order; None or none of them leaves the section out."""
