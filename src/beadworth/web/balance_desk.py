"""The balances a server listens to: one whose lines are being learnt, one that is weighed with."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Literal

from beadworth.core import ConflictError, Problem
from beadworth.text import capital
from beadworth.trial import Cable, LineFormat
from beadworth.workflow import (
    APPEND_S,
    BalanceListener,
    Bench,
    Ramp,
    RampRecorder,
    StoredLive,
    listen_to,
)

LEARNING_PATIENCE_S = 300.0
"""A learning that nobody looks at gives its port back after so long."""
USE_PATIENCE_S = 900.0


def in_words(trouble: Problem | None) -> str:
    """What is wrong with a cable, and the remedy, as sentences; empty where nothing is."""
    if trouble is None:
        return ""
    return f"{capital(trouble.what)} {trouble.remedy}"


@dataclass
class Learning:
    """A balance whose lines are being learnt."""

    listener: BalanceListener
    step: Literal["empty", "loaded", "words"] = "empty"
    form: LineFormat | None = None
    typed: dict[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class BalanceNow:
    """What the balance in use says now."""

    name: str = ""
    """Empty where none is in use."""
    reading: str = ""
    """Mass in g, with the balance's decimals, once the pan is at rest; empty while it moves."""
    latest: str = ""
    """The newest value, g, also while it moves."""
    rest: int = 0
    """Counts up each time the pan comes to rest."""
    taken: int = 0
    """Pieces put on and come to rest, one after the other."""
    taken_reading: str = ""
    """Mass of the newest of them."""
    lines: int = 0
    dropped: int = 0
    """Damaged lines among them."""
    trouble: str = ""
    """What is wrong with the cable, and the remedy."""
    by_key: bool = False
    """Whether it sends a line only when its key is pressed."""


class BalanceDesk:
    """What the pages share of balances; each port has one listener at most."""

    def __init__(
        self, stamp: Callable[[], float] = time.monotonic, append_s: float = APPEND_S
    ) -> None:
        self._stamp, self._append_s = stamp, append_s
        self._recorder: RampRecorder | None = None
        self._lock = threading.Lock()
        self._learning: Learning | None = None
        self._used: BalanceListener | None = None
        self._name = ""

    @property
    def name(self) -> str:
        """The balance that is weighed with; empty where masses are typed."""
        return self._name if self._used is not None and self._used.open else ""

    def connect(self, cable: Cable) -> Learning:
        """Begin to learn a balance's lines; what used the port before lets go of it."""
        with self._lock:
            self._refuse_while_recording()
            self._end_learning()
            if self._used is not None and self._used.cable.port == cable.port:
                self._end_use()
            self._learning = Learning(BalanceListener(cable, patience_s=LEARNING_PATIENCE_S))
            return self._learning

    def learning(self) -> Learning:
        """The one being learnt.

        Raises
        ------
        ConflictError
            None is, or nobody looked at it for so long that it was given up.
        """
        found = self._learning
        if found is None or not found.listener.open:
            raise ConflictError(
                "no balance is connected to be learnt.",
                "balance",
                remedy="Choose its port and connect it again.",
            )
        return found

    def end_learning(self) -> None:
        """Let go of the port."""
        with self._lock:
            self._end_learning()

    def use(self, bench: Bench, name: str, port: str | None = None) -> None:
        """Listen to a balance on the bench from now on.

        Raises
        ------
        NotFoundError, CableError
            No such balance; its port cannot be opened.
        """
        with self._lock:
            self._refuse_while_recording()
            self._end_learning()
            self._end_use()
            self._used = listen_to(bench, name, port, USE_PATIENCE_S, self._stamp)
            self._name = name

    def release(self) -> None:
        """Masses are typed again."""
        with self._lock:
            self._refuse_while_recording()
            self._end_use()

    # a flow ramp weighed live

    def record(self, bench: Bench, ramp: Ramp, stored: StoredLive | None) -> RampRecorder:
        """Record a flow ramp with the balance in use; ``stored`` left out: its first minute.

        Raises
        ------
        ConflictError
            No balance is in use, or one is recorded already.
        """
        with self._lock:
            self._refuse_while_recording()
            self._require_used()
            assert self._used is not None
            self._recorder = RampRecorder(bench, self._used, ramp, stored, self._append_s)
            return self._recorder

    def require_used(self) -> str:
        """The name of the balance in use.

        Raises
        ------
        ConflictError
            No balance is in use, or it records already.
        """
        with self._lock:
            self._refuse_while_recording()
            self._require_used()
        return self.name

    def recording(self, number: int | None) -> RampRecorder | None:
        """The recording of a live weighing (None: of a first minute), also where it has ended."""
        found = self._recorder
        mine = found is not None and (found.stored.number if found.stored else None) == number
        return found if mine else None

    def _require_used(self) -> None:
        if not self.name:
            raise ConflictError(
                "no balance is in use.",
                "balance",
                remedy="Connect one under Balances; or record with `beadworth ramp record` and "
                "bring the table in.",
            )

    def _refuse_while_recording(self) -> None:
        if self._recorder is not None and self._recorder.running:
            stored = self._recorder.stored
            raise ConflictError(
                "a flow ramp is being recorded with the balance in use.",
                stored.name if stored else "first minute",
                remedy="End that recording first.",
            )

    def close(self) -> None:
        """End everything: what was recorded so far is on the bench then."""
        if self._recorder is not None:
            self._recorder.stop()
        with self._lock:
            self._end_learning()
            self._end_use()

    def now(self) -> BalanceNow:
        """What the balance in use says now."""
        used = self._used
        if used is None or not used.open:
            return BalanceNow()
        now = used.state()
        return BalanceNow(
            self._name, now.reading, now.latest, now.rest, now.taken, now.taken_reading,
            now.lines, now.dropped, in_words(now.trouble), used.cable.by_key,
        )  # fmt: skip

    def _end_learning(self) -> None:
        if self._learning is not None:
            self._learning.listener.close()
            self._learning = None

    def _end_use(self) -> None:
        if self._used is not None:
            self._used.close()
            self._used = None
        self._name = ""
