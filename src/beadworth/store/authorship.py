"""Whose entries these are: named once where a request or command begins, written on every row."""

from __future__ import annotations

from collections.abc import Generator
from contextlib import contextmanager
from contextvars import ContextVar

_author: ContextVar[str | None] = ContextVar("author", default=None)


@contextmanager
def entries_by(name: str | None) -> Generator[None]:
    """Name who makes what is stored in this block, here and in the threads it is handed to.

    Parameters
    ----------
    name : str or None
        Up to 80 characters; None: whoever works at the machine itself.
    """
    token = _author.set(name)
    try:
        yield
    finally:
        _author.reset(token)


def author() -> str | None:
    """Who makes what is stored now; None: whoever works at the machine itself."""
    return _author.get()
