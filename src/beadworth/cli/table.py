"""Tables on a terminal: words, dates and numbers stay whole, whatever the width."""

from __future__ import annotations

import shutil
import textwrap
import unicodedata
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from operator import attrgetter
from typing import Any

from beadworth.text import fixed, number

SHORT = 16
"""Cells up to this long are kept in one line where that fits, in characters."""
GAP = "  "


@dataclass(frozen=True)
class Table:
    """A title, the names of the columns, and rows of cells."""

    title: str
    columns: Sequence[str]
    rows: Iterable[Sequence[object]]

    @classmethod
    def of(
        cls, title: str, items: Iterable[Any], cells: Mapping[str, str | Callable[[Any], object]]
    ) -> Table:
        """A row for each item; each column takes an attribute (``flow.mean_mm3_s``) or a function.

        Parameters
        ----------
        title : str
            Title of the table.
        items : iterable
            One a row.
        cells : mapping
            By the column's name.
        """
        get = [attrgetter(cell) if isinstance(cell, str) else cell for cell in cells.values()]
        return cls(title, tuple(cells), [tuple(cell(item) for cell in get) for item in items])


class Tenths(float):
    """A number that its draws support to one decimal; more would change with their seed."""


def tenths(path: str) -> Callable[[Any], Tenths | None]:
    """A cell of :class:`Tenths` from an attribute, for :meth:`Table.of`."""
    get = attrgetter(path)

    def cell(item: Any) -> Tenths | None:
        value = get(item)
        return None if value is None else Tenths(value)

    return cell


def cell_text(value: object) -> str:
    """A cell as text: four significant digits for floats, an en dash for what is unknown."""
    if isinstance(value, Tenths):
        return fixed(value, 1)
    return number(value) if value is None or isinstance(value, float) else str(value)


def table_text(table: Table, width: int | None = None) -> str:
    """A table as lines, numbers to the right.

    Long texts wrap between words. A table whose words do not fit beside each other is written
    one row below the other, each cell behind its column's name.

    Parameters
    ----------
    table : Table
        The table.
    width : int, optional
        Characters in a line; left out: the terminal's (``COLUMNS``).
    """
    width = width or shutil.get_terminal_size().columns
    cells = [list(row) for row in table.rows]
    texts = [[cell_text(cell) for cell in row] for row in cells]
    title = table.title
    if not texts:
        return f"\n{title}\n  none\n"
    widths = _widths([list(table.columns), *texts], width)
    if widths is None:
        return f"\n{title}\n{_stacked(table.columns, texts, width)}\n"
    numeric = [
        all(row[i] is None or isinstance(row[i], (int, float)) for row in cells)
        for i in range(len(table.columns))
    ]
    head = _row(table.columns, widths, numeric)
    rule = "─" * (sum(widths) + len(GAP) * (len(widths) - 1))
    body = [line for row in texts for line in _row(row, widths, numeric)]
    return "\n".join(["", title, *head, rule, *body, ""])


def _width(text: str) -> int:
    """Columns a text takes on a terminal: two for a wide letter, none for a mark on one."""
    return sum(
        0 if unicodedata.combining(c) else 2 if unicodedata.east_asian_width(c) in "WF" else 1
        for c in text
    )


def _widths(rows: list[list[str]], width: int) -> list[int] | None:
    """Columns as wide as they may be; None where the words do not fit."""
    room = width - len(GAP) * (len(rows[0]) - 1)
    columns = list(zip(*rows, strict=True))
    wanted = [max(map(_width, column)) for column in columns]
    words = [
        max(_width(word) for text in column for word in text.split() or [""]) for column in columns
    ]
    short = [
        max([word, *(w for text in column[1:] if (w := _width(text)) <= SHORT)])
        for column, word in zip(columns, words, strict=True)
    ]
    for least in (short, words):
        spare = room - sum(least)
        if spare >= 0:
            return _shared(least, wanted, spare)
    return None


def _shared(least: list[int], wanted: list[int], spare: int) -> list[int]:
    """Spare room, given to the columns in proportion to what each still wants."""
    wants = [want - have for want, have in zip(wanted, least, strict=True)]
    total = sum(wants)
    if total <= spare:
        return wanted
    return [have + spare * want // total for have, want in zip(least, wants, strict=True)]


def _row(cells: Sequence[str], widths: list[int], numeric: list[bool]) -> list[str]:
    wrapped = [_wrap(cell, width) for cell, width in zip(cells, widths, strict=True)]
    lines = []
    for i in range(max(map(len, wrapped))):
        parts = []
        for part, width, right in zip(wrapped, widths, numeric, strict=True):
            text = part[i] if i < len(part) else ""
            pad = " " * (width - _width(text))
            parts.append(pad + text if right else text + pad)
        lines.append(GAP.join(parts).rstrip())
    return lines


def _wrap(text: str, width: int) -> list[str]:
    """A text in lines of at most ``width``, broken between words only."""
    lines = [""]
    for word in text.split():
        longer = f"{lines[-1]} {word}" if lines[-1] else word
        if _width(longer) <= width or not lines[-1]:
            lines[-1] = longer
        else:
            lines.append(word)
    return lines


def _stacked(columns: Sequence[str], rows: list[list[str]], width: int) -> str:
    """Rows one below the other: every cell in a line of its own behind its column's name."""
    label = max(map(_width, columns))
    blocks = []
    for row in rows:
        lines: list[str] = []
        for name, cell in zip(columns, row, strict=True):
            head = name + " " * (label - _width(name)) + GAP
            lines += textwrap.wrap(
                cell, max(width, label + 20), initial_indent=head,
                subsequent_indent=" " * _width(head), break_long_words=False,
                break_on_hyphens=False,
            ) or [head.rstrip()]  # fmt: skip
        blocks.append("\n".join(lines))
    return "\n\n".join(blocks)
