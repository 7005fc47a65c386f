"""Long lists a page at a time, newest first: what is on this page, and the ways to the others."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Generic, TypeVar
from urllib.parse import urlencode

from beadworth.text import whole_number

T = TypeVar("T")
AT_ONCE = 100
"""Rows on a page."""


@dataclass(frozen=True)
class Shown(Generic[T]):
    """The rows of one page of a list."""

    rows: Sequence[T]
    first: int
    """Place of its first row in the whole list, from 1."""
    whole: int
    """Rows of the whole list."""
    newer: str | None
    """Query of the page before; None on the first."""
    older: str | None


def shown(rows: Sequence[T], asked: str | None, name: str = "page") -> Shown[T]:
    """One page of a list.

    Parameters
    ----------
    rows : sequence
        The whole list.
    asked : str or None
        The number of a page from 1, as it stands in an address; what is no page is the first.
    name : str
        What the number is called in an address.
    """
    pages = max(1, -(-len(rows) // AT_ONCE))
    number = whole_number(asked or "")
    if number is None or not 1 <= number <= pages:
        number = 1
    first = (number - 1) * AT_ONCE
    return Shown(
        rows[first : first + AT_ONCE],
        first + 1,
        len(rows),
        f"?{urlencode({name: number - 1})}" if number > 1 else None,
        f"?{urlencode({name: number + 1})}" if number < pages else None,
    )
