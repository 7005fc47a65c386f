"""Print files beside the bench: stored by their SHA-256, named in notes of the kind ``print``.

The bench file stays small: it holds a print's name, size and digest and the verdict of each
replay; the print itself lies in a folder ``prints`` beside it.
"""

from __future__ import annotations

import hashlib
import os
import shutil
import tempfile
import threading
import weakref
from collections.abc import Generator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path
from typing import Any, Final

from beadworth.core import BenchError, InputError, NotFoundError
from beadworth.store.store import Bench

PRINT_KIND: Final = "print"
REPLAYED: Final = "print-replay"
PRINT_LIMIT_BYTES: Final = 2_000_000_000
"""A print of a day or two is a few hundred megabytes."""
ID_DIGITS: Final = 16
GZ_MAGIC: Final = b"\x1f\x8b"
_LOOKED_AT: Final = 4096
_NAME: Final = 120


@dataclass(frozen=True)
class StoredPrint:
    """A print the bench knows."""

    id: str
    """First digits of its SHA-256."""
    sha256: str
    name: str
    bytes: int
    packed: bool
    at: datetime
    """When it was first given, UTC."""
    last: dict[str, Any] | None
    """What its last replay found: verdict, time, rig, trial, material."""


class Upload:
    """Takes a print in piece by piece; nothing of it stays unless it is stored."""

    def __init__(self, shelf: PrintShelf, name: str) -> None:
        self._shelf = shelf
        self.name = Path(name.replace("\\", "/")).name.strip()[:_NAME] or "print.gcode"
        self._digest = hashlib.sha256()
        self._size = 0
        self._head = b""
        handle, part = tempfile.mkstemp(prefix="taking-", suffix=".part", dir=shelf.folder)
        self._part = Path(part)
        self._file = os.fdopen(handle, "wb")

    def write(self, data: bytes) -> None:
        """Add bytes.

        Raises
        ------
        InputError
            More than ``PRINT_LIMIT_BYTES`` in all.
        """
        self._size += len(data)
        if self._size > PRINT_LIMIT_BYTES:
            raise InputError(
                f"this is more than the {PRINT_LIMIT_BYTES / 1e9:g} GB taken of one print.",
                self.name,
                self._size,
                "Replay it from the command line, which takes any size; nothing was stored.",
            )
        if len(self._head) < _LOOKED_AT:
            self._head += data[: _LOOKED_AT - len(self._head)]
        self._digest.update(data)
        self._file.write(data)

    def keep(self) -> StoredPrint:
        """Put the print on the shelf, and say under which id.

        Raises
        ------
        InputError
            An empty file, or one that is neither text nor gz.
        """
        self._file.close()
        packed = self._head.startswith(GZ_MAGIC)
        if not self._size:
            raise InputError("this file is empty.", self.name, remedy="Choose another.")
        if not packed and b"\0" in self._head:
            raise InputError(
                "this is not a print file: it holds bytes that no text has.",
                self.name,
                remedy="Give the G-code the printer gets, plain or gz; nothing was stored.",
            )
        sha256 = self._digest.hexdigest()
        os.replace(self._part, self._shelf.place(sha256))
        return self._shelf.note(sha256, self.name, self._size, packed)

    def abandon(self) -> None:
        """Leave nothing behind, unless it was stored."""
        self._file.close()
        self._part.unlink(missing_ok=True)


class _Known:
    """The prints of one open bench, kept up to date by the notes added since the last time."""

    def __init__(self) -> None:
        self._one_at_a_time = threading.Lock()
        self._made: dict[str, StoredPrint] = {}
        self._last: dict[str, dict[str, Any]] = {}
        self._seen = 0

    def all(self, bench: Bench) -> list[StoredPrint]:
        """Every print, the one given last first."""
        with self._one_at_a_time:
            for note in bench.notes((PRINT_KIND, REPLAYED), after=self._seen):
                self._seen = note.id
                if note.kind == PRINT_KIND:
                    self._made.pop(note.subject, None)  # given again: it moves up
                    self._made[note.subject] = StoredPrint(
                        note.subject[:ID_DIGITS], note.subject, note.data["name"],
                        note.data["bytes"], note.data["packed"], note.at,
                        self._last.get(note.subject),
                    )  # fmt: skip
                else:
                    self._last[note.subject] = note.data
                    if there := self._made.get(note.subject):
                        self._made[note.subject] = replace(there, last=note.data)
            return list(reversed(self._made.values()))


