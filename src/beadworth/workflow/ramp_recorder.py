"""A flow ramp recorded while it runs: the trace appended to the bench, what it says so far.

Two threads: one takes what the balance sent and appends it to the bench every few seconds; the
other reads what has passed, so that a fit that takes a while keeps nothing from being stored.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

import numpy as np

from beadworth.core import BeadworthError, Problem, ReadingsError
from beadworth.ramp import SoFar, Trace, analyse_so_far, sections_of
from beadworth.store import author, entries_by, live
from beadworth.workflow.balances import listen_to
from beadworth.workflow.ramp import Ramp, first_minute_of, fit_weighing, named_ramp
from beadworth.workflow.ramp_record import nothing_came
from beadworth.workflow.ramp_stored import begin_live, ramp_of_live, read_live, unread_live

if TYPE_CHECKING:
    from beadworth.capacity import Fit
    from beadworth.ramp import Noise, RampOutlook, Section
    from beadworth.store import Bench, StoredLive
    from beadworth.workflow.balance_listener import BalanceListener, Heard

APPEND_S: Final = 4.0
"""The trace is appended so often: a computer that stops loses less than 5 s of it."""
EACH_S: Final = 0.2
LOOK_S: Final = 2.0
ENDED: Final = "ended by a person"
INTERRUPTED: Final = "ended in the terminal"
FIRST_LINE_S: Final = 10.0
"""So long a balance may take to send its first line."""


@dataclass(frozen=True)
class RampProgress:
    """How far a recording is."""

    rows: int
    seconds: float
    latest_g: float | None
    grams: float
    """Delivered in the steps that are over; before them, gained since the first line."""
    minutes: float
    """Over which it was."""
    cycles: int
    """Cycles there are to be; 0 in a first minute."""
    stored: int
    """Rows that are on the bench already."""
    noise: Noise | None
    """Once the minute at the lowest flow is over."""
    outlook: tuple[RampOutlook, ...]
    """What one to five cycles cost and tell with that noise."""
    found: SoFar | None
    fit: Fit | None
    """Of the cycles that are over, ends of intervals still rough; None before, or where they
    carry no curve."""
    trouble: Problem | None
    running: bool


class RampRecorder:
    """Records until it is ended.

    Parameters
    ----------
    bench : Bench
    listener : BalanceListener
        Stays the caller's to close.
    ramp : Ramp
    stored : StoredLive, optional
        What the trace is appended to; left out: the first minute alone, which is not stored.
    append_s : float
    """

    def __init__(
        self,
        bench: Bench,
        listener: BalanceListener,
        ramp: Ramp,
        stored: StoredLive | None = None,
        append_s: float = APPEND_S,
    ) -> None:
        self.bench, self.ramp, self.stored = bench, ramp, stored
        self.program = ramp.program(first_minute=stored is None)
        """What the printer runs: its minutes, and what it puts into the cup."""
        self._listener, self._append_s = listener, append_s
        self._sections: tuple[Section, ...] = (
            stored.sections if stored else sections_of(first_minute_of(ramp.spec))
        )
        self._lock = threading.Lock()
        self._time: list[float] = []
        self._mass: list[float] = []
        self._stable: list[bool | None] = []
        self._kept = 0
        self._found: SoFar | None = None
        self._fit: Fit | None = None
        self._outlook: tuple[RampOutlook, ...] = ()
        self._trouble: Problem | None = None
        self._ended = threading.Event()
        self._author = author()
        self._resume()
        listener.heard()
        self._begun: float | None = None
        self._threads = [
            threading.Thread(target=self._record, name="ramp-record", daemon=True),
            threading.Thread(target=self._read, name="ramp-read", daemon=True),
        ]
        for thread in self._threads:
            thread.start()

    def _resume(self) -> None:
        """Go on behind what is on the bench; the time between is a silence of the trace."""
        self._offset = 0.0
        before = live.trace_of(self.bench, self.stored.number) if self.stored else None
        if before is None or self.stored is None:
            return
        self._time, self._mass = before.time_s.tolist(), before.mass_g.tolist()
        self._stable = (
            [None] * before.time_s.size if before.stable is None else before.stable.tolist()
        )
        self._kept = len(self._time)
        since = time.time() - self.stored.at.timestamp()
        self._offset = max(since, self._time[-1] + 1.0)

    @property
    def running(self) -> bool:
        """Whether it still records."""
        return not self._ended.is_set()

    def trace(self) -> Trace | None:
        """What came so far; None before the first line."""
        with self._lock:
            if not self._time:
                return None
            marked = all(s is not None for s in self._stable)
            stable = np.array(self._stable, dtype=bool) if marked else None
            return Trace(np.array(self._time), np.array(self._mass), stable)

    def progress(self) -> RampProgress:
        """How far it is."""
        with self._lock:
            found = self._found
            weighing = found.weighing if found else None
            seconds = self._time[-1] - self._time[0] if self._time else 0.0
            gained = self._mass[-1] - self._mass[0] if self._mass else 0.0
            return RampProgress(
                len(self._time),
                seconds,
                self._mass[-1] if self._mass else None,
                weighing.grams if weighing else gained,
                weighing.minutes if weighing else seconds / 60,
                sum(len(section.cycles) for section in self._sections),
                self._kept,
                found.noise if found else None,
                self._outlook,
                found,
                self._fit,
                self._trouble or self._listener.state().trouble,
                self.running,
            )

    def sections(self) -> tuple[Section, ...]:
        """The steps that are over, as far as they were seen."""
        with self._lock:
            return self._found.sections if self._found else ()

    def stop(self) -> None:
        """End the recording; all that came is on the bench then."""
        self._ended.set()
        self._threads[0].join(30.0)

    def finish(self, note: str = "") -> StoredLive | None:
        """End it, read the trace and store what it says; None for the first minute alone.

        Raises
        ------
        ReadingsError
            A trace that is too short, or not of this ramp; it stays on the bench, unread.
        """
        self.stop()
        if self.stored is None:
            return None
        return read_live(self.bench, self.stored.number, ended=ENDED, note=note)

    def _record(self) -> None:
        with entries_by(self._author):
            last = time.monotonic()
            while not self._ended.wait(EACH_S):
                self._take(self._listener.heard())
                if time.monotonic() - last >= self._append_s:
                    last = time.monotonic()
                    self._append()
                if not self._listener.open:
                    self._ended.set()
            self._take(self._listener.heard())
            self._append()

    def _take(self, lines: list[Heard]) -> None:
        if not lines:
            return
        with self._lock:
            if self._begun is None:
                self._begun = lines[0].at_s - self._offset
            self._time += [round(one.at_s - self._begun, 4) for one in lines]
            self._mass += [one.mass_g for one in lines]
            self._stable += [one.stable for one in lines]

    def _append(self) -> None:
        trace = self.trace()
        if trace is None or self.stored is None or trace.time_s.size == self._kept:
            return
        new = slice(self._kept, None)
        stable = None if trace.stable is None else trace.stable[new]
        piece = Trace(trace.time_s[new], trace.mass_g[new], stable)
        try:
            live.append(self.bench, self.stored.number, piece, self._kept)
        except BeadworthError as error:  # it is tried again with the next piece
            with self._lock:
                self._trouble = error.problems[0]
        else:
            with self._lock:
                self._kept, self._trouble = trace.time_s.size, None

    def _read(self) -> None:
        while not self._ended.wait(LOOK_S):
            trace = self.trace()
            if trace is None:
                continue
            before, ramp = self._found, self.ramp
            try:
                found = analyse_so_far(
                    trace, named_ramp(ramp.spec, ramp.rig, ramp.material), self._sections,
                    known=before, filament_diameter_mm=ramp.rig.filament_diameter_mm,
                )  # fmt: skip
                if found is before or found is None:
                    continue
                fit = self._fitted(found)
                outlook = self._outlook or ramp.outlook(found.noise)
            except BeadworthError:
                continue  # what cannot be read yet may be read later; the end says what is wrong
            with self._lock:
                self._found, self._fit, self._outlook = found, fit, outlook

    def _fitted(self, found: SoFar) -> Fit | None:
        weighing = found.weighing
        if weighing is None:
            return None
        try:
            return fit_weighing(
                weighing.readings, weighing.joint, self.ramp.rig, self.ramp.material, draft=True
            )
        except BeadworthError:
            return None


def record_ramp(
    bench: Bench,
    balance: str,
    ramp: Ramp | None,
    seconds: float,
    *,
    trial: str | None = None,
    note: str = "",
    go_on: int | None = None,
    port: str | None = None,
    tell: Callable[[RampProgress], object] = lambda _progress: None,
) -> StoredLive:
    """Record a ramp onto the bench while it runs, then read it; an interruption ends it in order.

    The trace is appended every few seconds (:data:`APPEND_S`), as from the page.
    A balance that sends nothing leaves nothing on the bench.

    Parameters
    ----------
    ramp : Ramp, optional
        Not needed where a recording goes on.
    seconds : float
        The longest it may take.
    trial : str, optional
        Left out: a new trial.
    go_on : int, optional
        Number of a live weighing that stopped without an end.
    tell : function
        Called a few times a second.

    Raises
    ------
    NotFoundError
        No such balance, trial or live weighing.
    ConflictError
        One to go on with that is over.
    CableError
        Its port cannot be opened, or not one line of it could be read.
    LimitError
        A ramp outside what rig, material or cup allow.
    ReadingsError
        A trace that is too short, or not of this ramp; it stays on the bench, unread.
    """
    one = None if go_on is None else unread_live(bench, go_on)
    with listen_to(bench, balance, port) as listener:
        if one is None and ramp is not None:
            now = listener.wait(lambda state: state.latest_g is not None, FIRST_LINE_S)
            if now.latest_g is None:
                raise nothing_came(listener)
            one = begin_live(bench, ramp, trial=trial, balance=balance, note=note)
        if one is None:
            raise TypeError("a ramp, or the number to go on with")
        recorder = RampRecorder(bench, listener, ramp_of_live(one), one)
        until = time.monotonic() + seconds
        try:
            while recorder.running and time.monotonic() < until:
                tell(recorder.progress())
                time.sleep(EACH_S)
        except KeyboardInterrupt:
            pass
        finally:
            recorder.stop()
    try:
        return read_live(bench, one.number, ended=INTERRUPTED)
    except ReadingsError as error:
        kept = f"The trace is on the bench as {one.name} of trial {one.trial}."
        raise ReadingsError(
            [replace(p, remedy=f"{p.remedy} {kept}") for p in error.problems]
        ) from error
