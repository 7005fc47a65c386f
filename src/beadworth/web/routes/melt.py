"""What the melt model says of a rig: ceilings, outlet, force, melt zone; and ISO 1133."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any
from urllib.parse import urlencode

from fastapi import APIRouter
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response

from beadworth.core import BeadworthError, NotFoundError, from_mapping, to_toml
from beadworth.report import (
    force_chart,
    inside_chart,
    length_chart,
    nozzle_chart,
    outlet_chart,
    predicted_ceiling_chart,
    shares_chart,
)
from beadworth.web.fields_rig import FLOW_RATE, prediction_groups
from beadworth.web.figures import figure
from beadworth.web.forms import Form, collect, fields, refused, typed_in
from beadworth.web.responses import page, status_of
from beadworth.web.routes.common import BenchOf, see_other
from beadworth.workflow import (
    FlowRateInputs,
    Prediction,
    PredictionInputs,
    predicted_ceilings,
    predicted_forces,
    predicted_here,
    predicted_insides,
    predicted_lengths,
    predicted_nozzles,
    predicted_outlets,
    prediction,
    usual_prediction,
    viscosity_of_rate,
)

if TYPE_CHECKING:
    from beadworth.material import Rheology
    from beadworth.store import Bench
    from beadworth.web.forms import Group

router = APIRouter(include_in_schema=False)
PARTS = {
    "ceilings": "Ceiling over temperature",
    "inside": "Inside the hot end",
    "shares": "What the interval is made of",
    "nozzles": "Another nozzle",
    "outlet": "At the outlet",
    "force": "Push force",
    "length": "The next millimetre",
}


def _typed(bench: Bench, query: Mapping[str, Any]) -> tuple[tuple[Group, ...], dict[str, str]]:
    """The form and what stands in it, with the usual where nothing was chosen."""
    sent = {name: str(query.get(name, "")).strip() for name in PredictionInputs.model_fields}
    usual = usual_prediction(bench, sent)
    groups = prediction_groups(bench, usual["rig"], usual["other"])
    return groups, typed_in(groups, usual)


def _prediction(bench: Bench, groups: tuple[Group, ...], typed: dict[str, str]) -> Prediction:
    inputs = from_mapping(PredictionInputs, collect(groups, typed), "prediction")
    return prediction(bench, inputs)


@router.get("/melt")
def melt_page(request: Request, bench: BenchOf, rig: str | None = None) -> Response:
    """The question, and a place for each answer."""
    if rig is None:
        return see_other("/rigs")
    groups, typed = _typed(bench, request.query_params)
    form, found, status = Form(typed), None, 200
    try:
        found = _prediction(bench, groups, typed)
    except NotFoundError:
        raise
    except BeadworthError as error:
        form, status = refused(groups, typed, error), status_of(error)
    context = {
        "groups": groups,
        "form": form,
        "rig": typed["rig"],
        "of": found,
        "parts": PARTS,
        "query": urlencode(typed),
        "here": list(predicted_here(found).values()) if found else (),
    }
    return page(request, "melt.html", context, status)


@router.get("/melt/flow-rate")
def flow_rate(request: Request) -> Response:
    """A data sheet's melt-flow rate as a viscosity, beside the generic polymers."""
    sent = any(request.query_params.get(field.path) for field in fields(FLOW_RATE))
    typed = typed_in(FLOW_RATE, request.query_params if sent else {})
    context: dict[str, Any] = {"groups": FLOW_RATE, "form": Form(typed), "made": None}
    if not sent:
        return page(request, "melt_flow.html", context)
    try:
        inputs = from_mapping(FlowRateInputs, collect(FLOW_RATE, typed), "data sheet")
    except BeadworthError as error:
        context["form"] = refused(FLOW_RATE, typed, error)
        return page(request, "melt_flow.html", context, status_of(error))
    made, beside = viscosity_of_rate(inputs)
    toml = "[rheology]\n" + to_toml(_shortened(made.rheology))
    return page(request, "melt_flow.html", context | {"made": made, "beside": beside, "toml": toml})


@router.get("/melt/{part}")
def melt_part(request: Request, bench: BenchOf, part: str, rig: str) -> Response:
    """One answer: a chart and its numbers, alone or for the page that asked for it."""
    if part not in PARTS:
        raise HTTPException(404)
    groups, typed = _typed(bench, request.query_params)
    of = _prediction(bench, groups, typed)
    context = {
        "heading": PARTS[part],
        "part": part,
        "of": of,
        "back": urlencode(typed),
        **_ANSWERS[part](of),
    }
    return page(request, "melt_part.html", context)


def _ceilings(of: Prediction) -> dict[str, Any]:
    made = predicted_ceilings(of)
    names = [rig.name for rig in of.rigs]
    drawn = figure(predicted_ceiling_chart(made, of.measured, rigs=names))
    measured = {(c.rig, c.temperature_c): c for c in of.measured if c.flow_mm3_s is not None}
    return {"figure": drawn, "predictions": made, "measured": measured}


def _outlet(of: Prediction) -> dict[str, Any]:
    states = predicted_outlets(of)
    drawn = figure(outlet_chart(states, wall_c=of.temperature_c, softening_c=of.softening_c))
    return {"figure": drawn, "states": states}


def _force(of: Prediction) -> dict[str, Any]:
    states = predicted_forces(of)
    ceilings = {rig: found.ceiling_mm3_s for rig, found in predicted_here(of).items()}
    grips: dict[str, float | None] = {
        rig: found.grip_n for rig, found in predicted_here(of).items()
    }
    assumed = [rig.name for rig in of.rigs if rig.extruder.grip_force_n is None]
    drawn = figure(
        force_chart(states, ceilings, grips, temperature_c=of.temperature_c, assumed=assumed)
    )
    return {"figure": drawn}


def _length(of: Prediction) -> dict[str, Any]:
    points, gains = predicted_lengths(of)
    own = {rig.name: rig.hot_end.melt_zone_mm or 0.0 for rig in of.rigs}
    drawn = figure(length_chart(points, own, gains, temperature_c=of.temperature_c))
    return {"figure": drawn}


def _inside(of: Prediction) -> dict[str, Any]:
    drawn = inside_chart(predicted_insides(of), temperature_c=of.temperature_c)
    return {"figure": figure(drawn)}


def _shares(of: Prediction) -> dict[str, Any]:
    found = list(predicted_here(of).values())[-1]
    drawn = shares_chart(found)
    return {"figure": figure(drawn) if drawn else None, "found": found}


def _nozzles(of: Prediction) -> dict[str, Any]:
    return {"figure": figure(nozzle_chart(predicted_nozzles(of), temperature_c=of.temperature_c))}


_ANSWERS = {
    "ceilings": _ceilings,
    "inside": _inside,
    "shares": _shares,
    "nozzles": _nozzles,
    "outlet": _outlet,
    "force": _force,
    "length": _length,
}


def _shortened(fluid: Rheology) -> Rheology:
    """A consistency to four figures: more would claim what the rate does not tell."""
    consistency = float(f"{fluid.consistency_pa_sn:.4g}")
    return fluid.model_copy(update={"consistency_pa_sn": consistency})
