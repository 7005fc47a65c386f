"""One question to the melt model: which rigs, which polymer, how hot, taught by which trial."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np

from beadworth import melt
from beadworth.capacity import Ceiling
from beadworth.core import BeadworthError, NotFoundError, Problem
from beadworth.material import Material
from beadworth.melt import (
    LengthPoint,
    flows_up_to,
    lengths_about,
    next_millimetre,
    over_flow,
    over_length,
    over_temperature,
    softening_of,
)
from beadworth.rig import Rig
from beadworth.store import Bench
from beadworth.web.rig_job import USUAL_MATERIAL, Typed, polymer
from beadworth.workflow import lesson, trial_fit

STEP_C, MOST_TEMPERATURES = 10.0, 9
FIELDS = ("rig", "other", "material", "temperature", "trial")
NONE = "-"
"""Typed where no second rig is wanted; left out, parent or child is taken."""


@dataclass(frozen=True)
class MeltJob:
    """What the page asks the model."""

    rigs: tuple[Rig, ...]
    """The stock rig first."""
    material: Material
    temperature_c: float
    trial: str | None
    scales: melt.Scales | None
    taught_by: str
    """Polymer and rig whose measured ceilings calibrate; empty where nothing does."""
    measured: tuple[Ceiling, ...]
    notes: tuple[str, ...]

    @property
    def temperatures_c(self) -> tuple[float, ...]:
        """Temperatures to sweep: the polymer's range in tens, and the one asked for."""
        low, high = self.material.min_temperature_c, self.material.max_temperature_c
        step = STEP_C * max(1, int(np.ceil((high - low) / STEP_C / (MOST_TEMPERATURES - 1))))
        grid = np.arange(np.ceil(low / STEP_C) * STEP_C, high + 0.1, step)
        return tuple(sorted({*(float(t) for t in grid), self.temperature_c}))


def typed_job(bench: Bench, asked: Mapping[str, Any]) -> dict[str, str]:
    """What was asked, with what stands in where nothing was said."""
    typed = {name: str(asked.get(name) or "").strip() for name in FIELDS}
    typed["material"] = typed["material"] or USUAL_MATERIAL
    if typed["rig"] and not typed["other"]:
        rig = bench.rig(typed["rig"])
        here = {other.name: other for other in bench.rigs()}
        children = [name for name, other in here.items() if other.parent == rig.name]
        typed["other"] = rig.parent if rig.parent in here else next(iter(children), NONE)
    return typed


def job_of(bench: Bench, typed: dict[str, str]) -> MeltJob:
    """The question, everything it needs fetched.

    Raises
    ------
    InputError
        A temperature that is none, or what the model needs and the records do not hold.
    NotFoundError
        A rig, material or trial that is not on the bench.
    """
    material = polymer(bench, typed["material"])
    if not typed["temperature"]:
        middle = (material.min_temperature_c + material.max_temperature_c) / 2
        typed["temperature"] = f"{round(middle, -1):g}"
    reader = Typed()
    celsius = reader.number(
        typed["temperature"], "temperature, °C", material.min_temperature_c,
        material.max_temperature_c, needed=True,
    )  # fmt: skip
    reader.refuse()
    assert celsius is not None
    rigs = _ordered(bench, typed)
    for rig in rigs:
        melt.state_at(rig, material, celsius, 1.0)  # refuses what the records do not hold
    softening_of(material)
    measured, scales, taught_by, notes = _taught(bench, typed["trial"], rigs, material)
    return MeltJob(
        rigs, material, celsius, typed["trial"] or None, scales, taught_by, measured,
        notes,
    )  # fmt: skip


def _ordered(bench: Bench, typed: Mapping[str, str]) -> tuple[Rig, ...]:
    rig = bench.rig(typed["rig"])
    if typed["other"] in ("", NONE, rig.name):
        return (rig,)
    other = bench.rig(typed["other"])
    return (rig, other) if other.parent == rig.name else (other, rig)


def _taught(
    bench: Bench, trial: str, rigs: tuple[Rig, ...], material: Material
) -> tuple[tuple[Ceiling, ...], melt.Scales | None, str, tuple[str, ...]]:
    """Ceilings of a trial, and what they teach the model."""
    if not trial:
        return (), None, "", ()
    fit = trial_fit(bench, trial)
    measured = tuple(c for c in fit.ceilings if c.basis == "readings")
    learned = lesson(bench, fit, rigs, material, f"trial {trial}")
    return measured, learned.scales, f"{learned.material} on {learned.rig}", learned.notes


