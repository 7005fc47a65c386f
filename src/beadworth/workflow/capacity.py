"""What a trial or a table of readings says of a capacity: fit, speeds, comparison, next coupons.

No arithmetic here: each function fetches plain data from the store and calls the package
that knows.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from functools import lru_cache
from typing import TYPE_CHECKING, Any, Final

from beadworth.core import LOSS, FitError, NotFoundError, R, Record
from beadworth.rig import Rig
from beadworth.trial import planned_scatter

if TYPE_CHECKING:
    from beadworth.capacity import Answered, Comparison, Fit, NextCoupons, SpeedSheet
    from beadworth.material import Material
    from beadworth.store import TrialSnapshot
    from beadworth.trial import JointErrors, Reading, Spool

WEIGHED_LIVE: Final = (
    "read from live weighing, a flow ramp on a balance, not from coupons; that has been tried in "
    "simulation alone so far."
)
"""What a fit says of itself where no coupon was weighed."""


def trial_fit(snapshot: TrialSnapshot, loss: float | None = None, *, draft: bool = False) -> Fit:
    """The capacity of a trial from the readings that count.

    ``loss`` left out: the one the trial asks for, else 2 %. Fits are cached
    by their readings, so a second call costs nothing. ``draft``: see
    :func:`beadworth.capacity.fit`.

    Raises
    ------
    FitError
        No reading counts, or those that do carry no curve.
    """
    record, readings = snapshot.record, snapshot.fitted
    if not readings:
        raise FitError(
            "no reading counts yet, so there is no curve.",
            where=f"trial {record.id}",
            remedy="Weigh coupons first, or import a table of readings.",
        )
    spool = record.spec.spool if record.spec else None
    known = snapshot.known(readings)
    joint = snapshot.joint
    scatter = None if joint else planned_scatter(record.plan)
    return fit_readings(
        readings, loss_of(snapshot, loss), *known, spool, scatter, draft, joint=joint
    )


def loss_of(snapshot: TrialSnapshot, loss: float | None = None) -> float:
    """The loss a ceiling is read at: the one given, else the trial's own, else 2 %."""
    if loss is not None:
        return loss
    return snapshot.record.spec.loss if snapshot.record.spec else LOSS


def fit_readings(
    readings: Sequence[Reading],
    loss: float,
    rigs: Mapping[str, Rig],
    materials: Mapping[str, Material],
    spool: Spool | None = None,
    scatter: float | None = None,
    draft: bool = False,
    joint: Sequence[JointErrors] = (),
) -> Fit:
    """The capacity of readings, whoever made them; cached by what it is made from.

    ``joint``: where they were weighed live; the fit then says so.
    """
    records = frozen(rigs), frozen(materials)
    return _fit(tuple(readings), loss, *records, spool, scatter, draft, tuple(joint))


def frozen(records: Mapping[str, Record]) -> tuple[str, ...]:
    """Records as text, in one order: a key for a cache."""
    return tuple(records[name].model_dump_json() for name in sorted(records))


@lru_cache(maxsize=32)
def _fit(
    readings: tuple[Reading, ...],
    loss: float,
    rigs: tuple[str, ...],
    materials: tuple[str, ...],
    spool: Spool | None,
    scatter: float | None,
    draft: bool,
    joint: tuple[JointErrors, ...],
) -> Fit:
    from beadworth import capacity
    from beadworth.material import Material

    found = capacity.fit(
        readings,
        loss=loss,
        rigs=thawed(Rig, rigs),
        materials=thawed(Material, materials),
        spool=spool,
        scatter=scatter,
        draft=draft,
        joint=joint,
    )
    if not joint:
        return found
    groups = tuple(replace(g, notes=(WEIGHED_LIVE, *g.notes)) for g in found.groups)
    return replace(found, groups=groups)


def thawed(kind: type[R], texts: tuple[str, ...]) -> dict[str, R]:
    """Records by name from their texts, as :func:`frozen` gives them."""
    records = [kind.model_validate_json(text) for text in texts]
    return {record.name: record for record in records}  # pyrefly: ignore[missing-attribute]


