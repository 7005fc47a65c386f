"""The text of a print with other F words: what is put in, and every other byte as it was."""

from __future__ import annotations

import gzip
import io
import math
import re
import shutil
from collections.abc import Generator, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO, Final

import numpy as np
from numpy.typing import NDArray

from beadworth.gcode import BOM, GZ_MAGIC, Chunk, read
from beadworth.gcode import columns as gcode_columns
from beadworth.rig import Rig

Array = NDArray[np.float64]
TOLERANCE: Final = 1e-9
HEADER: Final = "; retimed by beadworth"
"""How the header of a copy begins."""
MERGE: Final = 0.005
"""Feeds in a row that differ by less than this part are made one, the lowest."""
MERGE_COST: Final = 0.008
"""Of the time that slowing a row of moves adds: what making their feeds one may add to it."""
PER_MM_S: Final = 60.0
"""The number behind F for 1 mm/s: per minute."""
_STEP: Final = 1 << 20
_FRONT: Final = 1 << 12
_LINE_END: Final = re.compile(rb"\r?\n|\r")
_LEAD: Final = re.compile(rb"(?:" + BOM + rb")?(?:[ \t]*%[^\r\n]*(?:\r?\n|\r))?")
_LINE: Final = re.compile(rb"[^\r\n]*(?:\r?\n|\r)")
_END: Final = re.compile(rb"[\r\n]")
_CHECKSUM: Final = re.compile(rb"""((?:[^*;("]|\([^)]*\)?|"[^"]*"?)*)\*[ \t]*\d+""")


@dataclass(frozen=True)
class Slower:
    """Factor on F for the moves that must be slower, by number of the move."""

    changed: NDArray[np.int64]
    factor: Array


class Rewriter:
    """Walks the text and the moves together; hands out the text with F words put in.

    Parameters
    ----------
    header : bytes
        Comment lines, each ending in LF; written with the file's own line ends, behind a leading
        ``%``, in place of the header of an earlier pass.
    """

    def __init__(self, source: Path | bytes, rig: Rig, header: bytes) -> None:
        self.source, self.rig, self.header = source, rig, header
        self.changed = 0
        self.added = 0
        self._slow_before = False
        self._in_force = b""
        """The last word put in, where nothing has set another feed since."""

    def pieces(self, wanted: Slower) -> Iterator[bytes]:
        """The text of the copy, piece by piece."""
        number = place = 0
        with _open(self.source) as stream:
            text = _Text(stream)
            yield text.head(self.header)
            for chunk in read(self.source, rig=self.rig):
                factor = np.ones(len(chunk))
                end = int(np.searchsorted(wanted.changed, number + len(chunk)))
                factor[wanted.changed[place:end] - number] = wanted.factor[place:end]
                place, number = end, number + len(chunk)
                yield from self._chunk(chunk, factor, text)
            yield from text.until(None)

    def _chunk(self, chunk: Chunk, factor: Array, text: _Text) -> Iterator[bytes]:
        # a retraction with the rig's own speed takes no F: the move behind it is looked at instead
        takes_f = np.flatnonzero((chunk.flags & gcode_columns.FIRMWARE) == 0)
        slow = factor[takes_f] < 1.0
        own = chunk.feed_mm_s[takes_f]
        wanted = merged(own * factor[takes_f], slow, own, chunk.length_mm[takes_f])
        # the move after a slow one gets its own feed back
        after = np.concatenate([[self._slow_before], slow[:-1]]) if len(slow) else slow
        self._slow_before = bool(slow[-1]) if len(slow) else self._slow_before
        for k in np.flatnonzero(slow | after).tolist():
            m = int(takes_f[k])
            length = int(chunk.f_len[m])
            if not slow[k] and length:
                self._in_force = b""
                continue  # it says its own feed already
            start = int(chunk.offset[m])
            for piece in text.until(start):
                if b"F" in piece or b"f" in piece:
                    self._in_force = b""  # perhaps a feed on a line of its own
                yield piece
            line = text.line()
            at = int(chunk.f_at[m]) - start
            unit = PER_MM_S / (25.4 if chunk.flags[m] & gcode_columns.INCH else 1.0)
            word = f_word(float(wanted[k]) * unit) if slow[k] else b""
            word = word or same_word(float(chunk.feed_mm_s[m]) * unit)
            if not length and word == self._in_force:
                yield line
                continue
            new = line[at : at + 1] + word if length else b" F" + word
            line = line[:at] + new + line[at + length :]
            self._in_force = word
            self.changed += bool(length)
            self.added += not length
            yield with_checksum(line) if chunk.flags[m] & gcode_columns.CHECKSUM else line


