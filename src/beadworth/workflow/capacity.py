"""What a trial or a table of readings says of a capacity: fit, speeds, comparison, next coupons.

No arithmetic here: each function fetches plain data from the store and calls the package
that knows.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import lru_cache
from typing import TYPE_CHECKING, Any

from beadworth.core import FitError, NotFoundError, Problem, R, Record
from beadworth.rig import Rig

if TYPE_CHECKING:
    from beadworth.capacity import Comparison, Fit, NextCoupons, SpeedSheet
    from beadworth.material import Material
    from beadworth.store import Bench
    from beadworth.trial import Reading, Spool


def known_records(
    bench: Bench, readings: Sequence[Reading]
) -> tuple[dict[str, Rig], dict[str, Material]]:
    """The rigs and materials of some readings, as far as the bench knows them."""
    rigs: dict[str, Rig] = {}
    materials: dict[str, Material] = {}
    for name in {reading.rig for reading in readings}:
        try:
            rigs[name] = bench.rig(name)
        except NotFoundError:
            continue
    for name in {reading.material for reading in readings}:
        try:
            materials[name] = bench.material(name)
        except NotFoundError:
            continue
    return rigs, materials


def trial_fit(bench: Bench, trial: str, loss: float | None = None) -> Fit:
    """The capacity of a trial from the readings that count now.

    ``loss`` left out: the one the trial asks for, else 2 %. Fits are kept in
    memory by their readings, so asking again costs nothing.

    Raises
    ------
    FitError
        No reading counts, or those that do carry no curve.
    """
    record = bench.trial(trial)
    if loss is None:
        loss = record.spec.loss if record.spec else 0.02
    readings = tuple(bench.current_readings(trial))
    if not readings:
        raise FitError(
            Problem(
                "no reading counts yet, so there is no curve.",
                where=f"trial {trial}",
                remedy="Weigh coupons first, or bring in a table of readings.",
            )
        )
    spool = record.spec.spool if record.spec else None
    return fit_readings(readings, loss, *known_records(bench, readings), spool)


def fit_readings(
    readings: Sequence[Reading],
    loss: float,
    rigs: Mapping[str, Rig],
    materials: Mapping[str, Material],
    spool: Spool | None = None,
) -> Fit:
    """The capacity of readings, whoever made them; kept in memory by what it is made from."""
    return _fit(tuple(readings), loss, frozen(rigs), frozen(materials), spool)


def frozen(records: Mapping[str, Record]) -> tuple[str, ...]:
    """Records as text, in one order: a key for what is kept in memory."""
    return tuple(records[name].model_dump_json() for name in sorted(records))


@lru_cache(maxsize=32)
def _fit(
    readings: tuple[Reading, ...],
    loss: float,
    rigs: tuple[str, ...],
    materials: tuple[str, ...],
    spool: Spool | None,
) -> Fit:
    from beadworth import capacity
    from beadworth.material import Material

    return capacity.fit(
        readings,
        loss=loss,
        rigs=thawed(Rig, rigs),
        materials=thawed(Material, materials),
        spool=spool,
    )


def thawed(kind: type[R], texts: tuple[str, ...]) -> dict[str, R]:
    """Records by name from their texts, as :func:`frozen` gives them."""
    records = [kind.model_validate_json(text) for text in texts]
    return {record.name: record for record in records}  # type: ignore[attr-defined]


def trial_next_coupons(
    bench: Bench, trial: str, count: int, loss: float | None = None
) -> NextCoupons:
    """The coupons that would narrow a trial's ceilings most; nothing is stored.

    Raises
    ------
    FitError
        Readings that carry no curve yet.
    """
    record = bench.trial(trial)
    if loss is None:
        loss = record.spec.loss if record.spec else 0.02
    readings = tuple(bench.current_readings(trial))
    rigs, _ = known_records(bench, readings)
    return _next(readings, count, loss, frozen(rigs))


@lru_cache(maxsize=8)
def _next(
    readings: tuple[Reading, ...], count: int, loss: float, rigs: tuple[str, ...]
) -> NextCoupons:
    from beadworth.capacity import next_coupons

    return next_coupons(readings, count, loss=loss, rigs=thawed(Rig, rigs))


def trial_speeds(bench: Bench, trial: str, loss: float | None = None, **asked: Any) -> SpeedSheet:
    """The speed sheet of a trial; ``asked`` as :func:`beadworth.capacity.speeds` takes it."""
    from beadworth import capacity

    rigs, materials = known_records(bench, bench.current_readings(trial))
    fit = trial_fit(bench, trial, loss)
    return capacity.speeds(fit, rigs=rigs, materials=materials, **asked)


def trial_comparison(
    bench: Bench,
    trial: str,
    baseline: str | None = None,
    candidate: str | None = None,
    loss: float | None = None,
    **asked: Any,
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

    fit = trial_fit(bench, trial, loss)
    spec = bench.trial(trial).spec
    weighed = list(dict.fromkeys(group.rig for group in fit.groups))
    baseline = baseline or (spec.baseline if spec else weighed[0])
    others = [name for name in weighed if name != baseline]
    candidate = candidate or (spec.candidate if spec else None) or next(iter(others), None)
    if candidate is None:
        raise NotFoundError(
            Problem(
                f"only {baseline} was weighed in this trial.",
                where=f"trial {trial}",
                remedy="Compare needs coupons of two rigs in one trial.",
            )
        )
    rigs, _ = known_records(bench, bench.current_readings(trial))
    return capacity.compare(fit, baseline, candidate, rigs=rigs, **asked)
