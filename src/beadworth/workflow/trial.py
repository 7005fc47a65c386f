"""A trial planned, its coupon programs, and coupons added to its sheet."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from beadworth.core import ConflictError, NotFoundError, make_folder, write_file
from beadworth.rig import Rig
from beadworth.workflow.capacity import frozen, thawed

if TYPE_CHECKING:
    from beadworth.material import Material
    from beadworth.store import Bench, TrialSnapshot
    from beadworth.trial import Amendment, Plan, Program, TrialSpec


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

    names = [spec.baseline] + ([spec.candidate] if spec.candidate else [])
    return plan(spec, {name: bench.rig(name) for name in names}, bench.material(spec.material))


def _planned_rigs(snapshot: TrialSnapshot, spec: TrialSpec) -> dict[str, Rig]:
    names = [spec.baseline] + ([spec.candidate] if spec.candidate else [])
    return {name: snapshot.rigs[name] for name in names}


def _planned_material(snapshot: TrialSnapshot, spec: TrialSpec) -> Material:
    return snapshot.materials[spec.material]


def trial_programs(snapshot: TrialSnapshot) -> tuple[Program, ...]:
    """The coupon programs of a trial, amendments included; cached by their plan.

    Raises
    ------
    NotFoundError
        No such trial, or one that has readings and no plan.
    LimitError
        A coupon the rig or the material cannot have made.
    """
    plan = snapshot.plan
    if plan is None:
        raise NotFoundError(
            "this trial has readings but no plan, so there are no coupons to make.",
            where=f"trial {snapshot.record.id}",
            remedy="Plan a trial first (beadworth trial plan).",
        )
    rigs = _planned_rigs(snapshot, plan.spec)
    material = _planned_material(snapshot, plan.spec).model_dump_json()
    return _programs(plan, frozen(rigs), material)


@lru_cache(maxsize=4)
def _programs(plan: Plan, rigs: tuple[str, ...], material: str) -> tuple[Program, ...]:
    from beadworth.material import Material
    from beadworth.trial import coupon_programs

    return tuple(coupon_programs(plan, thawed(Rig, rigs), Material.model_validate_json(material)))


def write_programs(bench: Bench, trial: str, out: Path) -> list[dict[str, Any]]:
    """Write a trial's coupon programs and position maps into a folder; a row per program."""
    from beadworth.trial import map_png, program_summary

    made = trial_programs(bench.snapshot(trial))
    make_folder(out)
    rows = []
    for program in made:
        write_file(out / f"{program.name}.gcode", program.text)
        if program.map_svg:
            write_file(out / f"{program.name}.svg", program.map_svg)
            write_file(out / f"{program.name}.png", map_png(program.map_svg))
        rows.append({"file": f"{program.name}.gcode", **program_summary(program)})
    return rows


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

    snapshot = bench.snapshot(trial)
    plan = snapshot.record.plan
    if plan is None:
        raise ConflictError(
            "this trial has no plan to amend.", where=f"trial {trial}", remedy="Plan a new trial."
        )
    rigs = _planned_rigs(snapshot, plan.spec)
    material = _planned_material(snapshot, plan.spec)
    added = add_to_plan(plan, snapshot.coupons, settings, rigs, material)
    what = f"{len(settings)} coupons and {len(added) - len(settings)} references added"
    return bench.amend(trial, reason, added, what)
