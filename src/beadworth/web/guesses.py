"""How often wrong codes and secrets may be tried: by one address, and by all together."""

from __future__ import annotations

import threading
import time
from collections import defaultdict, deque
from collections.abc import Callable, Generator
from contextlib import contextmanager

from starlette.requests import Request

from beadworth.core import BeadworthError, UnknownVisitorError

EACH = 5
"""Wrong ones that one address may send in :data:`WINDOW_S`."""
ALL = 60
"""Wrong ones that all addresses together may send in it: changing one's address helps little."""
WINDOW_S = 60.0


class TooManyTriesError(BeadworthError):
    """Wrong codes or secrets came faster than a person types them."""

    kind = "too-many-tries"


class Guesses:
    """Counts wrong codes and secrets; safe to ask from several threads."""

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self._clock = clock
        self._lock = threading.Lock()
        self._by_address: defaultdict[str, deque[float]] = defaultdict(deque)

    @contextmanager
    def one(self, request: Request, what: str) -> Generator[None]:
        """Let a code or secret (``what``) be tried in this block; one that nobody has is counted.

        Raises
        ------
        TooManyTriesError
            Too many wrong ones came of late.
        """
        address = request.client.host if request.client else ""
        self.require_patience(address, what)
        try:
            yield
        except UnknownVisitorError:
            self.wrong(address)
            raise

    def require_patience(self, address: str, what: str = "code") -> None:
        """Raise :class:`TooManyTriesError` where too many wrong ones came of late."""
        with self._lock:
            self._forget()
            mine = len(self._by_address.get(address, ()))
            every = sum(map(len, self._by_address.values()))
        if mine >= EACH or every >= ALL:
            raise TooManyTriesError(
                f"too many wrong {what}s came in a short time.",
                what,
                remedy=f"Wait a minute ({WINDOW_S:.0f} s), then try again.",
            )

    def wrong(self, address: str) -> None:
        """A wrong one came from this address."""
        with self._lock:
            self._by_address[address].append(self._clock())

    def _forget(self) -> None:
        oldest = self._clock() - WINDOW_S
        for address, times in list(self._by_address.items()):
            while times and times[0] <= oldest:
                times.popleft()
            if not times:
                del self._by_address[address]
