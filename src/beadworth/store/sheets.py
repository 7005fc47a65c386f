"""What an entry is checked against: the run sheet, rigs and materials of a trial, kept in memory.

Reading a whole trial for one mass costs milliseconds, and many people at one bench would wait for
them in turn. What is kept is good only while plan, amendments and records stand as they did; one
small statement asks that at every entry, within the entry's own turn to write.
"""

from __future__ import annotations

import threading
from collections import OrderedDict
from dataclasses import replace
from typing import Any
from weakref import WeakKeyDictionary

from sqlalchemy import Engine, func, select
from sqlalchemy.orm import Session

from beadworth.store import snapshots
from beadworth.store.models import AmendmentRow, PlanRow, RecordRow
from beadworth.store.values import TrialSnapshot

MOST = 16
"""Trials that are kept for each open bench."""
_kept: WeakKeyDictionary[Engine, OrderedDict[str, tuple[Any, TrialSnapshot]]] = WeakKeyDictionary()
_lock = threading.Lock()


def sheet_of(session: Session, trial: str) -> TrialSnapshot:
    """A trial as :func:`.snapshots.one` has it, but without its readings.

    Raises
    ------
    NotFoundError
        No trial of that id.
    """
    engine = session.get_bind()
    assert isinstance(engine, Engine)
    mark = _mark(session, trial)
    with _lock:
        there = _kept.setdefault(engine, OrderedDict())
        found = there.get(trial)
        if found is not None and found[0] == mark:
            there.move_to_end(trial)
            return found[1]
    made = replace(snapshots.one(session, trial), readings=())
    with _lock:
        there[trial] = mark, made
        there.move_to_end(trial)
        while len(there) > MOST:
            there.popitem(last=False)
    return made


def _mark(session: Session, trial: str) -> tuple[Any, ...]:
    """What changes whenever the sheet, or a record that a reading is checked against, does."""

    def last(table: type[PlanRow] | type[AmendmentRow]) -> Any:
        newest = select(table.digest).where(table.trial_id == trial).order_by(table.id.desc())
        return newest.limit(1).scalar_subquery()

    records = select(func.max(RecordRow.id)).scalar_subquery()
    return tuple(session.execute(select(last(PlanRow), last(AmendmentRow), records)).one())
