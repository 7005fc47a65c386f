"""A balance listened to in a thread of its own: raw lines to learn from, or readings.

Command and page ask for its state whenever they like; a cable that is pulled and plugged in again
goes on.
"""

from __future__ import annotations

import threading
import time
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass
from typing import Final, Literal, Self

from beadworth.core import CableError, Problem
from beadworth.trial import (
    DAMAGED,
    Cable,
    HandsFree,
    LineFollower,
    LineFormat,
    Samples,
    SeenLine,
    split_lines,
)
from beadworth.workflow.balance_port import BalancePort, reads_as_text, silent

ASK_S: Final = 0.3
"""How often a balance that waits for a request is asked."""
SILENT_S: Final = 4.0
"""After so long without a line it is said that nothing comes."""
KEY_S: Final = 60.0
"""So long a line stays the reading that came by a key."""
AGAIN_S: Final = 1.0
SHOWN = 12
Phase = Literal["", "empty", "moving", "loaded"]
MOST_SAMPLES = 2000
"""Lines of a phase that are kept: at 20 a second, somebody takes 100 s to put a piece on."""


@dataclass(frozen=True)
class LiveBalance:
    """What a balance says now."""

    latest_g: float | None
    """The newest value, also while it moves."""
    reading_g: float | None
    """The reading, once the pan is at rest."""
    reading: str
    """The same as text with the balance's decimals; empty while it moves."""
    latest: str
    rest: int
    """Counts up each time the pan comes to rest: readings of one number are of the same piece."""
    taken: int
    """How many pieces were put on and came to rest, one after the other (hands-free)."""
    taken_reading: str
    """Mass of the newest of them."""
    on_pan_g: float
    """What lies on the pan from here on is a piece; below, the pan is empty."""
    lines: int
    dropped: int
    """Damaged lines among them."""
    raw: tuple[str, ...]
    """The newest lines as they came."""
    trouble: Problem | None
    """What is wrong with the line now, and the remedy."""


@dataclass(frozen=True)
class Heard:
    """A line that was not damaged, for a trace."""

    at_s: float
    """When it came."""
    mass_g: float
    stable: bool | None
    """None where the balance does not say."""


