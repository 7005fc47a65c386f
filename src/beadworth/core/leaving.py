"""Files that leave Beadworth: whole under their name, on disk, or not there at all."""

from __future__ import annotations

import contextlib
import os
import shutil
from collections.abc import Generator
from contextlib import contextmanager
from pathlib import Path

from beadworth.core.errors import BeadworthError, InputError

PART = ".part"
"""What a file is called while it is written."""


@contextmanager
def written_whole(file: Path) -> Generator[Path]:
    """Where to write a file that gets its name only once it is whole and on disk.

    A link is followed; a device or pipe is written as it is. Where nothing was written, or it
    was taken away again, there is no file.

    Raises
    ------
    InputError
        It cannot be written there; what stood under this name before is as it was.
    """
    with writing(file):
        target = Path(os.path.realpath(file))
        if target.exists() and not target.is_file() and not target.is_dir():
            yield target
            return
        if target.is_dir():
            raise IsADirectoryError(0, "this is a folder")
        part = target.with_name(target.name + PART)
        try:
            yield part
            if not part.exists():
                return
            _sync(part)
            if target.exists():
                shutil.copymode(target, part)
            part.replace(target)
            _sync(target.parent)
        finally:
            part.unlink(missing_ok=True)


def write_file(file: Path, content: str | bytes) -> None:
    """Write a file whole or not at all; text as UTF-8 with its line ends as they are.

    Raises
    ------
    InputError
        As for :func:`written_whole`.
    """
    data = content.encode("utf-8") if isinstance(content, str) else content
    with written_whole(file) as part, part.open("wb") as opened:
        opened.write(data)


def make_folder(folder: Path) -> None:
    """Make a folder to write into, where it is not there.

    Raises
    ------
    InputError
        It cannot be made.
    """
    with writing(folder):
        folder.mkdir(parents=True, exist_ok=True)


@contextmanager
def writing(place: Path) -> Generator[None]:
    """Trouble while a file or folder is written, in our own words: :class:`InputError`."""
    try:
        yield
    except BeadworthError:  # one of them is an OSError too
        raise
    except (OSError, ValueError) as error:  # ValueError: a NUL in the name
        reason = (error.strerror if isinstance(error, OSError) else None) or str(error)
        raise InputError(
            f"cannot be written: {reason[:1].lower()}{reason[1:]}.",
            str(place),
            remedy="Check the name, the folder and the free space; no part of it was left there.",
        ) from error


def _sync(place: Path) -> None:
    """Through to the disk, where the system can."""
    handle = None
    with contextlib.suppress(PermissionError):  # a folder, on some systems
        handle = os.open(place, os.O_RDONLY if place.is_dir() else os.O_RDWR)
    if handle is not None:
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
