"""What a fit check is asked, and the checks of two rigs of the bench."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from pydantic import Field

from beadworth.core import NotFoundError, Record
from beadworth.fit import Check, fit_check, unchanged
from beadworth.workflow.materials import find_material

if TYPE_CHECKING:
    from beadworth.rig import Rig
    from beadworth.store import Bench


class FitInputs(Record):
    """Two rigs of the bench, and what is to be printed."""

    parent: str | None = Field(None, description="rig as it is")
    upgrade: str | None = Field(None, description="upgraded rig")
    material: str | None = Field(None, description="material", examples=["PLA"])
    temperature: float | None = Field(
        None, ge=20, le=600, description="nozzle temperature, °C", examples=[220]
    )
    flow: float | None = Field(
        None, ge=0.01, le=1000, description="wanted flow, mm³/s", examples=[15]
    )


@dataclass(frozen=True)
class CheckedPair:
    """The checks of a rig after an upgrade, and of the one before."""

    before: Rig
    after: Rig
    checks: tuple[Check, ...]
    earlier: tuple[Check, ...]
    same: frozenset[str]
    """Names of checks with the same number and verdict as before; empty for a rig alone."""

    @property
    def alone(self) -> bool:
        """Whether a rig is checked as it stands."""
        return self.after is self.before


def rig_pair(bench: Bench, inputs: FitInputs) -> tuple[Rig, Rig]:
    """The rig before and after; with one name only, a rig against its own parent or itself.

    Raises
    ------
    NotFoundError
        A rig that is not on the bench.
    """
    if inputs.parent and inputs.upgrade:
        return bench.rig(inputs.parent), bench.rig(inputs.upgrade)
    after = bench.rig(inputs.upgrade or inputs.parent or "")
    if inputs.parent or not after.parent:
        return after, after
    try:
        return bench.rig(after.parent), after
    except NotFoundError:
        return after, after


def check_pair(bench: Bench, before: Rig, after: Rig, inputs: FitInputs) -> CheckedPair:
    """Check a rig against the one it was made from.

    Raises
    ------
    NotFoundError
        No such material.
    """
    material = find_material(bench, inputs.material) if inputs.material else None
    job = (material, inputs.temperature, inputs.flow)
    checks = tuple(fit_check(before, after, *job))
    if after is before:
        return CheckedPair(before, after, checks, checks, frozenset())
    earlier = tuple(fit_check(before, before, *job))
    return CheckedPair(before, after, checks, earlier, frozenset(unchanged(checks, earlier)))
