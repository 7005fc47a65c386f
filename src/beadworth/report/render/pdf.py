"""The dossier typeset: A4 pages with numbered tables and figures, fonts inside, from the blocks.

The words go to the typesetter as data, never as its markup: a name that looks like a command
is printed as it was typed. The same dossier gives the same bytes on any machine: the fonts
come with this package and the typesetter, and the only date is the dossier's own.
"""

from __future__ import annotations

import json
import re
from collections.abc import Sequence
from datetime import UTC, datetime, time
from importlib.resources import as_file, files
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING, Any

from beadworth.report.blocks import (
    Block,
    Bullets,
    Cell,
    Figure,
    Heading,
    Pairs,
    Paragraph,
    Photo,
    Row,
    Table,
)
from beadworth.report.charts.chart import Chart, render_svg
from beadworth.report.sections.order import SECTIONS, filled_sections
from beadworth.report.sections.section import Section
from beadworth.report.summary import (
    answer_of,
    disclosure_of,
    facts_of,
    headlines,
    simulated_parts,
    who_for,
)
from beadworth.report.theme import COLOURS
from beadworth.text import xml_text

if TYPE_CHECKING:
    from beadworth.report.data import ReportData

FIGURE_PX = 640.0
"""Width charts are drawn at: 12 px of type come to 9 pt on the page."""
_VIEW = re.compile(r'viewBox="\S+ \S+ (\S+) (\S+)"')
# Beyond Latin, Greek, Cyrillic, general punctuation and common signs the fonts that come along
# have no letters; a dossier with others borrows the system's, and is then not the same elsewhere.
_BEYOND = re.compile("[^\u0000-\u052f\u1e00-\u22ff\ufb00-\ufb06\ufffd]")
# A word too long for any column may break anywhere.
_LONG = re.compile(r"\S{25,}")
LONG_CELL = 40
ZERO_WIDTH_SPACE = "\u200b"


def dossier_pdf(data: ReportData, sections: Sequence[Section] = SECTIONS) -> bytes:
    """The dossier as PDF.

    Parameters
    ----------
    data : ReportData
    sections : sequence of Section
        What to include, in order; sections with nothing to say leave themselves out.

    Returns
    -------
    bytes
        Tagged PDF (PDF/UA-1 where the fonts have every letter), A4.
    """
    import typst

    with TemporaryDirectory(prefix="beadworth-pdf-") as folder:
        root = Path(folder)
        words = _document(data, sections, root)
        text = json.dumps(xml_text(words), ensure_ascii=False)
        (root / "dossier.json").write_text(text, encoding="utf-8")
        home = files("beadworth.report")
        main = root / "dossier.typ"
        main.write_bytes(home.joinpath("templates", "dossier.typ").read_bytes())
        with as_file(home.joinpath("fonts")) as fonts:
            typesetter = typst.Compiler(
                str(main),
                root=str(root),
                font_paths=[str(fonts)],
                ignore_system_fonts=_BEYOND.search(text) is None,
            )
            at = datetime.combine(data.generated_at, time(), UTC)
            try:
                made = typesetter.compile(timestamp=at, pdf_standards=["ua-1"])
            except typst.TypstError:
                # a letter no font here has: it shows as a box, which PDF/UA does not allow
                made = typesetter.compile(timestamp=at)
    if not isinstance(made, bytes):
        raise TypeError("the typesetter gave no PDF")
    return made


