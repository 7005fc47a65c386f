"""A first trial from seven answers: a rig, a material and a plan, made and stored together."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

from pydantic import Field, field_validator

from beadworth.core import PTFE_LIMIT_C, BeadworthError, ConflictError, InputError, Problem, Record
from beadworth.material import GENERIC, Material, generic
from beadworth.melt import expected_mm3_s
from beadworth.rig import BuildVolume, HotEnd, Known, Rig, three_numbers
from beadworth.trial import Balance, TrialSpec, plan
from beadworth.workflow.melt import with_usual_bore
from beadworth.workflow.rigs import questions_about

if TYPE_CHECKING:
    from beadworth.store import Bench, TrialRecord

USUAL_ZONE_MM = 12.0
"""Melt zone that flows are chosen for where none is stated (common practice, no source). It does
not enter the rig's record."""
AROUND_C = 10.0
Positive = Annotated[float, Field(gt=0)]
LEAST_FLOW, MOST_FLOW, STEP_MM3_S = 0.5, 1.3, 0.5
"""Flows run from half the lowest predicted ceiling to 1.3 times the highest."""


class StartInputs(Record):
    """What a first trial cannot do without, and what makes its first look a good one."""

    rig: Annotated[str, Field(min_length=1, max_length=80)] = Field(
        description="name of the printer"
    )
    reach_mm: tuple[Positive, Positive, Positive] = Field(description="reach in x, y and z, mm")
    temperature_limit_c: Positive = Field(
        description="highest temperature the hot end's maker allows, °C"
    )
    ptfe_in_melt_zone: bool | None = Field(
        None, description="true where a PTFE liner reaches the melt zone"
    )
    nozzle_mm: Positive = Field(0.4, description="nozzle diameter, mm")
    melt_zone_mm: Positive | None = Field(None, description="heated length of the bore, mm")
    polymer: str = Field("PLA", description="polymer")
    balance_g: Positive = Field(0.01, description="smallest step of the balance, g")

    @field_validator("reach_mm", mode="before")
    @classmethod
    def _three(cls, value: object) -> object:
        return three_numbers(value)


def start_trial(bench: Bench, inputs: StartInputs) -> TrialRecord:
    """Store the rig, the material and the trial of a first look.

    Raises
    ------
    ConflictError
        A rig of that name is on the bench.
    InputError, LimitError
        What the plan refuses; nothing was stored.
    """
    rigs, materials = bench.records()
    if inputs.rig in rigs:
        raise ConflictError(
            Problem(
                f"a rig called {inputs.rig!r} is on the bench already.",
                "rig",
                inputs.rig,
                "Choose another name, or plan a trial of that rig.",
            )
        )
    rig, material = start_rig(inputs), start_material(inputs)
    material = materials.get(material.name, material)
    spec = start_spec(inputs, rig, material)
    made = plan(spec, {rig.name: rig}, material)
    bench.save_rig(rig)
    if material.name not in materials:
        bench.save_material(material)
    return bench.create_trial(spec, made)


def start_questions(bench: Bench, inputs: StartInputs) -> tuple[Problem, ...]:
    """What is odd about the answers, under the paths of a rig; they refuse nothing."""
    return questions_about(bench, start_rig(inputs))


def start_rig(inputs: StartInputs) -> Rig:
    """The rig of the answers; what was not asked stays unknown."""
    x_mm, y_mm, z_mm = inputs.reach_mm
    return Rig(
        name=inputs.rig,
        hot_end=HotEnd(
            nozzle_mm=inputs.nozzle_mm,
            melt_zone_mm=inputs.melt_zone_mm,
            temperature_limit_c=inputs.temperature_limit_c,
            ptfe_in_melt_zone=inputs.ptfe_in_melt_zone,
        ),
        build_volume=BuildVolume(x_mm=x_mm, y_mm=y_mm, z_mm=z_mm),
        known={"hot_end.temperature_limit_c": Known(origin="datasheet")},
    )


def start_material(inputs: StartInputs) -> Material:
    """The generic polymer, under a name of its own so that a spool's own values may follow.

    Raises
    ------
    NotFoundError
        No such polymer.
    """
    polymer = generic(inputs.polymer)
    return polymer.model_copy(update={"name": f"{polymer.name}, generic"})


def start_spec(inputs: StartInputs, rig: Rig, material: Material) -> TrialSpec:
    """The first look: three temperatures in the polymer's range, flows as predicted.

    Raises
    ------
    InputError
        A hot end whose limit leaves no temperature of the polymer's range.
    """
    low, high = material.min_temperature_c, material.max_temperature_c
    top = min(high, inputs.temperature_limit_c)
    if inputs.ptfe_in_melt_zone is not False:
        top = min(top, PTFE_LIMIT_C)
    if top < low:
        raise InputError(
            f"the limit of {top:g} °C lies below what {material.name} needs "
            f"({low:g} to {high:g} °C).",
            "temperature_limit_c",
            inputs.temperature_limit_c,
            "Correct the limit, choose another polymer, or say that no PTFE liner reaches the melt "
            "zone where that is so.",
        )
    middle = min(round((low + high) / 20) * 10, top - AROUND_C)
    celsius = tuple(
        t for t in (middle - AROUND_C, float(middle), middle + AROUND_C) if low <= t <= top
    ) or (float(top),)
    return TrialSpec(
        question=f"How much {material.name.removesuffix(', generic')} can {rig.name} melt?",
        baseline=rig.name,
        material=material.name,
        temperatures_c=celsius,
        flows_mm3_s=first_flows(rig, material, celsius),
        balance=Balance(readability_g=inputs.balance_g, repeatability_g=inputs.balance_g),
    )


def first_flows(
    rig: Rig, material: Material, temperatures_c: tuple[float, ...]
) -> tuple[float, float]:
    """Lowest and highest flow of a first look, mm³/s: from what the melt model expects."""
    zone = {"melt_zone_mm": rig.hot_end.melt_zone_mm or USUAL_ZONE_MM}
    head = rig.hot_end.model_copy(update=zone)
    usual = with_usual_bore(rig.model_copy(update={"hot_end": head}))
    try:
        found = [expected_mm3_s(usual, material, celsius) for celsius in temperatures_c]
    except BeadworthError:
        return 3.0, 24.0
    least, most = LEAST_FLOW * min(found), MOST_FLOW * max(found)
    return (
        max(STEP_MM3_S, STEP_MM3_S * round(least / STEP_MM3_S)),
        STEP_MM3_S * round(most / STEP_MM3_S),
    )


def start_polymers() -> tuple[str, ...]:
    """Polymers a first trial may start from."""
    return tuple(GENERIC)
