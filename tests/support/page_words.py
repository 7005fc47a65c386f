"""The words of a page, as a reader has them."""

from __future__ import annotations

import html
import re

_UNREAD = re.compile(r"<(script|svg)\b.*?</\1>", re.DOTALL)
_TAG = re.compile(r"<[^>]+>")


def plain(text: str) -> str:
    """What stands on a page without scripts, drawings and markup, one blank between words."""
    words = html.unescape(_TAG.sub(" ", _UNREAD.sub(" ", text)))
    return re.sub(r"\s+", " ", words)
