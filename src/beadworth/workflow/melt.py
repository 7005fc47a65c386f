"""What a trial teaches the melt model: its ceilings, on the rig and polymer it was made with.

Page and command ask here, so that a calibration is always made on what was weighed and only then
carried to the rig and polymer that is to be predicted.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from beadworth.capacity import Fit, measured_ceilings
from beadworth.core import FILAMENT_MM, LOSS, BeadworthError, InputError, NotFoundError, Problem
from beadworth.material import Material, generic
from beadworth.melt import (
    CalibrationSource,
    MeasuredCeiling,
    Prediction,
    Scales,
    calibrate,
    channel_of,
    hot_end_of,
    nozzle_of,
    predict,
    properties_of,
    softening_of,
)
from beadworth.rig import Rig
from beadworth.store import Bench
from beadworth.workflow.materials import find_material


@dataclass(frozen=True)
class Calibration:
    """A calibration, and what it was made with."""

    scales: Scales
    rig: str
    material: str
    notes: tuple[str, ...]
    """What holds for the rigs and polymer to be predicted, and what does not."""


def trial_calibration(
    bench: Bench | None,
    fit: Fit,
    rigs: Sequence[Rig],
    material: Material,
    source: str,
    *,
    also: Sequence[Rig] = (),
) -> Calibration:
    """The calibration of a fitted trial for some rigs and a polymer.

    Of its rigs and polymers the one nearest to what is to be predicted is used: first the same
    polymer on one of these rigs, then the same polymer elsewhere, then another polymer on one of
    them.

    Parameters
    ----------
    bench : Bench or None
        Where rigs and polymers that the trial names and nobody handed in are looked up.
    rigs : sequence of Rig
        Those to be predicted, the first preferred.
    source : str
        The trial, for messages.
    also : sequence of Rig
        More rigs that may be used, which need not be on the bench.

    Raises
    ------
    InputError
        The trial knows no ceiling from both sides of a rig and polymer that are known.
    """
    known = {rig.name: rig for rig in (*rigs, *also)}
    groups = dict.fromkeys((c.rig, c.material) for c in fit.ceilings)
    order = sorted(
        groups,
        key=lambda group: (
            group[1] != material.name,
            list(known).index(group[0]) if group[0] in known else len(known),
        ),
    )
    for rig_name, material_name in order:
        points = measured_ceilings(fit, rig_name, material_name)
        measured = known.get(rig_name) or _rig(bench, rig_name)
        if not points or measured is None:
            continue
        polymer = material if material_name == material.name else _polymer(bench, material_name)
        alongside = [
            (other, measured_ceilings(fit, name, material_name))
            for name, weighed in order
            if weighed == material_name and name != rig_name
            for other in [known.get(name) or _rig(bench, name)]
            if other is not None and hot_end_of(other) == hot_end_of(measured)
            and nozzle_of(other) != nozzle_of(measured)
            and measured_ceilings(fit, name, material_name)
        ]  # fmt: skip
        return _calibration(points, measured, polymer, material, rigs, material_name, alongside)
    raise InputError(
        "this trial knows no ceiling from both sides of a rig on the bench.",
        source,
        source,
        "Choose a trial that weighed past the ceiling, or none.",
    )


def _calibration(
    points: list[MeasuredCeiling],
    measured: Rig,
    polymer: Material | None,
    material: Material,
    rigs: Sequence[Rig],
    weighed: str,
    alongside: Sequence[tuple[Rig, list[MeasuredCeiling]]] = (),
) -> Calibration:
    """``alongside``: what was weighed with other nozzles on that hot end."""
    notes = []
    if alongside:
        notes.append(
            f"{len(alongside) + 1} nozzles were weighed on that hot end: they part heat from force."
        )
    if polymer is None:
        polymer = material
        notes.append(
            f"The trial weighed {weighed}, whose heat is not recorded; {material.name} stands in "
            "for it."
        )
    scales = None
    for other, own in alongside:
        scales = calibrate(other, polymer, own, before=scales)
    scales = calibrate(measured, polymer, points, before=scales)
    assert scales.source is not None
    notes += _carried(scales.source, polymer, measured, material, rigs)
    return Calibration(scales, measured.name, polymer.name, tuple(notes))


def _carried(
    source: CalibrationSource,
    polymer: Material,
    measured: Rig,
    material: Material,
    rigs: Sequence[Rig],
) -> list[str]:
    """What holds of a calibration for other polymers, hot ends and nozzles, in sentences."""
    notes = []
    other = polymer.name != material.name
    hot_ends = [rig.name for rig in rigs if not source.fits(rig)]
    nozzles = [rig.name for rig in rigs if source.fits(rig) and source.nozzle != nozzle_of(rig)]
    if other and len(hot_ends) < len(rigs):
        notes.append(
            f"The trial weighed {polymer.name}: only what it says of hot end and drive holds for "
            f"{material.name}, and little of it."
        )
    if other and hot_ends:
        notes.append(
            f"The trial weighed {polymer.name} on {measured.name}: for {material.name} on "
            f"{' and '.join(hot_ends)} nothing of it holds but the drive's grip, where that drive "
            "is the same."
        )
    elif hot_ends:
        notes.append(
            f"The trial was made on {measured.name}: for {' and '.join(hot_ends)} only what it "
            "says of the polymer holds; length, contact and wall are uncertain again."
        )
    if nozzles:
        notes.append(
            f"The trial was made with another nozzle: for {' and '.join(nozzles)} heat holds, "
            "and what the nozzle resists is uncertain again. Weigh a ladder with a second nozzle "
            "to part the two."
        )
    return notes


def _rig(bench: Bench | None, name: str) -> Rig | None:
    """A rig the melt model can use."""
    try:
        rig = bench.rig(name) if bench else None
        if rig is not None:
            channel_of(rig)
        return rig
    except (NotFoundError, InputError):
        return None


def _polymer(bench: Bench | None, name: str) -> Material | None:
    """A polymer the melt model can use."""
    try:
        polymer = find_material(bench, name) if bench else generic(name)
        properties_of(polymer)
        softening_of(polymer)
        return polymer
    except BeadworthError:
        return None


def melt_problems(rig: Rig, material: Material) -> list[Problem]:
    """What the melt model needs and the two records lack."""
    problems: list[Problem] = []
    for needs in (
        lambda: channel_of(rig), lambda: properties_of(material), lambda: softening_of(material),
    ):  # fmt: skip
        try:
            needs()
        except InputError as error:
            problems += error.problems
    return problems


USUAL_BORE_MM = 2.0
"""Bore of a melt zone for 1.75 mm filament (common practice, no source)."""


def with_usual_bore(rig: Rig) -> Rig:
    """The rig with a usual bore where none is recorded, for a rough expectation."""
    if rig.hot_end.bore_mm is not None or rig.filament_diameter_mm != FILAMENT_MM:
        return rig
    head = rig.hot_end.model_copy(update={"bore_mm": USUAL_BORE_MM})
    return rig.model_copy(update={"hot_end": head})


def predict_rig(
    rig: Rig,
    material: Material,
    temperatures_c: Sequence[float],
    scales: Scales | None = None,
    *,
    loss: float = LOSS,
) -> list[Prediction]:
    """What the melt model predicts for a rig at each temperature.

    Raises
    ------
    InputError
        What the model needs and the records lack.
    """
    return [predict(rig, material, celsius, scales=scales, loss=loss) for celsius in temperatures_c]
