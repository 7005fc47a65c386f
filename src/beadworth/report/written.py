"""The words of a dossier's sections as plain text, for whoever looks them through."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import fields, is_dataclass
from typing import Any

from beadworth.report.blocks import Figure
from beadworth.report.data import ReportData
from beadworth.report.sections.order import SECTIONS, filled_sections


def section_texts(data: ReportData, keys: Collection[str]) -> Iterator[tuple[str, str]]:
    """Every text of the sections of these keys, with the title of its section.

    Of a figure its title, caption and alternative text; what is drawn inside it is not gone
    through.
    """
    wanted = tuple(section for section in SECTIONS if section.key in keys)
    for filled in filled_sections(data, wanted):
        for block in filled.blocks:
            yield from ((filled.section.title, text) for text in _texts(block))


def _texts(part: Any) -> Iterator[str]:
    if isinstance(part, str):
        yield part
    elif isinstance(part, Figure):
        yield from (part.chart.title, part.chart.caption, part.chart.alt)
    elif isinstance(part, (tuple, list)):
        for one in part:
            yield from _texts(one)
    elif is_dataclass(part) and not isinstance(part, type):
        for item in fields(part):
            yield from _texts(getattr(part, item.name))
