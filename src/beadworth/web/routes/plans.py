"""Plan a trial: the form, what it would cost as it is typed, and keeping it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import Response

from beadworth.core import BeadworthError, from_mapping, to_mapping
from beadworth.report import outlook_chart
from beadworth.trial import TrialSpec
from beadworth.web.fields_trial import trial_groups
from beadworth.web.figures import figure
from beadworth.web.forms import Form, Group, collect, refused, typed_from, typed_in
from beadworth.web.responses import page, status_of
from beadworth.web.routes.common import BenchOf, FormOf, see_other
from beadworth.web.routes.record_pages import fresh_values
from beadworth.workflow import Bench, checked_balance, checked_names, make_plan

router = APIRouter(include_in_schema=False)
PREVIEW_QUESTION = "What is the ceiling of this rig?"
"""Stands in while the question is not typed yet, so that the cost can be seen before it."""


def groups_for(bench: Bench) -> tuple[Group, ...]:
    """The form over what is on the bench."""
    rigs, materials = bench.records()
    return trial_groups(list(rigs), list(materials))


def spec_from(groups: Sequence[Group], typed: dict[str, str]) -> TrialSpec:
    """The trial record of what was typed."""
    return from_mapping(TrialSpec, collect(groups, typed), "trial")


def fresh_spec(bench: Bench) -> dict[str, Any]:
    """Values a new form starts with; a lone rig or material is chosen already."""
    start = fresh_values(
        TrialSpec, question="", baseline="", material="", temperatures_c=(), flows_mm3_s=()
    )
    rigs, materials = bench.rigs(), bench.materials()
    if len(rigs) == 1:
        start["baseline"] = rigs[0].name
    if len(materials) == 1:
        start["material"] = materials[0].name
    return start


def show(
    request: Request, bench: Bench, form: Form, trial: str | None = None, status: int = 200
) -> Response:
    """The form of a new trial, or of one whose plan may still be made anew."""
    rigs, materials = bench.records()
    context = {
        "groups": trial_groups(list(rigs), list(materials)),
        "form": form,
        "trial": trial,
        "rigs": list(rigs.values()),
        "materials": list(materials.values()),
        "plan": None,
        "error": None,
        "checked": [] if trial else checked_names(bench),
    }
    return page(request, "plan_form.html", context, status)


@router.get("/trials/new")
def new(request: Request, bench: BenchOf) -> Response:
    """An empty form, but for rigs, material and checked balance that the address names."""
    rigs, materials = bench.records()
    groups = trial_groups(list(rigs), list(materials))
    named: dict[str, Any] = {
        path: name
        for path, there in (("baseline", rigs), ("candidate", rigs), ("material", materials))
        if (name := request.query_params.get(path)) in there
    }
    if balance := request.query_params.get("balance"):
        named["balance"] = to_mapping(checked_balance(bench, balance))
    return show(request, bench, Form(typed_from(groups, fresh_spec(bench) | named)))


@router.post("/trials/preview")
def preview(request: Request, bench: BenchOf, sent: FormOf) -> Response:
    """What the plan as typed would cost and see, or what stands in its way; nothing is kept."""
    groups = groups_for(bench)
    typed = typed_in(groups, sent)
    filled = typed if typed["question"] else typed | {"question": PREVIEW_QUESTION}
    context: dict[str, Any] = {
        "plan": None,
        "outlook": None,
        "error": None,
        "early": _too_early(typed),
    }
    if not context["early"]:
        try:
            made = make_plan(bench, spec_from(groups, filled))
            context["plan"] = made
            context["outlook"] = figure(outlook_chart(made.outlook, made.spec.difference_mm3_s))
        except BeadworthError as error:
            context["error"] = refused(groups, typed, error)
    context["groups"] = groups
    return page(request, "plan_preview.html", context)


def _too_early(typed: dict[str, str]) -> bool:
    """Before the ladder is typed there is nothing to say: a form half filled is no mistake."""
    wanted = ("baseline", "material", "temperatures_c", "flows_mm3_s")
    return not all(typed[path] for path in wanted)


@router.post("/trials")
def create(request: Request, bench: BenchOf, sent: FormOf) -> Response:
    """Keep the plan as a trial."""
    groups = groups_for(bench)
    typed = typed_in(groups, sent)
    try:
        spec = spec_from(groups, typed)
        trial = bench.create_trial(spec, make_plan(bench, spec))
    except BeadworthError as error:
        form = refused(groups, typed, error)
        return show(request, bench, form, status=status_of(error))
    return see_other(f"/trials/{trial.id}")


@router.get("/trials/{trial}/replan")
def edit(request: Request, bench: BenchOf, trial: str) -> Response:
    """The form again, for a plan nothing was weighed against yet."""
    record = bench.trial(trial)
    data = to_mapping(record.spec) if record.spec else fresh_spec(bench)
    return show(request, bench, Form(typed_from(groups_for(bench), data)), trial)


@router.post("/trials/{trial}/replan")
def replan(request: Request, bench: BenchOf, trial: str, sent: FormOf) -> Response:
    """Make the plan anew; the bench refuses once a reading is there."""
    groups = groups_for(bench)
    typed = typed_in(groups, sent)
    try:
        spec = spec_from(groups, typed)
        bench.replan(trial, spec, make_plan(bench, spec))
    except BeadworthError as error:
        form = refused(groups, typed, error)
        return show(request, bench, form, trial, status_of(error))
    return see_other(f"/trials/{trial}?tab=plan")
