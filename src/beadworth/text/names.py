"""What a name may not be: one that cannot be seen whole, or that a spreadsheet calculates."""

from __future__ import annotations

import unicodedata
from itertools import pairwise

_HIDDEN = {"Cc", "Cf", "Cs", "Co", "Zl", "Zp"}
"""Unicode categories: control, format (turns of direction, of no width), halves, own, breaks."""


def name_problem(name: str) -> str | None:
    """What is wrong with a new name, as a sentence without its full stop; None: nothing."""
    hidden = [letter for letter in name if unicodedata.category(letter) in _HIDDEN]
    if hidden:
        return f"the name holds a character that cannot be seen (U+{ord(hidden[0]):04X})"
    if name != name.strip():
        return "the name begins or ends with a blank"
    if any(one.isspace() and other.isspace() for one, other in pairwise(name)):
        return "the name holds two blanks in a row"
    if name[:1] in ("=", "+", "-", "@"):
        return f"the name begins with {name[0]}, which a spreadsheet takes for a formula"
    return None
