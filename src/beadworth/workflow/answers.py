"""What the interfaces answer: each a dataclass, from which the published shape is made.

Where an answer is what a use case gives (a comparison, a speed sheet, a replay), that type
itself is the answer; here stand those that put several things together.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from beadworth.capacity import Comparison, FitDocument, NextCoupons, SpeedSheet, fit_document
from beadworth.core import flat
from beadworth.fit import FitAnswer
from beadworth.material import Material
from beadworth.melt import Prediction
from beadworth.replay import Replay
from beadworth.rig import Rig
from beadworth.store import (
    StoredEntry,
    StoredPrint,
    StoredReading,
    TrialOutline,
    TrialRecord,
    TrialSnapshot,
)
from beadworth.trial import Amendment, Coupon, Plan
from beadworth.typical import Typical
from beadworth.wear import Change, JournalEntry, WearEntry, WearSummary
from beadworth.workflow.bringup import StoredBringUp
from beadworth.workflow.packages import PackageLine
from beadworth.worth import Answer as WorthAnswer
from beadworth.worth import WorthCase

__all__ = [
    "Amended",
    "BringUps",
    "Comparison",
    "EarlierCoupon",
    "FitAnswer",
    "FitDocument",
    "Imported",
    "Journal",
    "Materials",
    "NextCoupons",
    "Packages",
    "Planned",
    "Predictions",
    "Prints",
    "Readings",
    "Replay",
    "RigWear",
    "Rigs",
    "RunSheet",
    "SheetRow",
    "SpeedSheet",
    "StoredCase",
    "StoredPackage",
    "StoredPlan",
    "TrialAnswer",
    "TrialLine",
    "Trials",
    "Typical",
    "Voided",
    "WearChange",
    "WearLog",
    "Weighing",
    "WorthAnswer",
    "WorthCases",
    "WorthLine",
    "fit_document",
    "run_sheet",
]


@dataclass(frozen=True)
class Rigs:
    """Every rig on the bench, in its present version."""

    rigs: tuple[Rig, ...]


@dataclass(frozen=True)
class Materials:
    """Every material on the bench, in its present version."""

    materials: tuple[Material, ...]


@dataclass(frozen=True)
class TrialLine:
    """A trial in a list."""

    record: TrialOutline = field(metadata=flat("id", "readings", "simulated", "question"))


@dataclass(frozen=True)
class Trials:
    """Every trial on the bench, newest first."""

    trials: tuple[TrialLine, ...]


@dataclass(frozen=True)
class TrialAnswer:
    """One trial: question, record, plan, lock, changes."""

    record: TrialRecord = field(
        metadata=flat(
            "id", "question", "simulated", "created_at", "locked_at", "digest", "spec", "plan",
            "readings",
        )
    )  # fmt: skip
    amendments: tuple[Amendment, ...]


@dataclass(frozen=True)
class Planned:
    """A plan that is calculated and not stored."""

    plan: Plan


@dataclass(frozen=True)
class StoredPlan:
    """A plan that is stored as a trial."""

    trial: str
    plan: Plan


@dataclass(frozen=True)
class SheetRow:
    """A coupon of the run sheet."""

    coupon: Coupon = field(metadata=flat())
    net_g: float | None
    """Its mass; null where no reading of it counts."""


@dataclass(frozen=True)
class RunSheet:
    """The coupons in the order to make them, with what is weighed."""

    coupons: tuple[SheetRow, ...]


def run_sheet(snapshot: TrialSnapshot) -> RunSheet:
    """The run sheet of a trial."""
    net = {reading.coupon: reading.net_g for reading in snapshot.current}
    return RunSheet(tuple(SheetRow(c, net.get(c.coupon)) for c in snapshot.coupons))


@dataclass(frozen=True)
class Readings:
    """Every reading in order of entry, voided and superseded ones too."""

    readings: tuple[StoredReading, ...]


@dataclass(frozen=True)
class EarlierCoupon:
    """A coupon weighed before that should be weighed or run once more."""

    coupon: str
    reason: str


@dataclass(frozen=True)
class Weighing:
    """What a weighing is answered with; the reading is committed before."""

    reading_id: int
    coupon: str
    net_g: float
    loss: float | None
    u_loss: float | None
    """Standard uncertainty of the loss; null until there is a curve."""
    fitted_loss: float | None
    """Where the curve of the others has it."""
    low: float | None
    """Lowest loss of a good coupon here, 95 %; null while the curve is open."""
    high: float | None
    p_value: float | None
    again: bool
    """True where it should be weighed or run once more."""
    reason: str
    earlier: EarlierCoupon | None
    """A coupon weighed before that the others now put out of line."""
    sentence: str


@dataclass(frozen=True)
class Imported:
    """How many readings a table brought, and to which trial."""

    trial: str
    readings: int


@dataclass(frozen=True)
class Amended:
    """A change of a plan: its number, the digest after it, the coupons it added."""

    amendment: Amendment = field(metadata=flat("number", "digest", "coupons"))


@dataclass(frozen=True)
class Packages:
    """Every imported package, oldest first."""

    packages: tuple[PackageLine, ...]


@dataclass(frozen=True)
class StoredPackage:
    """A package just given."""

    package: PackageLine = field(metadata=flat())
    new: bool
    """False where it was here already."""


@dataclass(frozen=True)
class Prints:
    """Every print, the one given last first."""

    prints: tuple[StoredPrint, ...]


@dataclass(frozen=True)
class WorthLine:
    """A case on the bench, and what it came to when it was stored."""

    name: str
    at: str
    sentence: str
    verdict: str


@dataclass(frozen=True)
class WorthCases:
    """Every case, the one stored last first."""

    cases: tuple[WorthLine, ...]


@dataclass(frozen=True)
class StoredCase:
    """A stored case, as typed, and what it comes to."""

    name: str
    at: str
    case: WorthCase
    answer: WorthAnswer


@dataclass(frozen=True)
class BringUps:
    """What bring-ups of a rig found and stored, newest first."""

    rig: str
    results: tuple[StoredBringUp, ...]


@dataclass(frozen=True)
class Predictions:
    """One prediction per temperature: predicted, not measured."""

    predictions: tuple[Prediction, ...]


@dataclass(frozen=True)
class WearLog:
    """Every entry of a rig's log in the order entered."""

    rig: str
    entries: tuple[StoredEntry[WearEntry], ...]


@dataclass(frozen=True)
class Journal:
    """Every page of a journal by the day it tells of."""

    subject: str
    pages: tuple[StoredEntry[JournalEntry], ...]


@dataclass(frozen=True)
class RigWear:
    """What the log of a rig says."""

    rig: str
    summary: WearSummary = field(metadata=flat())


@dataclass(frozen=True)
class WearChange:
    """A check before and after a change."""

    rig: str
    check: str
    unit: str
    change: Change = field(metadata=flat())
    resolved: bool
    """Whether the interval leaves zero out."""
    sentence: str


@dataclass(frozen=True)
class Voided:
    """Which entry no longer counts."""

    voided: int
    reason: str
