"""What a section is made of: paragraphs, tables, figures, lists, as plain data.

A section says *what* stands in it, once; the page, the typeset PDF and whatever else is
published lay the same blocks out each in its own way. All text is plain: no markup of any
kind is read in it, so that words somebody typed can never become structure.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from beadworth.report.charts.chart import Chart


@dataclass(frozen=True)
class Cell:
    """A figure and, smaller beside it, its interval or what else goes with it."""

    value: str
    beside: str = ""


@dataclass(frozen=True)
class Paragraph:
    """A paragraph; ``lead`` is set in bold before it, ``note`` smaller and softer."""

    text: str
    lead: str = ""
    kind: Literal["plain", "note"] = "plain"


@dataclass(frozen=True)
class Heading:
    """A heading inside a section."""

    text: str


@dataclass(frozen=True)
class Bullets:
    """A list of paragraphs; ``caution`` in a frame of its own, ``notes`` softer."""

    items: tuple[Paragraph, ...]
    kind: Literal["plain", "caution", "notes"] = "plain"


@dataclass(frozen=True)
class Pairs:
    """Terms and what is said of each; ``run`` for long runs of figures."""

    items: tuple[tuple[str, str], ...]
    kind: Literal["plain", "run"] = "plain"


@dataclass(frozen=True)
class Column:
    """The head of a column: units stand in it, so that cells are bare figures."""

    title: str
    numeric: bool = False
    hidden: bool = False
    """True where only a reader who cannot see the table needs the title."""


@dataclass(frozen=True)
class Row:
    """A row: its first cell heads it, one cell for each further column follows."""

    head: str
    cells: tuple[str | Cell, ...]
    state: Literal["", "voided", "superseded"] = ""
    """A reading that no longer counts is struck through."""


@dataclass(frozen=True)
class Table:
    """A table with a caption; rows stand in groups, each under its title or under none."""

    caption: str
    columns: tuple[Column, ...]
    groups: tuple[tuple[str, tuple[Row, ...]], ...]
    foot: tuple[Row, ...] = ()
    label: str = ""
    """Names the scrolling region on a narrow screen; empty: the caption does."""
    kind: Literal["plain", "readings", "large"] = "plain"


@dataclass(frozen=True)
class Figure:
    """A chart, drawn when and as wide as the medium asks."""

    chart: Chart


@dataclass(frozen=True)
class Photo:
    """A photograph the user chose to show, already free of its metadata."""

    data: bytes
    media_type: Literal["image/png", "image/jpeg"]
    caption: str
    alt: str


Block = Paragraph | Heading | Bullets | Pairs | Table | Figure | Photo


def table(
    caption: str,
    columns: tuple[Column | str, ...],
    rows: tuple[Row, ...] | list[Row],
    *,
    label: str = "",
) -> Table:
    """A table of one group; a column named by a bare string holds figures."""
    heads = tuple(Column(c, numeric=True) if isinstance(c, str) else c for c in columns)
    return Table(caption, heads, (("", tuple(rows)),), label=label)
