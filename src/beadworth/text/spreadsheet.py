"""Text cells of a table that a spreadsheet must not take for a formula."""

from __future__ import annotations

import re

_FORMULA = re.compile(r"'*[=+\-@\t\r]")
_DISARMED = re.compile(r"'+[=+\-@\t\r]")


def disarmed(text: str) -> str:
    """A text cell with an apostrophe before what a spreadsheet would calculate.

    :func:`rearmed` gives back exactly what was disarmed.
    """
    return f"'{text}" if _FORMULA.match(text) else text


def rearmed(text: str) -> str:
    """The text that :func:`disarmed` wrote."""
    return text[1:] if _DISARMED.match(text) else text