def _document(data: ReportData, sections: Sequence[Section], root: Path) -> dict[str, Any]:
    """All that stands in the PDF as plain data; pictures are written beside it.

    The first chart stands on the first page, below the answer, and not in its section again.
    """
    filled = list(filled_sections(data, sections))
    lead = next((b for one in filled for b in one.blocks if isinstance(b, Figure)), None)
    return {
        "lead": _figure(lead.chart, root / "lead.svg") if lead else None,
        "title": _breakable(data.question),
        "kind": "Dossier of an upgrade" if data.candidate else "Dossier of a melt-flow trial",
        "date": [data.generated_at.year, data.generated_at.month, data.generated_at.day],
        "answer": _breakable(answer_of(data)),
        "headlines": [
            {"label": _breakable(h.label), "value": h.value, "unit": h.unit, "beside": h.beside}
            for h in headlines(data)
        ],
        "who": [_breakable(line) for line in who_for(data)],
        "facts": [_breakable(fact) for fact in facts_of(data)],
        "disclosure": _breakable(disclosure_of(data)),
        "simulated": simulated_parts(data),
        "version": data.versions.get("beadworth", ""),
        "colours": COLOURS["print"],
        "sections": [
            {
                "key": one.section.key,
                "title": one.section.title,
                "blocks": [
                    _block(block, f"{one.section.key}-{n}", root)
                    for n, block in enumerate(one.blocks)
                    if block is not lead
                ],
            }
            for one in filled
        ],
    }


def _block(block: Block, name: str, root: Path) -> dict[str, Any]:
    """One block as plain data, its kind under ``type``."""
    made: dict[str, Any]
    match block:
        case Paragraph():
            made = {"type": "paragraph", **_paragraph(block)}
        case Heading(text):
            made = {"type": "heading", "text": _breakable(text)}
        case Bullets(items, kind):
            made = {"type": "bullets", "kind": kind, "items": list(map(_paragraph, items))}
        case Pairs(items, kind):
            pairs = [[_breakable(term), _breakable(said)] for term, said in items]
            made = {"type": "pairs", "kind": kind, "items": pairs}
        case Table():
            made = _table(block)
        case Figure(chart):
            made = _figure(chart, root / f"{name}.svg")
        case Photo(data, media_type, caption, alt):
            file = f"{name}.{media_type.partition('/')[2]}"
            (root / file).write_bytes(data)
            made = {"type": "photo", "file": file, "caption": _breakable(caption), "alt": alt}
    return made


def _figure(chart: Chart, file: Path) -> dict[str, Any]:
    svg = render_svg(chart, "print", width_px=FIGURE_PX, title=False)
    file.write_text(svg, encoding="utf-8")
    view = _VIEW.search(svg)
    wide, high = (float(view[1]), float(view[2])) if view else (FIGURE_PX, FIGURE_PX)
    return {
        "type": "figure",
        "file": file.name,
        "width_px": wide,
        "height_px": high,
        "title": _breakable(chart.title),
        "caption": _breakable(chart.caption),
        "alt": chart.alt,
    }


def _paragraph(item: Paragraph) -> dict[str, str]:
    return {"lead": _breakable(item.lead), "text": _breakable(item.text), "kind": item.kind}


def _table(block: Table) -> dict[str, Any]:
    return {
        "type": "table",
        "kind": block.kind,
        "wide": _wide(block),
        "caption": _breakable(block.caption),
        "columns": [
            {"title": _breakable(c.title), "numeric": c.numeric, "hidden": c.hidden}
            for c in block.columns
        ],
        "groups": [[_breakable(title), list(map(_row, rows))] for title, rows in block.groups],
        "foot": list(map(_row, block.foot)),
    }


def _wide(block: Table) -> list[int]:
    """The columns of long words, which share what room the others leave."""
    longest = [0] * len(block.columns)
    for _, members in block.groups:
        for row in members:
            for n, cell in enumerate((row.head, *row.cells)):
                longest[n] = max(longest[n], len(cell.value if isinstance(cell, Cell) else cell))
    found = [n for n, most in enumerate(longest) if most > LONG_CELL]
    return found or ([len(longest) - 1] if block.kind == "readings" else [])


def _row(row: Row) -> dict[str, Any]:
    cells = [c if isinstance(c, Cell) else Cell(c) for c in row.cells]
    return {
        "head": _breakable(row.head),
        "cells": [[_breakable(c.value), _breakable(c.beside)] for c in cells],
        "struck": bool(row.state),
    }


def _breakable(text: str) -> str:
    """The text with places to break inside words that no line may be able to hold."""

    def broken(found: re.Match[str]) -> str:
        word = found[0]
        return ZERO_WIDTH_SPACE.join(word[i : i + 8] for i in range(0, len(word), 8))

    return _LONG.sub(broken, text)
