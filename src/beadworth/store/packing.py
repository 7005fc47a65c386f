"""Long texts made small, as notes hold programs and maps."""

from __future__ import annotations

import zlib
from base64 import b64decode, b64encode


def packed(text: str) -> str:
    """A text made small."""
    return b64encode(zlib.compress(text.encode(), 9)).decode("ascii")


def unpacked(text: str) -> str:
    """The text that :func:`packed` was given."""
    return zlib.decompress(b64decode(text)).decode()
