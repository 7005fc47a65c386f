"""What a dossier is made of: plain data, gathered by whoever publishes it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from typing import TYPE_CHECKING, Any, Literal

from beadworth.core import RESERVE

if TYPE_CHECKING:
    from beadworth.capacity import Ceiling, Difference, GroupFit, SpeedRow, SpeedSetting
    from beadworth.material import Material
    from beadworth.rig import Rig
    from beadworth.trial import Amendment, Coupon, Plan, Reading, TrialSpec

State = Literal["current", "voided", "superseded"]


@dataclass(frozen=True)
class ReadingEntry:
    """One reading as the bench keeps it, with what became of it."""

    reading: Reading
    state: State = "current"
    reason: str = ""
    """Why it was voided or superseded."""
    at: str = ""
    """When it was entered, as the bench writes it; empty where unknown."""
    order: int | None = None
    """1-based place in the run sheet; None where there is no plan."""
    loss: float | None = None
    """1 − delivered ÷ commanded against the references of its block; None where unknown."""
    u_loss: float | None = None
    live: bool = False
    """Whether it is a bin of a live weighing, no coupon."""


@dataclass(frozen=True)
class ReportData:
    """All that stands in a dossier. What is empty or None leaves its section out.

    Nothing personal belongs here: no user name, no folder, no file path.
    """

    question: str
    rigs: tuple[Rig, ...]
    """The baseline first; parents named by them may follow."""
    material: Material | None
    generated_at: date
    candidate: str | None = None
    """Name of the candidate rig; None where one rig was tested alone."""
    spec: TrialSpec | None = None
    plan: Plan | None = None
    coupons: tuple[Coupon, ...] = ()
    """The run sheet, the coupons of amendments too; empty where there is no plan."""
    entries: tuple[ReadingEntry, ...] = ()
    groups: tuple[GroupFit, ...] = ()
    ceilings: tuple[Ceiling, ...] = ()
    """Those read at tested temperatures."""
    law_ceilings: tuple[Ceiling, ...] = ()
    """The law over a fine grid of temperatures, for the line and band."""
    differences: tuple[Difference, ...] = ()
    """Candidate less baseline, a row per common temperature."""
    comparison_notes: tuple[str, ...] = ()
    """What to know of the differences, the notes on both curves included."""
    speeds: tuple[SpeedRow, ...] = ()
    speed_settings: tuple[SpeedSetting, ...] = ()
    reserve: float = RESERVE
    amendments: tuple[Amendment, ...] = ()
    disclosure: str = ""
    """Who supplied the hardware, in a sentence; empty: built from the rigs."""
    versions: Mapping[str, str] = field(default_factory=dict)
    """Software name to version."""
    simulated: bool = False
    """True where readings are simulated; a simulated rig or material says so itself."""
    materials: tuple[Material, ...] = ()
    """Every material weighed that the bench knows; ``material`` is the one where it is alone."""
    section_data: Mapping[str, Any] = field(default_factory=dict)
    """What sections of other features need, by section key."""
    changed_since: tuple[str, ...] = ()
    """Rigs whose record says something else now than when the trial was planned."""

    @property
    def baseline(self) -> str:
        """Name of the baseline rig."""
        return self.rigs[0].name if self.rigs else ""

    @property
    def any_simulated(self) -> bool:
        """True where any part of it is simulated."""
        return (
            self.simulated
            or any(rig.simulated for rig in self.rigs)
            or bool(self.material and self.material.simulated)
        )


def with_losses(
    entries: Sequence[ReadingEntry], groups: Sequence[GroupFit]
) -> tuple[ReadingEntry, ...]:
    """The entries with a loss also where the fit gave none: voided and superseded ones.

    They are held against the delivery of their own block, so that a reader sees what was
    put aside and where it lay. An entry of a block without a fitted delivery stays without.
    """
    from beadworth.trial import delivered_g_per_mm

    anchors = {
        (d.rig, d.material, d.temperature_c): d.g_per_m for group in groups for d in group.delivery
    }
    made = []
    for entry in entries:
        r = entry.reading
        anchor = anchors.get((r.rig, r.material, r.temperature_c))
        if entry.loss is None and entry.state != "current" and anchor:
            delivered = float(delivered_g_per_mm([r])[0]) * 1000.0
            made.append(replace(entry, loss=1 - delivered / anchor))
        else:
            made.append(entry)
    return tuple(made)