def trial_next_coupons(
    snapshot: TrialSnapshot, count: int, loss: float | None = None
) -> NextCoupons:
    """The coupons that would narrow a trial's ceilings most; nothing is stored.

    Where the trial asks for a difference, no more of them than should answer it.

    Raises
    ------
    FitError
        Readings that carry no curve yet.
    """
    rigs, _ = snapshot.known(snapshot.current)
    spec = snapshot.record.spec
    width = spec.difference_mm3_s if spec else None
    scatter = planned_scatter(snapshot.record.plan)
    return _next(snapshot.current, count, loss_of(snapshot, loss), frozen(rigs), width, scatter)


@lru_cache(maxsize=8)
def _next(
    readings: tuple[Reading, ...],
    count: int,
    loss: float,
    rigs: tuple[str, ...],
    width_mm3_s: float | None,
    scatter: float | None,
) -> NextCoupons:
    from beadworth.capacity import next_coupons

    known = thawed(Rig, rigs)
    return next_coupons(
        readings, count, loss=loss, rigs=known, width_mm3_s=width_mm3_s, scatter=scatter
    )


def trial_question(snapshot: TrialSnapshot, loss: float | None = None) -> Answered | None:
    """How far a trial's question is answered; None where it names no difference that counts.

    Raises
    ------
    FitError
        Readings that carry no curve yet.
    """
    from beadworth.capacity import answered

    spec = snapshot.record.spec
    if spec is None or spec.difference_mm3_s is None:
        return None
    fit = trial_fit(snapshot, loss)
    compared = None
    if spec.candidate is not None:
        if not {spec.baseline, spec.candidate} <= {group.rig for group in fit.groups}:
            return None
        compared = trial_comparison(snapshot, loss=loss)
    ceilings = [c for c in fit.ceilings if c.basis == "readings"]
    return answered(ceilings, spec.difference_mm3_s, compared)


def trial_speeds(snapshot: TrialSnapshot, loss: float | None = None, **options: Any) -> SpeedSheet:
    """The speed sheet of a trial; ``options`` as :func:`beadworth.capacity.speeds` takes it."""
    from beadworth import capacity

    rigs, materials = snapshot.known(snapshot.fitted)
    fit = trial_fit(snapshot, loss)
    return capacity.speeds(fit, rigs=rigs, materials=materials, **options)


def trial_comparison(
    snapshot: TrialSnapshot,
    baseline: str | None = None,
    candidate: str | None = None,
    loss: float | None = None,
    **options: Any,
) -> Comparison:
    """What the candidate of a trial gains; left out, the rigs are those of its plan.

    Raises
    ------
    NotFoundError
        A rig that was not weighed, or a trial of one rig.
    FitError
        No temperature both were weighed at.
    """
    from beadworth import capacity

    fit = trial_fit(snapshot, loss)
    spec = snapshot.record.spec
    weighed = list(dict.fromkeys(group.rig for group in fit.groups))
    baseline = baseline or (spec.baseline if spec else weighed[0])
    others = [name for name in weighed if name != baseline]
    candidate = candidate or (spec.candidate if spec else None) or next(iter(others), None)
    if candidate is None:
        raise NotFoundError(
            f"only {baseline} was weighed in this trial.",
            where=f"trial {snapshot.record.id}",
            remedy="Compare needs coupons of two rigs in one trial.",
        )
    rigs, _ = snapshot.known(snapshot.fitted)
    return capacity.compare(fit, baseline, candidate, rigs=rigs, **options)


def comparison_apart(
    first: TrialSnapshot,
    second: TrialSnapshot,
    baseline: str | None = None,
    candidate: str | None = None,
    loss: float | None = None,
    **options: Any,
) -> Comparison:
    """What a rig gains that was weighed in another trial than the one before it.

    ``loss`` left out: the first trial's own, for both.

    Raises
    ------
    NotFoundError
        A rig that its trial did not weigh.
    FitError
        No temperature both were weighed at.
    """
    from beadworth import capacity

    at = loss_of(first, loss)
    rigs = first.known(first.fitted)[0] | second.known(second.fitted)[0]
    if baseline is None and first.record.spec:
        baseline = first.record.spec.baseline
    if candidate is None and second.record.spec:
        named = (second.record.spec.candidate, second.record.spec.baseline)
        candidate = next((name for name in named if name and name != baseline), None)
    return capacity.compare_apart(
        trial_fit(first, at), trial_fit(second, at), baseline, candidate, rigs=rigs, **options
    )
