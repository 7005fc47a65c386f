"""What the trial page shows of a trial as it stands: curve, ceilings at any loss, coupons in doubt.

No arithmetic here: the fit and what is read off it are :mod:`beadworth.capacity`'s, what is
expected before anything is weighed is :mod:`beadworth.melt`'s.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

from beadworth.capacity import Ceiling, ceiling_at, doubtful_coupons, early_losses, speeds
from beadworth.core import RESERVE, BeadworthError, FitError
from beadworth.workflow.capacity import loss_of, trial_fit
from beadworth.workflow.melt import predict_rig, with_usual_bore
from beadworth.workflow.report import compared_rigs, entries_of, rig_order

if TYPE_CHECKING:
    from beadworth.capacity import Difference, Fit, GroupFit, SpeedSheet
    from beadworth.report import ReadingEntry
    from beadworth.store import TrialSnapshot
    from beadworth.trial import Coupon

LOSSES: Final = (
    *(0.005 + 0.001 * i for i in range(45)),
    *(0.05 + 0.0025 * i for i in range(20)),
    *(0.1 + 0.005 * i for i in range(21)),
)
"""Losses a ceiling can be read at on the page: 0.5 to 20 %, finer where it matters."""


@dataclass(frozen=True)
class LiveTrial:
    """A trial as it stands, for one chart and its numbers."""

    loss: float
    """The loss of the trial itself."""
    losses: tuple[float, ...]
    """Losses a ceiling can be read at, rising; the trial's own is among them."""
    groups: tuple[GroupFit, ...]
    """Fitted groups, the baseline's first; empty while there is no curve."""
    entries: tuple[ReadingEntry, ...]
    ceilings: tuple[Ceiling, ...]
    """Of each group and tested temperature at every one of ``losses``."""
    differences: tuple[Difference, ...]
    """Candidate less baseline at the trial's own loss; empty in a draft, and of one rig."""
    planned: tuple[Coupon, ...]
    """Coupons that wait."""
    predicted: tuple[Ceiling, ...]
    """Expected by the melt model where nothing is weighed yet; empty where it cannot say."""
    doubtful: frozenset[str]
    """Coupons that stand out from the curve."""
    waiting_for: str
    """What is missing for a curve; empty where there is one."""
    draft: bool
    """Whether the ends of the intervals are still rough."""


def live_trial(snapshot: TrialSnapshot, *, draft: bool = False) -> LiveTrial:
    """A trial as it stands; ``draft`` takes a sixth of the time (see :func:`.capacity.fit`)."""
    loss = loss_of(snapshot)
    losses = tuple(sorted({round(value, 4) for value in (*LOSSES, loss)}))
    fit, why = _fitted(snapshot, draft)
    groups = _in_order(snapshot, fit)
    weighed = {r.coupon for r in snapshot.current}
    compared = None if draft else compared_rigs(snapshot, None, fit)
    return LiveTrial(
        loss=loss,
        losses=losses,
        groups=groups,
        entries=_entries(snapshot, fit),
        ceilings=_ceilings(fit, groups, losses) if fit else (),
        differences=compared.differences if compared else (),
        planned=tuple(c for c in snapshot.coupons if c.coupon not in weighed),
        predicted=() if snapshot.fitted else _predicted(snapshot),
        doubtful=doubtful_coupons(fit) if fit else frozenset(),
        waiting_for=why,
        draft=draft,
    )


def _fitted(snapshot: TrialSnapshot, draft: bool) -> tuple[Fit | None, str]:
    try:
        return trial_fit(snapshot, draft=draft), ""
    except FitError as error:
        return None, error.problems[0].remedy


def _in_order(snapshot: TrialSnapshot, fit: Fit | None) -> tuple[GroupFit, ...]:
    if fit is None:
        return ()
    names = rig_order(snapshot.record, [group.rig for group in fit.groups])
    return tuple(sorted(fit.groups, key=lambda group: names.index(group.rig)))


def _entries(snapshot: TrialSnapshot, fit: Fit | None) -> tuple[ReadingEntry, ...]:
    """Readings with the loss the curve has for them, else the one against their own low flows."""
    entries = entries_of(snapshot, fit)
    counted = [e for e in entries if e.state == "current"]
    early = iter(early_losses([e.reading for e in counted]))
    made = []
    for entry in entries:
        loss = next(early) if entry.state == "current" else None
        made.append(replace(entry, loss=loss) if entry.loss is None else entry)
    return tuple(made)


def _ceilings(fit: Fit, groups: Sequence[GroupFit], losses: Sequence[float]) -> tuple[Ceiling, ...]:
    return tuple(
        ceiling_at(fit, group.rig, group.material, curve.temperature_c, loss)
        for group in groups
        for curve in group.curves
        for loss in losses
    )


def _predicted(snapshot: TrialSnapshot) -> tuple[Ceiling, ...]:
    """What the melt model expects of the rigs of a plan; empty where a record lacks what it needs.

    At the trial's loss, which comes before the drive slips.
    """
    spec = snapshot.record.spec
    if spec is None:
        return ()
    material = snapshot.materials.get(spec.material)
    found: list[Ceiling] = []
    for name in filter(None, (spec.baseline, spec.candidate)):
        rig = snapshot.rigs.get(name)
        if rig is None or material is None:
            continue
        try:
            predictions = predict_rig(
                with_usual_bore(rig), material, spec.temperatures_c, loss=spec.loss
            )
        except BeadworthError:
            continue
        found += [
            Ceiling(
                name, material.name, p.temperature_c, spec.loss,
                p.at_loss_mm3_s, p.at_loss_low, p.at_loss_high, "interval",
            )
            for p in predictions
        ]  # fmt: skip
    return tuple(found)


def speeds_of_bead(
    snapshot: TrialSnapshot,
    width_mm: float,
    layer_mm: float,
    *,
    loss: float | None = None,
    reserve: float = RESERVE,
) -> SpeedSheet:
    """Top speed of one bead at every tested temperature, the ceilings read at any loss.

    Raises
    ------
    FitError
        No curve yet; a reserve, width or height out of range.
    """
    rigs, materials = snapshot.known(snapshot.fitted)
    return speeds(
        trial_fit(snapshot), widths_mm=(width_mm,), layers_mm=(layer_mm,), reserve=reserve,
        loss=loss, rigs=rigs, materials=materials,
    )  # fmt: skip
