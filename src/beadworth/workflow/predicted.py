"""Predictions of a trial's rigs for its dossier, from the records the trial was planned with."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from pydantic import BaseModel

from beadworth.core import Record
from beadworth.report import PredictedRigs
from beadworth.rig import Rig
from beadworth.text import join_words
from beadworth.workflow.melt import melt_problems
from beadworth.workflow.predictions import (
    Prediction,
    predicted_forces,
    predicted_here,
    predicted_insides,
)

if TYPE_CHECKING:
    from beadworth.capacity import Ceiling
    from beadworth.core import Problem
    from beadworth.material import Material
    from beadworth.workflow.sections import SectionInputs


def gather_predicted(inputs: SectionInputs) -> tuple[PredictedRigs, ...] | None:
    """The rigs of a trial predicted from their drawings, with each material that was weighed."""
    fit = inputs.fit
    if fit is None:
        return None
    _, materials = inputs.snapshot.known(inputs.snapshot.fitted)
    read = [c for c in fit.ceilings if c.basis == "readings"]
    made = []
    for name in dict.fromkeys(c.material for c in read):
        own = tuple(c for c in read if c.material == name)
        rigs = [rig for rig in inputs.rigs if rig.name in {c.rig for c in own}]
        if rigs and name in materials:
            made.append(predicted_rigs(rigs, materials[name], own, fit.loss))
    return tuple(made) or None


def predicted_rigs(
    rigs: Sequence[Rig], material: Material, weighed: Sequence[Ceiling], loss: float
) -> PredictedRigs:
    """Predictions at every temperature weighed, pictures at the middle one.

    Parameters
    ----------
    rigs : the baseline first; one whose record does not suffice is named with what it lacks
    weighed : ceilings of those rigs with this material, one at least
    loss : float, 0 to 1
        At which they were read.
    """
    missing = {rig.name: lacking(rig, material) for rig in rigs}
    able = tuple(rig for rig in rigs if not missing[rig.name])
    tested = sorted({c.temperature_c for c in weighed})
    middle = tested[(len(tested) - 1) // 2]
    lines = tuple((rig, why) for rig, why in missing.items() if why)
    if not able:
        return PredictedRigs(material.name, middle, (), tuple(weighed), {}, {}, (), lines)
    of = Prediction(able, material, middle, None, "", (), (), loss)
    here = [predicted_here(replace(of, temperature_c=celsius)) for celsius in tested]
    return PredictedRigs(
        material.name, middle, tuple(at[rig.name] for rig in able for at in here),
        tuple(weighed), predicted_forces(of), predicted_insides(of),
        tuple(rig.name for rig in able if rig.extruder.grip_force_n is None), lines,
    )  # fmt: skip


def lacking(rig: Rig, material: Material) -> str:
    """What the melt model needs and the records lack, in one sentence; empty where nothing is."""
    problems = melt_problems(rig, material)
    unknown = [_label((rig, material), one) for one in problems if one.value is None]
    others = [one.what.rstrip(".") for one in problems if one.value is not None]
    if unknown:
        others.insert(0, f"the records lack {join_words(unknown)}")
    return f"Not predicted: {'; '.join(others)}." if others else ""


def _label(records: Sequence[Record], problem: Problem) -> str:
    """What a field is called on its form, unit and remarks left out."""
    path = [str(step) for step in problem.path.field] if problem.path else []
    for record in records:
        kind: type[BaseModel] | None = type(record)
        words = ""
        for step in path:
            field = kind.model_fields.get(step) if kind else None
            if field is None:
                break
            words = field.description or step
            inner = field.annotation
            kind = inner if isinstance(inner, type) and issubclass(inner, BaseModel) else None
        else:
            if words:
                return words.split(",")[0]
    return problem.what.rstrip(".")
