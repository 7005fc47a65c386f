"""Fit check, melt prediction and kept bring-ups as JSON: the same data as the commands."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from fastapi import APIRouter
from pydantic import BaseModel, Field
from starlette.responses import Response

from beadworth import melt
from beadworth.bringup import BringUpResult
from beadworth.core import from_mapping, to_json
from beadworth.fit import fit_answer, fit_check
from beadworth.material import Material
from beadworth.rig import Rig, upgrade
from beadworth.store import Bench
from beadworth.web.routes.api_common import READS, WRITES, BodyOf, answer, takes
from beadworth.web.routes.api_shapes import FitAsked, PredictAsked
from beadworth.web.routes.common import BenchOf
from beadworth.workflow import find_material, stored_bring_ups, trial_calibration, trial_fit

router = APIRouter(prefix="/api", tags=["rigs"])


class FitAnswer(BaseModel):
    """Names, what changed, and every check with number, limit, margin, verdict and reason."""

    parent: str
    rig: str
    changed: list[dict[str, Any]]
    checks: list[dict[str, Any]]


class PredictAnswer(BaseModel):
    """One prediction per temperature: predicted, not measured."""

    predictions: list[dict[str, Any]] = Field(
        description="each as the command melt predict --json prints it"
    )


class BringUpKept(BaseModel):
    """One kept bring-up: its number, when it was kept (UTC), what it found, and the readings."""

    number: int
    at: datetime
    result: BringUpResult
    given: dict[str, Any]
    not_done: list[str]


class BringUpsAnswer(BaseModel):
    """What bring-ups of a rig found and kept, newest first."""

    rig: str
    results: list[BringUpKept]


@router.get(
    "/bringup",
    summary="What bring-ups of a rig found and kept",
    response_model=BringUpsAnswer,
    responses=READS,
)
def bringups(bench: BenchOf, rig: str) -> Response:
    """As the command ``rig bringup results --json``."""
    name = bench.rig(rig).name
    there = [to_json(one) for one in reversed(stored_bring_ups(bench, name))]
    return answer({"rig": name, "results": there})


@router.post(
    "/fit",
    summary="Check an upgrade against its parent rig; nothing is kept",
    response_model=FitAnswer,
    responses=WRITES,
    openapi_extra=takes("FitAsked"),
)
def fit(bench: BenchOf, body: BodyOf) -> Response:
    """As the command ``rig fit --json``; rigs by name, or as records."""
    asked = from_mapping(FitAsked, body, "fit")
    before = rig_of(bench, asked.parent, "parent")
    after = (
        upgrade(before, bench.rig(asked.upgrade))
        if isinstance(asked.upgrade, str)
        else upgrade(before, asked.upgrade, "upgrade")
    )
    material = None if asked.material is None else material_of(bench, asked.material)
    checks = fit_check(before, after, material, asked.temperature_c, asked.flow_mm3_s)
    return answer(fit_answer(before, after, checks))


@router.post(
    "/melt/predict",
    summary="Predict a rig's ceiling from its geometry and the polymer; nothing is kept",
    response_model=PredictAnswer,
    responses=WRITES,
    openapi_extra=takes("PredictAsked"),
)
def predict(bench: BenchOf, body: BodyOf) -> Response:
    """As the command ``melt predict --json``; predicted, not measured."""
    asked = from_mapping(PredictAsked, body, "prediction")
    rig = rig_of(bench, asked.rig, "rig")
    material = material_of(bench, asked.material)
    scales = None
    if asked.calibrate_with is not None:
        fit = trial_fit(bench.snapshot(asked.calibrate_with))
        scales = trial_calibration(bench, fit, (rig,), material, asked.calibrate_with).scales
    made = [melt.predict(rig, material, celsius, scales=scales) for celsius in asked.temperatures_c]
    return answer({"predictions": [to_json(prediction) for prediction in made]})


def rig_of(bench: Bench, asked: str | dict[str, Any], field: str) -> Rig:
    """A rig by its name on the bench, or from a record sent along."""
    return bench.rig(asked) if isinstance(asked, str) else from_mapping(Rig, asked, field)


def material_of(bench: Bench, asked: str | dict[str, Any]) -> Material:
    """A generic polymer, a material of the bench, or one sent along."""
    if isinstance(asked, str):
        return find_material(bench, asked)
    return from_mapping(Material, asked, "material")
