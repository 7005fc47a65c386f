"""Which feature of a print a move belongs to, by the comments of its file.

How a feature is marked is a habit of the program that prepared the file, so the rig's record gives
the pattern (``feature_comment``) and nothing is built in. The text is gone through a second time
for it, comments alone.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np
from numpy.typing import NDArray

from beadworth.gcode import Chunk, OpenSource

MOST: Final = 60
"""Names told apart; the rest are one."""
UNMARKED, REST = "before the first mark", "others"
_PIECE: Final = 1 << 20
_COMMENT: Final = re.compile(rb"(?:;([^\r\n]*)|\(([^()\r\n]*)\))")


@dataclass(frozen=True)
class Features:
    """The marks of a file.

    Attributes
    ----------
    names : tuple of str
        Of the features, in the order in which they appear; the first stands for moves before any
        mark.
    offset : int64 array
        Byte at which the line of each mark starts.
    name : int32 array
        Index into ``names``.
    """

    names: tuple[str, ...]
    offset: NDArray[np.int64]
    name: NDArray[np.int32]

    def of_chunk(self, chunk: Chunk) -> NDArray[np.int32]:
        """Index of the name for every move; a mark counts from its own line on."""
        last = np.searchsorted(self.offset, chunk.offset, side="right")
        return np.concatenate([[0], self.name]).astype(np.int32)[last]


def read_features(source: str | Path | bytes, pattern: str) -> Features:
    """Find the marks of a file.

    Parameters
    ----------
    source : path or bytes
        Plain or gz. What cannot be unpacked is left out: the reader says what is wrong with it.
    pattern : str
        Regular expression that a whole comment matches, blanks at its ends left out; its first
        group, or all it matches where it has none, is the name.
    """
    wanted = re.compile(pattern.encode())
    indices: dict[str, int] = {UNMARKED: 0}
    offsets: list[int] = []
    found: list[int] = []
    for at, comment in _comments(source):
        match = wanted.fullmatch(comment)
        if match is None:
            continue
        name = (match[1] if wanted.groups else match[0]) or b""
        label = name.decode("utf-8", "replace").strip() or UNMARKED
        if label not in indices and len(indices) > MOST:
            label = REST
        offsets.append(at)
        found.append(indices.setdefault(label, len(indices)))
    return Features(tuple(indices), np.array(offsets, np.int64), np.array(found, np.int32))


def _comments(source: str | Path | bytes) -> Iterator[tuple[int, bytes]]:
    """Start of its line, and text, of every comment."""
    opened = OpenSource(source, None)
    room = bytearray(_PIECE)
    base, rest, got = 0, b"", 1
    try:
        while got:
            got = opened.stream.readinto(memoryview(room))
            text = rest + room[:got]
            end = max(text.rfind(b"\n"), text.rfind(b"\r")) + 1 if got else len(text)
            for match in _COMMENT.finditer(text, 0, end):
                at = match.start()
                line = max(text.rfind(b"\n", 0, at), text.rfind(b"\r", 0, at)) + 1
                yield base + line, (match[2] if match[1] is None else match[1]).strip()
            base, rest = base + end, text[end:]
    finally:
        opened.close()
