"""What goes wrong under an open bench, in our own words."""

from __future__ import annotations

import json
import os
from collections.abc import Generator
from contextlib import contextmanager

from sqlalchemy.exc import DataError, DBAPIError
from sqlalchemy.exc import TimeoutError as NoConnectionError

from beadworth.core import BenchError, InputError
from beadworth.store.files import cause_of, is_full, is_read_only


def file_identity(name: str) -> tuple[int, int] | None:
    """Which file stands under a bench's name; None where none does (a server)."""
    try:
        now = os.stat(name)
    except OSError:
        return None
    return now.st_dev, now.st_ino


def require_same_file(name: str, opened: tuple[int, int] | None) -> None:
    """Raise :class:`BenchError` where another file, or none, has the name of the one opened.

    What is written into a file that lost its name would never be found again.
    """
    if file_identity(name) != opened:
        raise BenchError(
            "the bench file was moved, replaced or deleted while it was open.",
            name,
            remedy="Nothing was stored. Put it back under this name, or stop Beadworth and open "
            "it where it is now.",
        )


@contextmanager
def own_words(name: str) -> Generator[None]:
    """Database trouble in our own words; nothing was stored then."""
    try:
        yield
    except (DataError, OverflowError, UnicodeEncodeError) as error:
        raise InputError(
            "this holds a text or number that no bench can hold.",
            name,
            remedy="Change it and try again; nothing was stored.",
        ) from error
    except (DBAPIError, NoConnectionError) as error:
        if is_full(error):
            raise BenchError(
                "the disk is full.",
                name,
                remedy="Nothing was stored. Make room, then enter it again; what was stored "
                "before is safe.",
            ) from error
        if is_read_only(error):
            raise BenchError(
                "this bench can only be read: the file or its folder cannot be written.",
                name,
                remedy="Nothing was stored. Let both be written, or work on a copy.",
            ) from error
        stored = "Nothing was stored"
        if isinstance(error, DBAPIError) and error.connection_invalidated:
            # it may have broken while it committed: nobody can say
            stored = "Look whether it was stored before you enter it again"
        raise BenchError(
            f"the bench did not answer as it should: {cause_of(error)}.",
            name,
            remedy=f"{stored}. Check the disk and run: beadworth bench check.",
        ) from error
    except (UnicodeDecodeError, json.JSONDecodeError) as error:
        raise BenchError(
            f"what is stored cannot be read: {error}.",
            name,
            remedy="Run: beadworth bench check; then restore a backup.",
        ) from error
