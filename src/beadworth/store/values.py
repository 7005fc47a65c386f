"""What the bench hands out, as plain data."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from beadworth.core import LEFT_OUT, Record
from beadworth.material import Material
from beadworth.rig import Rig
from beadworth.trial import Amendment, Coupon, JointErrors, Plan, Reading, TrialSpec

if TYPE_CHECKING:
    from beadworth.store.live import StoredLive

State = Literal["current", "voided", "superseded"]


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
    author: str | None = None
    """Who entered it; null: whoever worked at the machine itself, or an earlier release."""


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

    @property
    def planned(self) -> int | None:
        """Coupons of the plan; None where there is none."""
        return len(self.plan.coupons) if self.plan else None


@dataclass(frozen=True)
class TrialGroup:
    """The readings of a trial that are of one rig and one material."""

    rig: str
    material: str
    readings: int
    """Those that count now; 0 where all were voided."""


@dataclass(frozen=True)
class TrialOutline:
    """A trial as a list shows it: without its plan and its readings."""

    id: str
    question: str
    created_at: datetime
    simulated: bool
    spec: TrialSpec | None
    """None for a trial of readings alone."""
    planned: int | None
    """Coupons of the plan; None where there is none."""
    readings: int
    """Readings that count now."""
    groups: tuple[TrialGroup, ...]
    """What was weighed coupon by coupon, in order of the first reading."""
    live: tuple[TrialGroup, ...] = ()
    """What live weighings that count gave, in order of their beginning."""
    live_rigs: tuple[str, ...] = ()
    """Rigs that were weighed live, whether it counts or not."""

    @property
    def fitted(self) -> tuple[TrialGroup, ...]:
        """What ceilings are read from: the coupons that count, else the live weighings."""
        return tuple(group for group in self.groups if group.readings) or self.live

    @property
    def weighed(self) -> dict[str, None]:
        """Rigs that ceilings are read of, in order of the first reading."""
        return dict.fromkeys(group.rig for group in self.fitted)


@dataclass(frozen=True)
class TrialSnapshot:
    """A trial with all that belongs to it, as it stood at one moment."""

    record: TrialRecord
    coupons: tuple[Coupon, ...]
    """The run sheet: the plan's coupons and those of its amendments; empty without a plan."""
    readings: tuple[StoredReading, ...]
    """In order of entry, those that do not count too."""
    amendments: tuple[Amendment, ...]
    rigs: Mapping[str, Rig]
    materials: Mapping[str, Material]
    """Newest versions of what the plan and the readings name, as far as the bench knows them."""
    planned_rigs: Mapping[str, Rig] = field(default_factory=dict)
    """Rigs whose record was changed after the plan, as they were then; see ``as_planned``."""
    live: tuple[StoredLive, ...] = ()
    """Live weighings in the order begun, those that do not count too."""

    @cached_property
    def current(self) -> tuple[Reading, ...]:
        """The readings that count now."""
        return tuple(stored.reading for stored in self.readings if stored.state == "current")

    @cached_property
    def counted_live(self) -> tuple[StoredLive, ...]:
        """The live weighings that carry the trial's ceilings: none where a coupon counts."""
        return () if self.current else tuple(live for live in self.live if live.counts)

    @cached_property
    def fitted(self) -> tuple[Reading, ...]:
        """What ceilings are read from: the coupons that count, else the live weighings."""
        found = (live.finding for live in self.counted_live)
        return self.current or tuple(r for one in found if one for r in one.readings)

    @property
    def joint(self) -> tuple[JointErrors, ...]:
        """Errors of those readings that belong together."""
        return tuple(live.finding.joint for live in self.counted_live if live.finding)

    @property
    def plan(self) -> Plan | None:
        """The plan with the coupons of its amendments."""
        plan = self.record.plan
        return None if plan is None else replace(plan, coupons=self.coupons)

    def known(self, readings: Iterable[Reading]) -> tuple[dict[str, Rig], dict[str, Material]]:
        """The rigs and materials that some of its readings name, where the bench knows them.

        The rigs are those the trial was planned with, whatever was changed in a record since.
        """
        named = {name for reading in readings for name in (reading.rig, reading.material)}
        rigs = {name: self.planned_rigs.get(name, rig) for name, rig in self.rigs.items()
                if name in named}  # fmt: skip
        return rigs, {name: kind for name, kind in self.materials.items() if name in named}


@dataclass(frozen=True)
class Note:
    """A dated document about something."""

    id: int
    kind: str
    subject: str
    at: datetime
    data: dict[str, Any]
    author: str | None = None
    """Who entered it; None: whoever worked at the machine itself, or an earlier release."""


@dataclass(frozen=True)
class Grant:
    """A right given to whoever shows a secret."""

    id: int
    kind: str
    """"code" (for pairing, once), "phone", "person", "script", or "session" of a person."""
    name: str
    role: str
    """What it lets do: "owner", "measurer", "reader", or "weigh-in" of one trial."""
    trial: str | None
    at: datetime
    """When it was given, UTC."""
    until: datetime | None
    """When it runs out, UTC; null: never."""
    digest: str = field(metadata=LEFT_OUT, repr=False)
    """SHA-256 of the secret, which itself is stored nowhere."""
    state: Literal["open", "used", "withdrawn"] = "open"
    ended: datetime | None = None
    """When it was used or withdrawn, UTC."""
    author: str | None = None
    """Who gave it."""


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
