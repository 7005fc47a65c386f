"""The balances a server listens to: one whose lines are being learnt, one that is weighed with."""

from __future__ import annotations

import threading
from dataclasses import dataclass, field
from typing import Any, Literal

from beadworth.core import ConflictError, Problem
from beadworth.text import capital
from beadworth.trial import Cable, LineFormat
from beadworth.workflow import BalanceListener, Bench, listen_to

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


class BalanceDesk:
    """What the pages share of balances; each port has one listener at most."""

    def __init__(self) -> None:
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
            self._end_learning()
            self._end_use()
            self._used = listen_to(bench, name, port, patience_s=USE_PATIENCE_S)
            self._name = name

    def release(self) -> None:
        """Masses are typed again."""
        with self._lock:
            self._end_use()

    def live(self) -> dict[str, Any]:
        """What the balance in use says now, for the page."""
        used = self._used
        if used is None or not used.open:
            return {"name": ""}
        now = used.state()
        trouble = now.trouble
        return {
            "name": self._name,
            "reading": now.reading,
            "latest": now.latest,
            "rest": now.rest,
            "taken": now.taken,
            "taken_reading": now.taken_reading,
            "lines": now.lines,
            "dropped": now.dropped,
            "trouble": in_words(trouble),
        }

    def _end_learning(self) -> None:
        if self._learning is not None:
            self._learning.listener.close()
            self._learning = None

    def _end_use(self) -> None:
        if self._used is not None:
            self._used.close()
            self._used = None
        self._name = ""