class BalanceListener:
    """Listens until it is closed; a context manager.

    Parameters
    ----------
    cable : Cable
    form : LineFormat, optional
        Left out, lines are collected to learn one from.
    patience_s : float, optional
        It closes itself after so long without a question.
    stamp : function
        When a line came, in seconds; asked once for each line, so that a test may say.

    Raises
    ------
    CableError
        The port cannot be opened.
    """

    def __init__(
        self,
        cable: Cable,
        form: LineFormat | None = None,
        patience_s: float | None = None,
        stamp: Callable[[], float] = time.monotonic,
    ) -> None:
        self.cable, self.form = cable, form
        self._port: BalancePort | None = BalancePort(cable)
        self._follower = LineFollower(form, cable.by_key) if form else None
        self._station = HandsFree(form) if form else None
        self._lock = threading.Lock()
        self._raw: deque[str] = deque(maxlen=SHOWN)
        self._samples: dict[Phase, list[str]] = {"empty": [], "moving": [], "loaded": []}
        self._phase: Phase = ""
        self._rest = b""
        self._bytes = b""
        self._lines = 0
        self._taken, self._taken_g = 0, 0.0
        self._since = self._asked = time.monotonic()
        self._patience_s, self._stamp = patience_s, stamp
        self._silent_s = KEY_S if cable.by_key else SILENT_S
        self._heard: list[Heard] | None = None
        self._error: CableError | None = None
        self._ended = threading.Event()
        self._thread = threading.Thread(target=self._run, name="balance", daemon=True)
        self._thread.start()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def close(self) -> None:
        """Stop listening and let go of the port."""
        self._ended.set()
        self._thread.join(5.0)

    @property
    def open(self) -> bool:
        """Whether it still listens."""
        return not self._ended.is_set()

    def begin(self, phase: Phase) -> None:
        """From now on lines are samples of this phase; it starts anew."""
        with self._lock:
            self._phase = phase
            if phase:
                self._samples[phase] = []

    def count(self, phase: Phase) -> int:
        """How many lines of a phase there are."""
        with self._lock:
            return len(self._samples[phase])

    def samples(self) -> Samples:
        """What was collected."""
        with self._lock:
            return Samples(*(tuple(self._samples[p]) for p in ("empty", "moving", "loaded")))

    def heard(self) -> list[Heard]:
        """The lines since it was asked last, for a trace; the first question begins it."""
        with self._lock:
            self._asked = time.monotonic()
            found, self._heard = self._heard or [], []
            return found

    def state(self) -> LiveBalance:
        """What it says now."""
        with self._lock:
            self._asked = time.monotonic()
            follower = self._follower
            latest = follower.latest_g if follower else None
            reading = follower.reading_g if follower else None
            trouble = self._trouble()
            if time.monotonic() - self._since > self._silent_s:
                latest = reading = None
            return LiveBalance(
                latest_g=latest,
                reading_g=reading,
                reading=self._text(reading),
                latest=self._text(latest),
                rest=follower.rests if follower else 0,
                taken=self._taken,
                taken_reading=self._text(self._taken_g) if self._taken else "",
                on_pan_g=self._station.on_pan_g if self._station else 0.0,
                lines=self._lines,
                dropped=follower.dropped if follower else 0,
                raw=tuple(self._raw),
                trouble=trouble,
            )

    def wait(
        self, done: Callable[[LiveBalance], bool], seconds: float, each_s: float = 0.05
    ) -> LiveBalance:
        """The state once it is as wanted, or in trouble, or after so long."""
        until = time.monotonic() + seconds
        while True:
            now = self.state()
            if done(now) or now.trouble or time.monotonic() > until or not self.open:
                return now
            time.sleep(each_s)

    def _text(self, grams: float | None) -> str:
        return "" if grams is None or self.form is None else self.form.text(grams)

    def _trouble(self) -> Problem | None:
        """With the lock held."""
        if self._error is not None:
            return self._error.problems[0]
        if self.cable.by_key:
            return None  # it is silent until its key is pressed
        if time.monotonic() - self._since > SILENT_S:
            if self._bytes and not reads_as_text(self._bytes):
                return Problem(
                    f"what comes from {self.cable.port} at {self.cable.speed_bd} baud, "
                    f"{self.cable.frame}, is no text.",
                    "balance cable",
                    remedy="Set the speed and parity as they are on the balance, or let them be "
                    "found.",
                )
            return silent(self.cable.port, self.cable.request).problems[0]
        if self._follower is not None and (words := self._follower.trouble):
            what, _, remedy = words.partition(". ")
            return Problem(f"{what}.", "balance cable", remedy=remedy)
        return None

    def _run(self) -> None:
        asked_at = 0.0
        while not self._ended.is_set():
            now = time.monotonic()
            if self._patience_s is not None and now - self._asked > self._patience_s:
                break
            try:
                if self._port is None:
                    self._port = BalancePort(self.cable)
                    with self._lock:
                        self._error, self._since = None, now
                if self.cable.request and now - asked_at >= ASK_S:
                    self._port.ask()
                    asked_at = now
                self._take(self._port.read())
            except CableError as error:
                with self._lock:
                    self._error = error
                    if self._follower is not None:
                        self._follower.restart()
                self._let_go()
                self._ended.wait(AGAIN_S)
        self._let_go()
        self._ended.set()

    def _let_go(self) -> None:
        if self._port is not None:
            self._port.close()
            self._port = None

    def _take(self, data: bytes) -> None:
        if not data:
            return
        with self._lock:
            self._bytes = (self._bytes + data)[-400:]
            lines, self._rest = split_lines(self._rest + data)
            if lines and reads_as_text(self._bytes):
                self._since = time.monotonic()
            for line in lines:
                self._lines += 1
                self._raw.append(line)
                if self._phase and len(self._samples[self._phase]) < MOST_SAMPLES:
                    self._samples[self._phase].append(line)
                if self._follower is not None and self._station is not None:
                    self._hear(self._follower.line(line, self._stamp()))
                    taken = self._station.feed(self._follower.reading_g)
                    if taken is not None:
                        self._taken, self._taken_g = self._taken + 1, taken

    def _hear(self, decided: list[SeenLine]) -> None:
        """With the lock held."""
        if self._heard is None or self.form is None:
            return
        for seen in decided:
            if seen.count is not None and seen.fate not in DAMAGED:
                self._heard.append(Heard(seen.at_s, self.form.grams(seen.count), seen.stable))
