"""Predictions of the melt model: which rigs, which polymer, how hot, and what calibrates it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np
from pydantic import Field

from beadworth import melt
from beadworth.core import LOSS, InputError, Place, Record
from beadworth.material import Material
from beadworth.melt import LengthPoint, over_flow, softening_of
from beadworth.rig import Rig
from beadworth.workflow.capacity import trial_fit
from beadworth.workflow.materials import find_material
from beadworth.workflow.melt import trial_calibration

if TYPE_CHECKING:
    from beadworth.capacity import Ceiling
    from beadworth.melt import MeltFlowEstimate
    from beadworth.store import Bench

STEP_C, MOST_TEMPERATURES = 10.0, 9
USUAL_NOZZLES_MM = (0.25, 0.4, 0.6, 0.8, 1.2)
NOZZLE_DRAWS = 400
"""Enough for a band that is drawn."""
NO_RIG = "-"
"""Chosen where no second rig is wanted; left out, parent or child is taken."""
USUAL_MATERIAL = "PLA"


class PredictionInputs(Record):
    """What is to be predicted, by names on the bench."""

    rig: str = Field(description="rig")
    other: str = Field(NO_RIG, description="beside it")
    material: str = Field(USUAL_MATERIAL, description="material")
    temperature: float = Field(description="nozzle temperature, °C")
    trial: str | None = Field(None, description="calibrate with a trial")


class FlowRateInputs(Record):
    """A melt-flow rate as a data sheet gives it (ISO 1133-1)."""

    mfr: float = Field(ge=1e-3, le=2000, description="melt-flow rate, g/10 min")
    load: float = Field(ge=0.1, le=30, description="load, kg", examples=[2.16])
    temperature: float = Field(ge=50, le=450, description="at, °C", examples=[210])
    density: float = Field(
        ge=0.2,
        le=5,
        description="density of the melt, g/cm³; lower than the solid's: about 1.08 for PLA",
        examples=[1.08],
    )
    index: float = Field(
        ge=0.05,
        le=1,
        description="flow index n; 1 is Newtonian; near 0.4 for filament polymers (common "
        "practice, no source)",
        examples=[0.4],
    )


@dataclass(frozen=True)
class Prediction:
    """What the model is asked, everything it needs fetched."""

    rigs: tuple[Rig, ...]
    """The stock rig first."""
    material: Material
    temperature_c: float
    scales: melt.Scales | None
    calibrated_by: str
    """Polymer and rig whose measured ceilings calibrate; empty where nothing does."""
    measured: tuple[Ceiling, ...]
    notes: tuple[str, ...]
    loss: float = LOSS
    """The loss a flow is read at, beside the ceiling at which the drive slips: the trial's."""

    @property
    def temperatures_c(self) -> tuple[float, ...]:
        """Temperatures to sweep: the polymer's range in tens, and the one asked for."""
        low, high = self.material.min_temperature_c, self.material.max_temperature_c
        step = STEP_C * max(1, int(np.ceil((high - low) / STEP_C / (MOST_TEMPERATURES - 1))))
        grid = np.arange(np.ceil(low / STEP_C) * STEP_C, high + 0.1, step)
        return tuple(sorted({*(float(t) for t in grid), self.temperature_c}))

    @property
    def softening_c(self) -> float:
        """Where the polymer softens, as the calibration shifts it."""
        return softening_of(self.material) + (self.scales.softening_shift_c if self.scales else 0.0)


def usual_prediction(bench: Bench, chosen: Mapping[str, str]) -> dict[str, str]:
    """What stands in where nothing was chosen: parent or upgrade, PLA, mid-range temperature.

    Raises
    ------
    NotFoundError
        A rig or material that is not on the bench.
    """
    made = dict(chosen)
    made["material"] = made.get("material") or USUAL_MATERIAL
    if not made.get("other"):
        rig = bench.rig(made["rig"])
        here = {other.name: other for other in bench.rigs()}
        children = [name for name, other in here.items() if other.parent == rig.name]
        made["other"] = rig.parent if rig.parent in here else next(iter(children), NO_RIG)
    if not made.get("temperature"):
        material = find_material(bench, made["material"])
        middle = (material.min_temperature_c + material.max_temperature_c) / 2
        made["temperature"] = f"{round(middle, -1):g}"
    return made


def prediction(bench: Bench, inputs: PredictionInputs) -> Prediction:
    """The question with everything it needs fetched.

    Raises
    ------
    InputError
        A temperature the polymer never sees, or what the model needs and the records lack.
    NotFoundError
        A rig, material or trial that is not on the bench.
    """
    material = find_material(bench, inputs.material)
    low, high = material.min_temperature_c, material.max_temperature_c
    if not low <= inputs.temperature <= high:
        raise InputError(
            f"{inputs.temperature:g} °C is outside {low:g} to {high:g} °C, the working range "
            f"of {material.name}.",
            Place.of_field("prediction", "temperature"),
            inputs.temperature,
            "Correct this value: nozzle temperature, °C.",
        )
    rigs = _ordered(bench, inputs)
    for rig in rigs:
        melt.state_at(rig, material, inputs.temperature, 1.0)  # refuses what the records lack
    softening_of(material)
    if inputs.trial is None:
        return Prediction(rigs, material, inputs.temperature, None, "", (), ())
    fit = trial_fit(bench.snapshot(inputs.trial))
    found = trial_calibration(bench, fit, rigs, material, f"trial {inputs.trial}")
    return Prediction(
        rigs,
        material,
        inputs.temperature,
        found.scales,
        f"{found.material} on {found.rig}",
        tuple(c for c in fit.ceilings if c.basis == "readings"),
        found.notes,
        fit.loss,
    )