_known: weakref.WeakKeyDictionary[Bench, _Known] = weakref.WeakKeyDictionary()
_making = threading.Lock()


def stored_prints(bench: Bench) -> list[StoredPrint]:
    """Every print the bench knows, the one given last first; quick however many there are."""
    with _making:
        known = _known.setdefault(bench, _Known())
    return known.all(bench)


class PrintShelf:
    """The prints of a bench."""

    def __init__(self, bench: Bench) -> None:
        self._bench = bench
        beside = Path(bench.name)
        folder = beside.absolute().parent / "prints"
        writable = os.access(folder if folder.is_dir() else folder.parent, os.W_OK)
        self.temporary = not (beside.is_file() and writable)
        """Whether there is no folder beside the bench: prints then last until it is closed."""
        if self.temporary:
            self.folder = Path(tempfile.mkdtemp(prefix="beadworth-prints-"))
            weakref.finalize(self, shutil.rmtree, self.folder, ignore_errors=True)
        else:
            self.folder = folder
            try:
                self.folder.mkdir(exist_ok=True)
            except OSError as error:
                raise BenchError(
                    f"the folder for prints cannot be made: {error.strerror}.",
                    str(self.folder),
                    remedy="Let this folder be written, or open a bench in another.",
                ) from None

    @contextmanager
    def receiving(self, name: str) -> Generator[Upload]:
        """An upload that leaves nothing behind where it is not stored."""
        upload = Upload(self, name)
        try:
            yield upload
        finally:
            upload.abandon()

    def place(self, sha256: str) -> Path:
        """Where a print lies."""
        return self.folder / f"{sha256}.gcode"

    def note(self, sha256: str, name: str, size: int, packed: bool) -> StoredPrint:
        """Enter a print on the bench; once only under the same name."""
        data = {"name": name, "bytes": size, "packed": packed}
        notes = self._bench.notes(PRINT_KIND, sha256)
        if not notes or notes[-1].data != data:
            self._bench.add_note(PRINT_KIND, sha256, data)
        return self.one(sha256[:ID_DIGITS])

    def all(self) -> list[StoredPrint]:
        """Every print the bench knows, the one given last first."""
        return stored_prints(self._bench)

    def one(self, print_id: str) -> StoredPrint:
        """A print by its id.

        Raises
        ------
        NotFoundError
            The bench knows none of that id.
        """
        for stored in self.all():
            if stored.id == print_id:
                return stored
        raise NotFoundError(
            f"there is no print {print_id!r} on the bench.",
            "print",
            print_id,
            "Give the file again on the page of prints.",
        )

    def here(self) -> list[StoredPrint]:
        """The prints whose files are there, the one given last first; the folder is read once."""
        there = set(os.listdir(self.folder)) if self.folder.is_dir() else set()
        return [stored for stored in self.all() if self.place(stored.sha256).name in there]

    def is_here(self, stored: StoredPrint) -> bool:
        """Whether the file itself is there, not only its note."""
        return self.place(stored.sha256).is_file()

    def file(self, stored: StoredPrint) -> Path:
        """The file of a print.

        Raises
        ------
        NotFoundError
            The bench remembers it, and the file is gone.
        """
        if not self.is_here(stored):
            raise NotFoundError(
                f"the file of {stored.name} is no longer in the folder for prints.",
                str(self.folder),
                stored.name,
                "Give the same file again: the bench still knows it.",
            )
        return self.place(stored.sha256)

    def store_verdict(self, stored: StoredPrint, found: dict[str, Any]) -> None:
        """Store what a replay found; nothing is entered where it is the same again."""
        if stored.last != found:
            self._bench.add_note(REPLAYED, stored.sha256, found)
