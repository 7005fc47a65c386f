"""Fit check, melt prediction and stored bring-ups as JSON: the same data as the commands."""

from __future__ import annotations

from typing import Any

from fastapi import APIRouter
from starlette.responses import Response

from beadworth.core import from_mapping
from beadworth.material import Material
from beadworth.rig import Rig, upgrade
from beadworth.web.routes.api_bodies import FitRequest, PredictionRequest
from beadworth.web.routes.api_common import BodyOf, answer, reads, writes
from beadworth.web.routes.common import BenchOf
from beadworth.workflow import (
    Bench,
    BringUps,
    FitAnswer,
    Predictions,
    find_material,
    fit_answer,
    fit_check,
    predict_rig,
    stored_bring_ups,
    trial_calibration,
    trial_fit,
)

router = APIRouter(prefix="/api", tags=["rigs"])


@router.get("/bringup", **reads(BringUps, "What bring-ups of a rig found and stored"))
def bringups(bench: BenchOf, rig: str) -> Response:
    """As the command ``rig bringup results --json``."""
    name = bench.rig(rig).name
    return answer(BringUps(name, tuple(reversed(stored_bring_ups(bench, name)))))


@router.post(
    "/fit",
    **writes(FitAnswer, "Check an upgrade against its parent rig; nothing is stored", FitRequest),
)
def fit(bench: BenchOf, body: BodyOf) -> Response:
    """As the command ``rig fit --json``; rigs by name, or as records."""
    request = from_mapping(FitRequest, body, "fit")
    before = _rig(bench, request.parent, "parent")
    after = (
        upgrade(before, bench.rig(request.upgrade))
        if isinstance(request.upgrade, str)
        else upgrade(before, request.upgrade, "upgrade")
    )
    material = None if request.material is None else _material(bench, request.material)
    checks = fit_check(before, after, material, request.temperature_c, request.flow_mm3_s)
    return answer(fit_answer(before, after, checks))


@router.post(
    "/melt/predict",
    **writes(
        Predictions,
        "Predict a rig's ceiling from its geometry and the polymer; nothing is stored",
        PredictionRequest,
    ),
)
def predict(bench: BenchOf, body: BodyOf) -> Response:
    """As the command ``melt predict --json``; predicted, not measured."""
    request = from_mapping(PredictionRequest, body, "prediction")
    rig = _rig(bench, request.rig, "rig")
    material = _material(bench, request.material)
    scales = None
    if request.calibrate_with is not None:
        fitted = trial_fit(bench.snapshot(request.calibrate_with))
        scales = trial_calibration(bench, fitted, (rig,), material, request.calibrate_with).scales
    made = predict_rig(rig, material, request.temperatures_c, scales)
    return answer(Predictions(tuple(made)))


def _rig(bench: Bench, given: str | dict[str, Any], field: str) -> Rig:
    """A rig by its name on the bench, or from a record sent along."""
    return bench.rig(given) if isinstance(given, str) else from_mapping(Rig, given, field)


def _material(bench: Bench, given: str | dict[str, Any]) -> Material:
    """A generic polymer, a material of the bench, or one sent along."""
    if isinstance(given, str):
        return find_material(bench, given)
    return from_mapping(Material, given, "material")
