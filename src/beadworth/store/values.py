"""What the bench hands out, as plain data."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any, Literal

from beadworth.core import Record
from beadworth.trial import Coupon, Plan, Reading, TrialSpec

State = Literal["current", "void", "superseded"]


@dataclass(frozen=True)
class RecordVersion:
    """One version of a rig or material."""

    at: datetime
    record: Record


@dataclass(frozen=True)
class StoredReading:
    """A weighing on the bench and what became of it."""

    reading_id: int
    trial: str
    reading: Reading
    state: State
    at: datetime
    """When it was entered, UTC."""
    reason: str | None
    """Why it does not count (any more)."""
    supersedes: int | None
    source: str
    """"typed", or the name of the file it came from."""


@dataclass(frozen=True)
class Amendment:
    """Coupons added to a locked plan."""

    number: int
    at: datetime
    what: str
    reason: str
    coupons: tuple[Coupon, ...]
    digest: str
    """Chained: of the digest before and these coupons."""


@dataclass(frozen=True)
class TrialRecord:
    """A trial on the bench."""

    id: str
    question: str
    spec: TrialSpec | None
    plan: Plan | None
    created_at: datetime
    locked_at: datetime | None
    """When its first reading was entered; the plan is locked from then on."""
    simulated: bool
    amendments: int
    readings: int
    """Readings that count now."""
    digest: str | None
    """Of the plan with its amendments."""


@dataclass(frozen=True)
class Note:
    """A dated document about something."""

    id: int
    kind: str
    subject: str
    at: datetime
    data: dict[str, Any]


@dataclass(frozen=True)
class BackupReport:
    """What was backed up, after the copy was checked."""

    path: Path
    bytes: int
    readings: int
    findings: tuple[str, ...] = ()
    """What a check found in the copy: it holds what the bench holds, faults too."""


@dataclass(frozen=True)
class CheckReport:
    """What a check looked at and found wrong; nothing found: sound."""

    trials: int
    readings: int
    findings: tuple[str, ...]

    @property
    def sound(self) -> bool:
        """True where nothing was found."""
        return not self.findings
