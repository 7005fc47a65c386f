"""Weighings as they come in: whoever waits for a turn to write is stored with the one who has it.

A transaction costs the database as much for one entry as for twenty. So the first of those that
wait stores all of them at once; each hears of its own entry alone, after the commit of all.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Sequence
from contextlib import AbstractContextManager
from dataclasses import dataclass, field
from datetime import UTC, datetime

from sqlalchemy import select
from sqlalchemy.orm import Session

from beadworth.core import BeadworthError, BenchError, ConflictError, InputError
from beadworth.store import readings as reading_rows
from beadworth.store import snapshots
from beadworth.store.authorship import author, entries_by
from beadworth.store.codecs import reading_to
from beadworth.store.models import ReadingRow, SlotRow
from beadworth.store.readings import Weighing
from beadworth.store.records import not_found
from beadworth.store.sheets import sheet_of
from beadworth.store.values import StoredReading
from beadworth.trial import Reading

MOST = 100
"""Entries that are stored in one transaction."""


@dataclass(eq=False)
class Entry:
    """A weighing on its way, and what became of it."""

    trial: str
    coupon: str
    weighing: Weighing
    author: str | None = field(default_factory=author)
    stored: StoredReading | None = None
    error: BaseException | None = None

    @property
    def settled(self) -> bool:
        """Whether it was stored or refused."""
        return self.stored is not None or self.error is not None


class Together:
    """Those that wait, and whose turn it is."""

    def __init__(self, write: Callable[[], AbstractContextManager[Session]]) -> None:
        self._write = write
        self._turn = threading.Lock()
        self._list = threading.Lock()
        self._waiting: list[Entry] = []

    def enter(self, trial: str, coupon: str, weighing: Weighing) -> StoredReading:
        """Store a weighing, alone or with others; returns once it is committed."""
        mine = Entry(trial, coupon, weighing)
        with self._list:
            self._waiting.append(mine)
        while not mine.settled:
            with self._turn:
                if mine.settled:
                    break
                with self._list:
                    batch, self._waiting = self._waiting[:MOST], self._waiting[MOST:]
                self._store(batch)
        if mine.error is not None:
            raise mine.error
        assert mine.stored is not None
        return mine.stored

    def _store(self, batch: Sequence[Entry]) -> None:
        """All of them in one transaction; where one stops it, each in its own."""
        try:
            with entries_by(None), self._write() as session:  # each row names its own author
                outcomes = record_all(session, batch)
        except InputError as error:
            if len(batch) == 1:
                batch[0].error = error
                return
            for entry in batch:
                self._store([entry])
        except BaseException as error:
            for entry in batch:  # nobody may go on waiting for who was interrupted
                entry.error = error if isinstance(error, Exception) else _interrupted()
            if not isinstance(error, Exception):
                raise
        else:
            for entry, outcome in zip(batch, outcomes, strict=True):
                if isinstance(outcome, StoredReading):
                    entry.stored = outcome
                else:
                    entry.error = outcome


def _interrupted() -> BenchError:
    return BenchError(
        "Beadworth was interrupted while this was stored.",
        "bench",
        remedy="Look whether it was stored before you enter it again.",
    )


def record_all(session: Session, entries: Sequence[Entry]) -> list[StoredReading | BeadworthError]:
    """Enter weighings of planned coupons; what becomes of each, in their order.

    One that came before under its key is given back as it stands. A fixed number of statements
    for each trial, however many there are; of two for one coupon the first counts.
    """
    outcomes: dict[Entry, StoredReading | BeadworthError] = {}
    later: list[Entry] = []
    for trial in dict.fromkeys(entry.trial for entry in entries):
        later += _record_of_trial(session, [e for e in entries if e.trial == trial], outcomes)
    for entry in later:  # nothing stands in the way of one alone
        _record_of_trial(session, [entry], outcomes)
    return [outcomes[entry] for entry in entries]


def _record_of_trial(
    session: Session,
    entries: Sequence[Entry],
    outcomes: dict[Entry, StoredReading | BeadworthError],
) -> list[Entry]:
    """Enter those of one trial; gives those that another of them stands in the way of."""
    trial = entries[0].trial
    try:
        sheet = sheet_of(session, trial)
    except BeadworthError as error:
        outcomes |= dict.fromkeys(entries, error)
        return []
    planned = {coupon.coupon: coupon for coupon in sheet.coupons}
    there = _standing(session, trial, [entry.coupon for entry in entries])
    known = reading_rows.known_keys(session, [entry.weighing.entry_key for entry in entries])
    taken: set[str | None] = set()
    made: list[tuple[Entry, Reading]] = []
    later: list[Entry] = []
    for entry in entries:
        key, coupon = entry.weighing.entry_key, entry.coupon
        if coupon in taken or (key and key in taken):
            later.append(entry)
            continue
        try:
            if key in known:
                outcomes[entry] = reading_rows.sent_before(session, trial, coupon, entry.weighing)
                continue
            if coupon not in planned:
                raise not_found("coupon", coupon, list(planned))
            reading = reading_rows.planned_reading(sheet, planned[coupon], entry.weighing)
            if coupon in there:
                raise ConflictError([reading_rows.taken(coupon, there[coupon])])
        except BeadworthError as error:
            outcomes[entry] = error
            continue
        made.append((entry, reading))
        taken |= {coupon, key}
    outcomes |= _insert(session, trial, made)
    return later


def _standing(session: Session, trial: str, coupons: Sequence[str]) -> dict[str, int]:
    query = select(SlotRow.coupon, SlotRow.reading_id).where(
        SlotRow.trial_id == trial, SlotRow.coupon.in_(coupons)
    )
    return {row.coupon: row.reading_id for row in session.execute(query)}


def _insert(
    session: Session, trial: str, made: Sequence[tuple[Entry, Reading]]
) -> dict[Entry, StoredReading | BeadworthError]:
    if not made:
        return {}
    now = datetime.now(UTC)
    rows = [
        ReadingRow(
            trial_id=trial, at=now, source=reading_rows.TYPED, data=reading_to(reading),
            entry_key=entry.weighing.entry_key, author=entry.author,
        )
        for entry, reading in made
    ]  # fmt: skip
    reading_rows.insert_numbered(session, ReadingRow, rows)
    session.add_all(
        SlotRow(trial_id=trial, coupon=entry.coupon, reading_id=row.id)
        for (entry, _), row in zip(made, rows, strict=True)
    )
    session.flush()
    return {
        entry: snapshots.stored_reading(row, None)
        for (entry, _), row in zip(made, rows, strict=True)
    }
