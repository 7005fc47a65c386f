"""What the melt model says of a rig: ceilings, outlet, force, melt zone; and ISO 1133."""

from __future__ import annotations

from typing import Any
from urllib.parse import urlencode

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import Response

from beadworth.core import BeadworthError, Problem, to_toml
from beadworth.material import GENERIC, Rheology
from beadworth.melt import against_material, melt_flow_estimate, softening_of
from beadworth.report import force_chart, length_chart, outlet_chart, predicted_ceiling_chart
from beadworth.web.figures import figure
from beadworth.web.melt_job import (
    NONE,
    MeltJob,
    at_ceiling,
    ceilings_of,
    forces_of,
    job_of,
    lengths_of,
    outlets_of,
    problems_of,
    trials_with,
    typed_job,
)
from beadworth.web.responses import page, status_of
from beadworth.web.rig_job import Typed, material_names
from beadworth.web.routes.common import BenchOf, see_other

router = APIRouter(include_in_schema=False)
PARTS = {
    "ceilings": "Ceiling over temperature",
    "outlet": "At the outlet",
    "force": "Push force",
    "length": "The next millimetre",
}


@router.get("/melt")
def melt_page(request: Request, bench: BenchOf, rig: str | None = None) -> Response:
    """The question, and a place for each answer."""
    if rig is None:
        return see_other("/rigs")
    typed = typed_job(bench, request.query_params)
    job, status = None, 200
    problems: tuple[Problem, ...] = ()
    try:
        job = job_of(bench, typed)
    except BeadworthError as error:
        problems, status = problems_of(error), status_of(error)
    names = [other.name for other in bench.rigs()]
    pair = tuple(name for name in (typed["rig"], typed["other"]) if name != NONE)
    context = {
        "typed": typed,
        "none": NONE,
        "rigs": names,
        "materials": material_names(bench),
        "trials": trials_with(bench, pair),
        "job": job,
        "problems": problems,
        "parts": PARTS,
        "query": urlencode(typed),
        "summary": _summary(job) if job else (),
    }
    return page(request, "melt.html", context, status)


@router.get("/melt/flow-rate")
def flow_rate(request: Request) -> Response:
    """A data sheet's melt-flow rate as a viscosity, beside the generic polymers."""
    asked = request.query_params
    names = ("mfr", "load", "temperature", "density", "index")
    typed = {name: str(asked.get(name, "")).strip() for name in names}
    start = {"load": "2.16", "temperature": "210", "density": "1.08", "index": "0.4"}
    if not any(typed.values()):
        return page(request, "melt_flow.html", {"typed": typed | start, "found": None,
                                                "problems": ()})  # fmt: skip
    reader = Typed()
    values = [
        reader.number(typed[name], words, low, high, needed=True)
        for name, words, low, high in (
            ("mfr", "melt-flow rate, g/10 min", 1e-3, 2000),
            ("load", "load, kg", 0.1, 30),
            ("temperature", "temperature, °C", 50, 450),
            ("density", "melt density, g/cm³", 0.2, 5),
            ("index", "flow index", 0.05, 1),
        )
    ]
    found: dict[str, Any] | None = None
    problems: tuple[Problem, ...] = tuple(reader.problems)
    if not problems:
        mfr, load, celsius, density, index = (value or 0.0 for value in values)
        made = melt_flow_estimate(mfr, load, celsius, density, flow_index=index)
        found = {
            "made": made,
            "toml": "[rheology]\n" + to_toml(_shortened(made.rheology)),
            "beside": [(name, against_material(made, generic)) for name, generic in
                       GENERIC.items()],
        }  # fmt: skip
    context = {"typed": typed, "found": found, "problems": problems}
    return page(request, "melt_flow.html", context, 422 if problems else 200)


@router.get("/melt/{part}")
def melt_part(request: Request, bench: BenchOf, part: str, rig: str) -> Response:
    """One answer: a chart and its numbers, alone or for the page that asked for it."""
    from starlette.exceptions import HTTPException

    if part not in PARTS:
        raise HTTPException(404)
    typed = typed_job(bench, {**request.query_params, "rig": rig})
    job = job_of(bench, typed)
    context = {
        "heading": PARTS[part],
        "part": part,
        "job": job,
        "back": urlencode(typed),
        **_ANSWERS[part](job),
    }
    return page(request, "melt_part.html", context)


def _summary(job: MeltJob) -> list[Any]:
    return [at_ceiling(job, rig) for rig in job.rigs]


def _ceilings(job: MeltJob) -> dict[str, Any]:
    made = ceilings_of(job)
    names = [rig.name for rig in job.rigs]
    drawn = figure(lambda px: predicted_ceiling_chart(made, job.measured, rigs=names, width_px=px))
    measured = {(c.rig, c.temperature_c): c for c in job.measured if c.flow_mm3_s is not None}
    return {"figure": drawn, "predictions": made, "measured": measured}


def _outlet(job: MeltJob) -> dict[str, Any]:
    states = outlets_of(job)
    softening = softening_of(job.material)
    softening += job.scales.softening_shift_c if job.scales else 0.0
    drawn = figure(
        lambda px: outlet_chart(
            states, wall_c=job.temperature_c, softening_c=softening, width_px=px
        )
    )
    return {"figure": drawn, "states": states}


def _force(job: MeltJob) -> dict[str, Any]:
    if job.material.rheology is None:
        return {"figure": None}
    states = forces_of(job)
    ceilings = {rig.name: at_ceiling(job, rig).ceiling_mm3_s for rig in job.rigs}
    grips = {rig.name: rig.extruder.grip_force_n for rig in job.rigs}
    drawn = figure(
        lambda px: force_chart(
            states, ceilings, grips, temperature_c=job.temperature_c, width_px=px
        )
    )
    return {"figure": drawn}


def _length(job: MeltJob) -> dict[str, Any]:
    points, gains = lengths_of(job)
    own = {rig.name: rig.hot_end.melt_zone_mm or 0.0 for rig in job.rigs}
    drawn = figure(
        lambda px: length_chart(points, own, gains, temperature_c=job.temperature_c, width_px=px)
    )
    return {"figure": drawn}


_ANSWERS = {"ceilings": _ceilings, "outlet": _outlet, "force": _force, "length": _length}


def _shortened(fluid: Rheology) -> Rheology:
    """A consistency to four figures: more would claim what the rate does not tell."""
    consistency = float(f"{fluid.consistency_pa_sn:.4g}")
    return fluid.model_copy(update={"consistency_pa_sn": consistency})
