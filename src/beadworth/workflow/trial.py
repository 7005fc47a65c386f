"""What both doors do with a bench: fetch, compute in the core, keep the result.

No arithmetic here: each function fetches plain data from the store, calls the
room that knows, and (where something is new) stores what came back.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from beadworth.core import ConflictError, FitError, NotFoundError, Problem, R, Record
from beadworth.rig import Rig

if TYPE_CHECKING:
    from beadworth.capacity import Comparison, Fit, NextCoupons, SpeedSheet
    from beadworth.material import Material
    from beadworth.store import Amendment, Bench
    from beadworth.trial import Plan, Program, Reading, Spool, TrialSpec


def rigs_of(bench: Bench, spec: TrialSpec) -> dict[str, Rig]:
    """The rig records a trial names."""
    names = [spec.baseline] + ([spec.candidate] if spec.candidate else [])
    return {name: bench.rig(name) for name in names}


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


def make_plan(bench: Bench, spec: TrialSpec) -> Plan:
    """The plan of a trial record, with the rigs and material it names; nothing is stored.

    Raises
    ------
    NotFoundError
        A rig or the material is not on the bench.
    LimitError
        A temperature, feed or plate outside what the rig or material allows.
    """
    from beadworth.trial import plan

    return plan(spec, rigs_of(bench, spec), bench.material(spec.material))


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
    return _fit(tuple(readings), loss, _frozen(rigs), _frozen(materials), spool)


def _frozen(records: Mapping[str, Record]) -> tuple[str, ...]:
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
        rigs=_thawed(Rig, rigs),
        materials=_thawed(Material, materials),
        spool=spool,
    )


def _thawed(kind: type[R], texts: tuple[str, ...]) -> dict[str, R]:
    records = [kind.model_validate_json(text) for text in texts]
    return {record.name: record for record in records}  # type: ignore[attr-defined]


def trial_programs(bench: Bench, trial: str) -> tuple[Program, ...]:
    """The coupon programs of a trial, amendments included; kept in memory by their plan.

    Raises
    ------
    NotFoundError
        No such trial, or one that has readings and no plan.
    LimitError
        A coupon the rig or the material cannot have made.
    """
    record = bench.trial(trial)
    if record.plan is None:
        raise NotFoundError(
            Problem(
                "this trial has readings but no plan, so there are no coupons to make.",
                where=f"trial {trial}",
                remedy="Plan a trial first (beadworth trial plan).",
            )
        )
    plan = replace(record.plan, coupons=tuple(bench.coupons(trial)))
    rigs = rigs_of(bench, plan.spec)
    material = bench.material(plan.spec.material).model_dump_json()
    return _programs(plan, _frozen(rigs), material)


@lru_cache(maxsize=4)
def _programs(plan: Plan, rigs: tuple[str, ...], material: str) -> tuple[Program, ...]:
    from beadworth.material import Material
    from beadworth.trial import coupon_programs

    return tuple(coupon_programs(plan, _thawed(Rig, rigs), Material.model_validate_json(material)))


def write_programs(bench: Bench, trial: str, out: Path) -> list[dict[str, Any]]:
    """Write a trial's coupon programs and position maps into a folder; a row per program."""
    from beadworth.trial import map_png, program_summary

    made = trial_programs(bench, trial)
    out.mkdir(parents=True, exist_ok=True)
    rows = []
    for program in made:
        (out / f"{program.name}.gcode").write_text(program.text, encoding="utf-8", newline="\n")
        if program.map_svg:
            (out / f"{program.name}.svg").write_text(program.map_svg, encoding="utf-8")
            (out / f"{program.name}.png").write_bytes(map_png(program.map_svg))
        rows.append({"file": f"{program.name}.gcode", **program_summary(program)})
    return rows


def trial_next(bench: Bench, trial: str, count: int, loss: float | None = None) -> NextCoupons:
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
    return _next(readings, count, loss, _frozen(rigs))


@lru_cache(maxsize=8)
def _next(
    readings: tuple[Reading, ...], count: int, loss: float, rigs: tuple[str, ...]
) -> NextCoupons:
    from beadworth.capacity import next_coupons

    return next_coupons(readings, count, loss=loss, rigs=_thawed(Rig, rigs))


def add_coupons(
    bench: Bench, trial: str, settings: Sequence[tuple[str, float, float]], reason: str
) -> Amendment:
    """Add coupons to a trial's sheet as an amendment, each block with its references.

    Parameters
    ----------
    settings : sequence of (rig, °C, mm³/s)
        One per coupon.

    Raises
    ------
    ConflictError
        A trial without a plan, or no reason given.
    LimitError
        A setting the rig or the material does not allow; nothing was added.
    """
    from beadworth.trial import add_to_plan

    record = bench.trial(trial)
    if record.plan is None:
        raise ConflictError(
            Problem(
                "this trial has no plan to amend.",
                where=f"trial {trial}",
                remedy="Plan a new trial.",
            )
        )
    rigs = rigs_of(bench, record.plan.spec)
    material = bench.material(record.plan.spec.material)
    added = add_to_plan(record.plan, bench.coupons(trial), settings, rigs, material)
    what = f"{len(settings)} coupons and {len(added) - len(settings)} references added"
    return bench.amend(trial, reason, added, what)


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