def _ordered(bench: Bench, inputs: PredictionInputs) -> tuple[Rig, ...]:
    rig = bench.rig(inputs.rig)
    if inputs.other in ("", NO_RIG, rig.name):
        return (rig,)
    other = bench.rig(inputs.other)
    return (rig, other) if other.parent == rig.name else (other, rig)


def predicted_ceilings(of: Prediction) -> list[melt.Prediction]:
    """Predictions of every rig over temperature, none above what a hot end is made for."""
    made: list[melt.Prediction] = []
    for rig in of.rigs:
        limit = rig.hot_end.temperature_limit_c
        allowed = tuple(
            t for t in of.temperatures_c if limit is None or t <= limit or t == of.temperature_c
        )
        made += _over_temperature(_key(rig), _key(of.material), allowed, of.scales, of.loss)
    return made


def predicted_here(of: Prediction) -> dict[str, melt.Prediction]:
    """The prediction of each rig at the temperature asked for."""
    return {
        rig.name: _over_temperature(
            _key(rig), _key(of.material), (of.temperature_c,), of.scales, of.loss
        )[0]
        for rig in of.rigs
    }


def predicted_outlets(of: Prediction) -> dict[str, tuple[melt.State, ...]]:
    """Outlet states of every rig at 0.5, 1 and 1.5 times the stock rig's ceiling."""
    base = predicted_here(of)[of.rigs[0].name].ceiling_mm3_s or 5.0
    return _over_flow(of, tuple(round(share * base, 1) for share in (0.5, 1.0, 1.5)))


def predicted_insides(of: Prediction) -> dict[str, melt.InsideState]:
    """The inside of every rig at its own ceiling."""
    ceilings = {rig: found.ceiling_mm3_s for rig, found in predicted_here(of).items()}
    return {
        rig.name: melt.inside_at(
            rig, of.material, of.temperature_c, ceilings[rig.name] or 1.0, scales=of.scales
        )
        for rig in of.rigs
    }


def predicted_nozzles(
    of: Prediction,
) -> dict[str, tuple[tuple[float, melt.Prediction], ...]]:
    """Predictions of every rig over the usual nozzles and its own, narrower than its bore."""
    made = {}
    for rig in of.rigs:
        bore = rig.hot_end.bore_mm or 0.0
        nozzles = sorted({rig.hot_end.nozzle_mm, *(n for n in USUAL_NOZZLES_MM if n < 0.8 * bore)})
        made[rig.name] = melt.over_nozzle(
            rig, of.material, of.temperature_c, nozzles, scales=of.scales, draws=NOZZLE_DRAWS
        )
    return made


def predicted_forces(of: Prediction) -> dict[str, tuple[melt.State, ...]]:
    """Push force over flow of every rig, past the highest ceiling."""
    top = 1.3 * max(found.ceiling_mm3_s for found in predicted_here(of).values())
    return _over_flow(of, melt.flows_up_to(top))


def _over_flow(of: Prediction, flows: tuple[float, ...]) -> dict[str, tuple[melt.State, ...]]:
    return {
        rig.name: over_flow(rig, of.material, of.temperature_c, flows, scales=of.scales)
        for rig in of.rigs
    }


def predicted_lengths(
    of: Prediction,
) -> tuple[dict[str, tuple[LengthPoint, ...]], dict[str, float]]:
    """Ceilings over melt-zone length, and what the next millimetre brings, by rig."""
    zones = [rig.hot_end.melt_zone_mm or 0.0 for rig in of.rigs]
    lengths = melt.lengths_about(zones, 7)
    points = {
        rig.name: _over_length(_key(rig), _key(of.material), of.temperature_c, lengths, of.scales)
        for rig in of.rigs
    }
    gains = {
        rig.name: melt.next_millimetre(rig, of.material, of.temperature_c, scales=of.scales)
        for rig in of.rigs
    }
    return points, gains


def viscosity_of_rate(inputs: FlowRateInputs) -> tuple[MeltFlowEstimate, dict[str, float | None]]:
    """A melt-flow rate as a viscosity, and how it compares with each generic polymer."""
    from beadworth.material import GENERIC

    made = melt.melt_flow_estimate(
        inputs.mfr, inputs.load, inputs.temperature, inputs.density, flow_index=inputs.index
    )
    return made, {name: melt.against_material(made, known) for name, known in GENERIC.items()}


def _key(record: Rig | Material) -> str:
    return record.model_dump_json()


@lru_cache(maxsize=64)
def _over_temperature(
    rig: str,
    material: str,
    temperatures: tuple[float, ...],
    scales: melt.Scales | None,
    loss: float,
) -> tuple[melt.Prediction, ...]:
    return melt.over_temperature(
        _rig(rig), _material(material), temperatures, scales=scales, loss=loss
    )


@lru_cache(maxsize=64)
def _over_length(
    rig: str,
    material: str,
    temperature_c: float,
    lengths: tuple[float, ...],
    scales: melt.Scales | None,
) -> tuple[LengthPoint, ...]:
    return melt.over_length(_rig(rig), _material(material), temperature_c, lengths, scales=scales)


def _rig(key: str) -> Rig:
    return Rig.model_validate_json(key)


def _material(key: str) -> Material:
    return Material.model_validate_json(key)
