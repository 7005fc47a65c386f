"""Where the text comes from: a file, a gz file or bytes, as a stream of bounded pieces.

The text is read into a buffer rather than mapped: a map would end the whole process
when another program cuts the file short, counts against the memory in use, and cannot
be padded; reading costs about a twentieth of the scan (see docs/reference/gcode.md).
"""

from __future__ import annotations

import os
import zlib
from collections.abc import Callable
from pathlib import Path
from typing import BinaryIO, Final, Protocol

from beadworth.core import GcodeError
from beadworth.gcode.problems import GcodeProblem, make_problem

Source = str | os.PathLike[str] | bytes | bytearray | memoryview

GZ_MAGIC: Final = b"\x1f\x8b"
BOM: Final = b"\xef\xbb\xbf"
BOMB_BYTES: Final = 64 << 20  # an unpacked text below this is never called a bomb
BOMB_RATIO: Final = 200  # print files pack to between a third and a twentieth
_STEP: Final = 1 << 16


class Stream(Protocol):
    """Bytes in order; ``problem`` tells what was wrong with them, once they ended.

    ``cut`` says that they ended in the middle of the text.
    """

    problem: GcodeProblem | None
    cut: bool

    def readinto(self, room: memoryview) -> int:
        """Fill room from the front; 0 at the end."""


class _Plain:
    def __init__(self, read: Callable[[memoryview], int | None]) -> None:
        self._read = read
        self.problem: GcodeProblem | None = None
        self.cut = False

    def readinto(self, room: memoryview) -> int:
        return self._read(room) or 0


class _Memory:
    def __init__(self, data: memoryview) -> None:
        self._data = data
        self._at = 0

    def __call__(self, room: memoryview) -> int:
        piece = self._data[self._at : self._at + len(room)]
        room[: len(piece)] = piece
        self._at += len(piece)
        return len(piece)


class _Unpacked:
    """gz members one after the other, unpacked piece by piece."""

    def __init__(self, read: Callable[[memoryview], int | None], name: str) -> None:
        self._read = read
        self._name = name
        self._inflate = zlib.decompressobj(31)
        self._packed = b""
        self._room = memoryview(bytearray(_STEP))
        self._in = 0
        self._out = 0
        self._fresh = True  # nothing of the present member was read yet
        self._done = False
        self.problem: GcodeProblem | None = None
        self.cut = False

    def readinto(self, room: memoryview) -> int:
        filled = 0
        while filled < len(room) and not self._done:
            if not self._packed:
                self._take_more()
            try:
                text = self._inflate.decompress(self._packed, len(room) - filled)
            except zlib.error:
                self._end("gz-damaged")
                break
            if self._packed or text:
                self._fresh = False
            room[filled : filled + len(text)] = text
            filled += len(text)
            self._out += len(text)
            rest = self._inflate.unconsumed_tail
            if self._inflate.eof:
                self._next_member()
            elif not self._packed and not text:
                self._end("gz-truncated")
            else:
                self._packed = rest
            if self._out > BOMB_BYTES and self._out > BOMB_RATIO * self._in:
                self._end("gz-bomb")
        return filled

    def _take_more(self) -> None:
        count = self._read(self._room) or 0
        self._packed = bytes(self._room[:count])
        self._in += count

    def _next_member(self) -> None:
        """Go on behind the end of a member: another one, zero padding, or something else."""
        rest = self._inflate.unused_data
        self._packed = rest.lstrip(b"\0")
        while len(self._packed) < len(GZ_MAGIC):
            before = self._packed
            self._take_more()
            if not self._packed:
                if before:
                    self._end("gz-trailing")
                self._done = True
                return
            self._packed = (before + self._packed).lstrip(b"\0")
        if not self._packed.startswith(GZ_MAGIC):
            self._end("gz-trailing")
            return
        self._inflate = zlib.decompressobj(31)

    def _end(self, kind: str) -> None:
        self._done = True
        self.cut = kind != "gz-trailing"
        self.problem = make_problem(kind, self._name, value=float(self._out))


class OpenSource:
    """A source being read; closes its file when done."""

    def __init__(self, source: Source, name: str | None) -> None:
        self._file: BinaryIO | None = None
        if isinstance(source, (bytes, bytearray, memoryview)):
            self.name = name or "G-code"
            data = memoryview(source).cast("B")
            read: Callable[[memoryview], int | None] = _Memory(data)
            head, size = bytes(data[:2]), len(data)
        else:
            self.name = name or Path(source).name
            try:
                self._file = open(source, "rb", buffering=0)  # noqa: SIM115 - closed by close()
                head = self._file.read(2)
                self._file.seek(0)
                size = os.fstat(self._file.fileno()).st_size
            except OSError as error:
                self.close()
                raise GcodeError(
                    f"the file cannot be opened: {error.strerror or error}.",
                    os.fspath(source),
                    remedy="Check the path and the permissions.",
                ) from None
            read = self._file.readinto
        self.stream: Stream = _Unpacked(read, self.name) if head == GZ_MAGIC else _Plain(read)
        self.packed = head == GZ_MAGIC
        self.size = 0 if self.packed else size
        """Bytes of the text; 0 where nobody knows."""

    def close(self) -> None:
        """Close the file, where there is one."""
        if self._file is not None:
            self._file.close()
            self._file = None