def merged(feed: Array, slow: NDArray[np.bool_], own: Array, length: Array) -> Array:
    """Feeds of moves in a row within ``MERGE`` of each other made the lowest of them.

    A row ends, too, where one feed for all would add more than ``MERGE_COST`` of the time that
    slowing them from their ``own`` feeds adds.
    """
    found = feed.copy()
    index = np.flatnonzero(slow)
    start = 0
    low = high = path = time = before = 0.0
    values, owns, lengths = (column[index].tolist() for column in (feed, own, length))
    joins = (np.diff(index, prepend=-1) == 1).tolist()
    for k, (value, first, mm) in enumerate(zip(values, owns, lengths, strict=True)):
        if k > start and joins[k]:
            least, most = min(low, value), max(high, value)
            all_mm, all_s, all_before = path + mm, time + mm / value, before + mm / first
            cheap = all_mm / least - all_s <= MERGE_COST * (all_s - all_before)
            if least >= (1.0 - MERGE) * most and cheap:
                low, high, path, time, before = least, most, all_mm, all_s, all_before
                continue
        if k > start:
            found[index[start:k]] = low
        start = k
        low = high = value
        path, time, before = mm, mm / value, mm / first
    if len(values) > start:
        found[index[start:]] = low
    return found


@contextmanager
def packing(out: BinaryIO, *, packed: bool) -> Generator[BinaryIO]:
    """Where to write plain text that goes to ``out``, packed or not; the same bytes each time."""
    if not packed:
        yield out
        return
    with gzip.GzipFile(filename="", mode="wb", fileobj=out, mtime=0) as target:
        yield target  # pyrefly: ignore[invalid-yield]


def copy_as_it_is(source: Path | bytes, out: BinaryIO, *, packed: bool) -> None:
    """The source byte for byte; packed or unpacked where that is asked for."""
    with io.BytesIO(source) if isinstance(source, bytes) else source.open("rb") as file:
        same = (file.read(2) == GZ_MAGIC) == packed
        file.seek(0)
        if same:
            shutil.copyfileobj(file, out)
            return
    with _open(source) as stream, packing(out, packed=packed) as target:
        shutil.copyfileobj(stream, target)


class _Text:
    """The unpacked text in order, a line or a piece at a time; lines end in CR, LF or both."""

    def __init__(self, stream: BinaryIO) -> None:
        self._stream = stream
        self._have = b""
        self._next = 0  # in what we have
        self._base = 0  # place of what we have in the text

    def _more(self) -> bool:
        """Read on; False at the end of the text."""
        read = self._stream.read(_STEP)
        self._base += self._next
        self._have, self._next = self._have[self._next :] + read, 0
        return bool(read)

    def head(self, header: bytes) -> bytes:
        """The very front with a header: the byte order mark and a line of ``%`` stay before it.

        The header of an earlier pass is left out; the file's own line ends are used.
        """
        while len(self._have) < _FRONT and self._more():
            pass
        found = _END.search(self._have)
        end = b"\n" if found is None else _LINE_END.match(self._have, found.start())[0]  # pyrefly: ignore[unsupported-operation]
        front = _LEAD.match(self._have)[0]  # pyrefly: ignore[unsupported-operation]
        self._next = len(front)
        while self._have.startswith(HEADER.encode(), self._next):
            for _ in range(header.count(b"\n")):
                line = _LINE.match(self._have, self._next)
                self._next = line.end() if line else len(self._have)
        return front + header.replace(b"\n", end)

    def until(self, place: int | None) -> Iterator[bytes]:
        """The text up to a place, or to its end."""
        while True:
            end = len(self._have) if place is None else place - self._base
            if self._next < len(self._have):
                yield self._have[self._next : end]
                self._next = min(end, len(self._have))
            if (place is not None and end <= len(self._have)) or not self._more():
                return

    def line(self) -> bytes:
        """The line here, without its end."""
        while (found := _END.search(self._have, self._next)) is None and self._more():
            pass
        end = len(self._have) if found is None else found.start()
        line = self._have[self._next : end]
        self._next = end
        return line


def _open(source: Path | bytes) -> BinaryIO:
    """The unpacked text as a stream."""
    file = io.BytesIO(source) if isinstance(source, bytes) else open(source, "rb")  # noqa: SIM115
    packed = file.read(2) == GZ_MAGIC
    file.seek(0)
    return gzip.GzipFile(fileobj=file) if packed else file  # pyrefly: ignore[bad-return]


def f_word(value: float) -> bytes:
    """A feed rounded down, so that the ceiling holds, with digits enough to cost no time."""
    digits = max(1, 4 - math.floor(math.log10(value)))
    scale = 10.0**digits
    return f"{math.floor(value * scale * (1 + TOLERANCE)) / scale:.{digits}f}".encode()


def same_word(value: float) -> bytes:
    """A feed as it was."""
    return np.format_float_positional(
        value, precision=12, unique=False, fractional=False, trim="-"
    ).encode()


def with_checksum(line: bytes) -> bytes:
    """The line with its ``*checksum`` made right: XOR of every byte before the star."""
    found = _CHECKSUM.match(line)
    if found is None:
        return line
    value = 0
    for byte in found[1].lstrip(b" \t"):
        value ^= byte
    return found[1] + b"*" + str(value).encode() + line[found.end() :]
