"""Ends that leave things in order: what was opened is closed when a program is told to end."""

from __future__ import annotations

import signal
import threading
from collections.abc import Generator
from contextlib import contextmanager
from types import FrameType
from typing import Any

ENDS = tuple(getattr(signal, name) for name in ("SIGTERM", "SIGHUP") if hasattr(signal, name))


@contextmanager
def ends_in_order() -> Generator[None]:
    """Within it SIGTERM and SIGHUP raise ``SystemExit``, so that benches and files are closed.

    A signal that somebody handles or ignores already stays theirs.
    """
    taken: dict[int, Any] = {}

    def end(number: int, _: FrameType | None) -> None:
        raise SystemExit(128 + number)

    if threading.current_thread() is threading.main_thread():
        for number in ENDS:
            if signal.getsignal(number) is signal.SIG_DFL:
                taken[number] = signal.signal(number, end)
    try:
        yield
    finally:
        for number, before in taken.items():
            signal.signal(number, before)
