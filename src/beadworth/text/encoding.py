"""Text and data that XML or a machine's controller can hold."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

# What is not a character of XML 1.0 (section 2.2). The SVG renderer ends the whole process on
# one of these, so that none may reach it from a name somebody typed.
_NOT_XML = re.compile("[^\\t\\n\\r\\u0020-\\ud7ff\\ue000-\\ufffd\\U00010000-\\U0010ffff]")
_ASCII = str.maketrans(
    {"°": "", "³": "3", "²": "2", "·": ".", "µ": "u", "–": "-", "—": "-", "×": "x", "*": "x"}
    | {"’": "'", "‘": "'", "±": "+/-", "≤": "<=", "≥": ">=", "\u00a0": " "}
)


def xml_text(value: Any) -> Any:
    """The same text or plain data with every character XML cannot hold replaced by U+FFFD."""
    if isinstance(value, str):
        return _NOT_XML.sub("\ufffd", value)
    if isinstance(value, Mapping):
        return {xml_text(key): xml_text(item) for key, item in value.items()}
    if isinstance(value, (list, tuple)):
        return [xml_text(item) for item in value]
    return value


def ascii_line(text: str) -> str:
    """One line of printable ASCII, for controllers that know no other letters."""
    swapped = text.translate(_ASCII)
    return "".join(" " if c.isspace() else c if " " <= c <= "~" else "?" for c in swapped)
