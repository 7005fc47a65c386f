"""From the question to a whole plan: length, replicates, order, plates, power, hours, grams."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping, Sequence

from beadworth.core import LimitError, Place, Problem, RecordError, filament_mass_g
from beadworth.material import Material
from beadworth.rig import Rig
from beadworth.trial.planning.advice import notes
from beadworth.trial.planning.digest import plan_digest
from beadworth.trial.planning.forecast import smallest_difference
from beadworth.trial.planning.order import (
    Setting,
    added_coupons,
    by_block,
    on_plates,
    reference_flow,
    rig_names,
    run_sheet,
)
from beadworth.trial.planning.sizing import (
    LENGTHS_MM,
    best_size,
    budget_of,
    lengths_that_can_be,
    refusals,
    with_bed,
    with_ladder,
)
from beadworth.trial.planning.timing import fed_mm, run_s
from beadworth.trial.programs.layout import cells_per_plate
from beadworth.trial.record import Coupon, Plan, TrialSpec


def plan(spec: TrialSpec, rigs: Mapping[str, Rig], material: Material) -> Plan:
    """Work out the plan of a trial; the same spec always gives the same plan.

    Two flows are the ends of a range: the sheet is a coarse ladder between them, a first look,
    after which next coupons go where they tell most. Length and replicates that the spec leaves
    out are those that reach ``spec.difference_mm3_s`` soonest, or tell most in the time at hand;
    a note says what is reached and what would help.

    Parameters
    ----------
    spec : TrialSpec
    rigs : mapping of name to Rig
        The rigs the spec names; others are left alone.
    material : Material
        The one the spec names.

    Returns
    -------
    Plan
        ``budget`` is that of the rig where it is largest; ``duration_s`` holds heating,
        soaking, purges, extrusion, cooling and the hands of a person.

    Raises
    ------
    RecordError
        A rig that was not given, another material, a reference flow above the ladder; and
        whatever :class:`LimitError` would say, all at once.
    LimitError
        A temperature above what hot end, material or a PTFE liner allow, a flow the extruder
        cannot turn or hold, a plate that does not fit; all at once.
    """
    spec = TrialSpec.model_validate_json(spec.model_dump_json())  # 210 and 210.0 are one plan
    used = _named(spec, rigs, material, _reference_problems(spec))
    lengths = lengths_that_can_be(spec, used, material)
    size = best_size(spec, used, material, lengths)
    counts = (size.replicates, size.references)
    budgets = [
        budget_of(spec, rig, material, filament_mm=size.filament_mm, counts=counts) for rig in used
    ]
    budget = max(budgets, key=lambda one: one.combined_u)
    sheet = run_sheet(
        with_ladder(spec),
        filament_mm=size.filament_mm,
        replicates=size.replicates,
        references=size.references,
    )
    coupons = tuple(_placed(spec, sheet, rigs))
    return Plan(
        spec=spec,
        coupons=coupons,
        budget=budget,
        power=smallest_difference(
            with_ladder(spec).flows_mm3_s, spec.temperatures_c, size.now.width_mm3_s
        ),
        filament_mm=size.filament_mm,
        replicates=size.replicates,
        references_per_block=size.references,
        total_filament_mm=fed_mm(coupons, rigs),
        total_mass_g=_mass_g(coupons, rigs, material),
        duration_s=run_s(coupons, rigs, material, catch=spec.collect == "catch"),
        plates=max(c.plate for c in coupons),
        notes=notes(spec, used, material, size=size, budget=budget, lengths=lengths),
        digest=plan_digest(spec, coupons),
        outlook=size.outlook,
    )


def add_to_plan(
    made: Plan,
    sheet: Sequence[Coupon],
    settings: Sequence[Setting],
    rigs: Mapping[str, Rig],
    material: Material | None = None,
) -> list[Coupon]:
    """Coupons that an amendment adds to a locked plan.

    They come as new blocks after the sheet, with names, plates and references of their own:
    one reference for a block of up to four coupons, √k for k, since these share them, and no more
    than a block of the plan has.

    Parameters
    ----------
    made : Plan
    sheet : sequence of Coupon
        Every coupon so far, earlier amendments included.
    settings : sequence of (rig, °C, mm³/s)
        One per coupon; a setting listed twice is made twice.
    rigs : mapping of name to Rig
    material : Material, optional
        Left out, limits are not checked here; writing the programs checks them.

    Raises
    ------
    RecordError
        A rig that is not one of the plan's, or was not given; another material.
    LimitError
        As for :func:`plan`; all at once.
    """
    spec = made.spec
    strangers = sorted({s[0] for s in settings} - set(rig_names(spec)))
    wrong = [
        Problem(f"the rig {name!r} is not in the plan (there: {', '.join(rig_names(spec))}).",
                "amendment", name, "Plan a trial of its own for it.")
        for name in strangers
    ]  # fmt: skip
    used = _named(spec, rigs, material, wrong)
    if material is not None:
        _refuse([p for rig in used for p in _added_refusals(made, rig, material, settings)])
    sizes_of_blocks = Counter(s[:2] for s in settings)
    biggest = max(sizes_of_blocks.values(), default=0)
    wanted = 1 if biggest <= 4 else math.ceil(math.sqrt(biggest))
    references = min(made.references_per_block, wanted)
    added = added_coupons(
        spec, sheet, settings, filament_mm=made.filament_mm, references=references
    )
    last = max((c.plate for c in sheet), default=0)
    return _placed(spec, added, rigs, first=last + 1)


def _added_refusals(
    made: Plan, rig: Rig, material: Material, settings: Sequence[Setting]
) -> list[Problem]:
    """What one rig cannot do of the settings to be added."""
    own = [s for s in settings if s[0] == rig.name]
    if not own:
        return []
    asked = made.spec.model_copy(
        update={
            "temperatures_c": tuple(sorted({s[1] for s in own})),
            "flows_mm3_s": tuple(sorted({s[2] for s in own})),
            "reference_flow_mm3_s": reference_flow(made.spec),
        }
    )
    return refusals(asked, rig, material, made.filament_mm)


def _named(
    spec: TrialSpec, rigs: Mapping[str, Rig], material: Material | None, wrong: list[Problem]
) -> list[Rig]:
    """The rigs a spec names; a record that is wrong is refused with all that stands in its way.

    Raises
    ------
    RecordError
        ``wrong`` holds a problem, a rig was not given, or the material is another one.
    """
    for name in rig_names(spec):
        if name not in rigs:
            known = f" (there: {', '.join(sorted(rigs))})" if rigs else ""
            wrong.append(
                Problem(f"there is no rig {name!r}{known}.", "trial", name,
                        "Correct the name, or record the rig first.")
            )  # fmt: skip
    if material is not None and spec.material != material.name:
        wrong.append(
            Problem(
                f"the trial asks for {spec.material!r}; the material given is {material.name!r}.",
                Place.of_field("trial", "material"),
                spec.material,
                "Give the record of that material.",
            )
        )
    used = [rigs[name] for name in rig_names(spec) if name in rigs]
    if wrong and material is not None:
        length = spec.filament_mm or LENGTHS_MM[-1]
        wrong += [p for rig in used for p in refusals(spec, rig, material, length)]
    if wrong:
        raise RecordError(list(dict.fromkeys(wrong)))
    return used


def _refuse(problems: Sequence[Problem]) -> None:
    if problems:
        raise LimitError(list(dict.fromkeys(problems)))


def _reference_problems(spec: TrialSpec) -> list[Problem]:
    low, lowest = reference_flow(spec), min(spec.flows_mm3_s)
    if low <= lowest:
        return []
    return [
        Problem(
            f"the reference flow, {low:g} mm³/s, is above the lowest flow of the trial, "
            f"{lowest:g} mm³/s: loss is measured against the slowest coupons.",
            Place.of_field("trial", "reference_flow_mm3_s"),
            low,
            f"Give {lowest:g} or less, or leave it out.",
        )
    ]


def _placed(
    spec: TrialSpec, sheet: Sequence[Coupon], rigs: Mapping[str, Rig], first: int = 1
) -> list[Coupon]:
    """The coupons with their plates, or catch sessions."""
    if spec.collect == "catch":
        return by_block(sheet, first)
    per_plate = {}
    for name in {c.rig for c in sheet}:
        own = [c for c in sheet if c.rig == name]
        per_plate[name] = cells_per_plate(
            with_bed(rigs[name]),
            filament_mm=max(c.filament_mm for c in own),
            highest_flow_mm3_s=max(c.flow_mm3_s for c in own),
        )
    return on_plates(sheet, per_plate, first)


def _mass_g(coupons: Sequence[Coupon], rigs: Mapping[str, Rig], material: Material) -> float:
    total = 0.0
    for name in dict.fromkeys(c.rig for c in coupons):
        fed = fed_mm([c for c in coupons if c.rig == name], rigs)
        total += filament_mass_g(fed, rigs[name].filament_diameter_mm, material.density_g_cm3)
    return total