def trials_with(bench: Bench, rigs: tuple[str, ...]) -> list[tuple[str, str]]:
    """Trials with readings of any of these rigs: id and question."""
    found = []
    for trial in bench.trials():
        if not trial.readings:
            continue
        spec = trial.spec
        named = {spec.baseline, spec.candidate} if spec else set()
        if spec is None:
            named = {reading.rig for reading in bench.current_readings(trial.id)}
        if named & set(rigs):
            found.append((trial.id, trial.question))
    return found


def ceilings_of(job: MeltJob) -> list[melt.Prediction]:
    """Predictions of every rig over temperature, none above what a hot end is made for."""
    made: list[melt.Prediction] = []
    for rig in job.rigs:
        limit = rig.hot_end.temperature_limit_c
        allowed = tuple(
            t for t in job.temperatures_c if limit is None or t <= limit or t == job.temperature_c
        )
        made += _over_temperature(_key(rig), _key(job.material), allowed, job.scales)
    return made


def at_ceiling(job: MeltJob, rig: Rig) -> melt.Prediction:
    """The prediction at the temperature asked for."""
    (made,) = _over_temperature(_key(rig), _key(job.material), (job.temperature_c,), job.scales)
    return made


def outlets_of(job: MeltJob) -> dict[str, tuple[melt.State, ...]]:
    """Outlet states of every rig at 0.5, 1 and 1.5 times the stock rig's ceiling."""
    base = at_ceiling(job, job.rigs[0]).ceiling_mm3_s or 5.0
    flows = tuple(round(share * base, 1) for share in (0.5, 1.0, 1.5))
    return {
        rig.name: over_flow(rig, job.material, job.temperature_c, flows, scales=job.scales)
        for rig in job.rigs
    }


def forces_of(job: MeltJob) -> dict[str, tuple[melt.State, ...]]:
    """Push force over flow of every rig, past the highest ceiling."""
    top = 1.3 * max(at_ceiling(job, rig).ceiling_mm3_s for rig in job.rigs)
    return {
        rig.name: over_flow(
            rig, job.material, job.temperature_c, flows_up_to(top), scales=job.scales
        )
        for rig in job.rigs
    }


def lengths_of(job: MeltJob) -> tuple[dict[str, tuple[LengthPoint, ...]], dict[str, float]]:
    """Ceilings over melt-zone length, and what the next millimetre brings, by rig."""
    zones = [rig.hot_end.melt_zone_mm or 0.0 for rig in job.rigs]
    lengths = lengths_about(zones, 7)
    points = {
        rig.name: _over_length(
            _key(rig), _key(job.material), job.temperature_c, lengths, job.scales
        )
        for rig in job.rigs
    }
    gains = {
        rig.name: next_millimetre(rig, job.material, job.temperature_c, scales=job.scales)
        for rig in job.rigs
    }
    return points, gains


def _key(record: Rig | Material) -> str:
    return record.model_dump_json()


@lru_cache(maxsize=64)
def _over_temperature(
    rig: str, material: str, temperatures: tuple[float, ...], scales: melt.Scales | None
) -> tuple[melt.Prediction, ...]:
    return over_temperature(
        Rig.model_validate_json(rig),
        Material.model_validate_json(material),
        temperatures,
        scales=scales,
    )


@lru_cache(maxsize=64)
def _over_length(
    rig: str,
    material: str,
    temperature_c: float,
    lengths: tuple[float, ...],
    scales: melt.Scales | None,
) -> tuple[LengthPoint, ...]:
    return over_length(
        Rig.model_validate_json(rig),
        Material.model_validate_json(material),
        temperature_c,
        lengths,
        scales=scales,
    )


def problems_of(error: BeadworthError) -> tuple[Problem, ...]:
    """Problems to stand on the page; what is not on the bench is a page of its own.

    Raises
    ------
    NotFoundError
        The error, where it is one.
    """
    if isinstance(error, NotFoundError):
        raise error
    return tuple(error.problems)
