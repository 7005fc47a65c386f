"""Every trial of a bench in short, however many readings there are.

What was counted stays in memory: rows are only ever added, so a list is brought up to date by
the rows that came since.
"""

from __future__ import annotations

import threading
from collections import Counter
from collections.abc import Iterable, Sequence

from sqlalchemy import Row, func, select
from sqlalchemy.orm import Session

from beadworth.core import from_json
from beadworth.store import live as live_rows
from beadworth.store.models import EventRow, NoteRow, PlanRow, ReadingRow, TrialRow
from beadworth.store.values import TrialGroup, TrialOutline
from beadworth.trial import TrialSpec

Pair = tuple[str, str]
_LIVE = NoteRow.kind.in_((live_rows.LIVE_KIND, live_rows.FOUND_KIND))
_AT_ONCE = 500
"""Plans fetched by one statement."""
_NEWEST = (
    select(func.coalesce(func.max(ReadingRow.id), 0)).scalar_subquery(),
    select(func.coalesce(func.max(EventRow.id), 0)).scalar_subquery(),
    select(func.coalesce(func.max(NoteRow.id), 0)).where(_LIVE).scalar_subquery(),
)
_RIG, _MATERIAL = ReadingRow.data["rig"].as_string(), ReadingRow.data["material"].as_string()


class Outlines:
    """The trials of one open bench in short; may be asked from several threads."""

    def __init__(self) -> None:
        self._one_at_a_time = threading.Lock()
        self._plans: dict[int, tuple[TrialSpec, int]] = {}
        self._counted: dict[str, dict[Pair, int]] = {}
        self._live: dict[str, tuple[tuple[TrialGroup, ...], tuple[str, ...]]] = {}
        self._last = (0, 0, 0)

    def every(self, session: Session) -> list[TrialOutline]:
        """All trials, newest first; each statement of the session must see what is there then."""
        with self._one_at_a_time:
            newest = select(func.max(PlanRow.id)).where(PlanRow.trial_id == TrialRow.id)
            query = select(TrialRow, newest.correlate(TrialRow).scalar_subquery(), *_NEWEST)
            rows = session.execute(query.order_by(TrialRow.at.desc(), TrialRow.id)).all()
            if rows:
                self._count(session, rows[0][2:])
            self._read_plans(session, {row[1] for row in rows if row[1] is not None})
            return [self._outline(row[0], row[1]) for row in rows]

    def _outline(self, row: TrialRow, plan: int | None) -> TrialOutline:
        spec, planned = self._plans[plan] if plan is not None else (None, None)
        groups = tuple(
            TrialGroup(rig, material, count)
            for (rig, material), count in self._counted.get(row.id, {}).items()
        )
        count = sum(group.readings for group in groups)
        return TrialOutline(
            row.id,
            row.question,
            row.at,
            row.simulated,
            spec,
            planned,
            count,
            groups,
            *self._live.get(row.id, ((), ())),
        )

    def _count(self, session: Session, newest: Sequence[int]) -> None:
        """Count the readings, and what became of them, since the last time and up to these."""
        reading, event, note = self._last
        if any(now < then for now, then in zip(newest, self._last, strict=True)):
            for held in (self._counted, self._plans, self._live):  # another database stands there
                held.clear()
            reading = event = note = 0
        if newest[0] > reading:
            added = (
                select(ReadingRow.trial_id, _RIG, _MATERIAL, func.count())
                .where(ReadingRow.id > reading, ReadingRow.id <= newest[0])
                .group_by(ReadingRow.trial_id, _RIG, _MATERIAL)
                .order_by(func.min(ReadingRow.id))
            )
            self._add(session.execute(added).all(), 1)
        if newest[1] > event:
            ended = (
                select(ReadingRow.trial_id, _RIG, _MATERIAL, func.count())
                .join(EventRow, EventRow.reading_id == ReadingRow.id)
                .where(EventRow.id > event, EventRow.id <= newest[1])
                .group_by(ReadingRow.trial_id, _RIG, _MATERIAL)
            )
            self._add(session.execute(ended).all(), -1)
        if newest[2] > note:
            since = select(NoteRow.subject).where(_LIVE, NoteRow.id > note).distinct()
            self._look_at_live(session, session.scalars(since).all())
        self._last = (newest[0], newest[1], newest[2])

    def _look_at_live(self, session: Session, trials: Sequence[str]) -> None:
        """What trials were weighed live, anew: there are few such notes."""
        for trial, weighings in live_rows.by_trial(session, trials).items():
            counts = Counter(
                (reading.rig, reading.material)
                for one in weighings
                if one.counts and one.finding
                for reading in one.finding.readings
            )
            groups = tuple(TrialGroup(*pair, count) for pair, count in counts.items())
            self._live[trial] = groups, tuple(dict.fromkeys(one.rig.name for one in weighings))

    def _add(self, rows: Iterable[Row[str, str, str, int]], sign: int) -> None:
        for trial, rig, material, count in rows:
            groups = self._counted.setdefault(trial, {})
            groups[rig, material] = groups.get((rig, material), 0) + sign * count

    def _read_plans(self, session: Session, plans: set[int]) -> None:
        """Read what plans say of their trials, each once: a plan never changes."""
        unknown = sorted(plans - self._plans.keys())
        for first in range(0, len(unknown), _AT_ONCE):
            some = unknown[first : first + _AT_ONCE]
            parts = select(
                PlanRow.id,
                PlanRow.data["spec"],
                func.json_array_length(PlanRow.data["coupons"]),
            ).where(PlanRow.id.in_(some))
            for plan, spec, coupons in session.execute(parts):
                self._plans[plan] = (from_json(TrialSpec, spec, "plan"), coupons)
