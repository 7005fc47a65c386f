"""A first trial from seven answers on one page."""

from __future__ import annotations

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import Response

from beadworth.core import BeadworthError, InputError, from_mapping
from beadworth.web.fields_start import MOVED
from beadworth.web.forms import Field, Form, Group, collect, refused, typed_in
from beadworth.web.responses import page, status_of
from beadworth.web.routes.common import BenchOf, FormOf, see_other
from beadworth.web.routes.record_pages import SURE
from beadworth.workflow import StartInputs, start_polymers, start_questions, start_trial

router = APIRouter(include_in_schema=False)


def groups() -> tuple[Group, ...]:
    """The form: seven boxes."""
    polymers = tuple((name, name) for name in start_polymers())
    return (
        Group(
            "Your printer",
            "The limits are the ones no program of yours will exceed.",
            (
                Field("rig", "Name", kind="text", required=True, help="As you would say it aloud."),
                Field("reach_mm", "What the nozzle reaches in x, y and z", "mm", kind="numbers",
                      required=True, example="220 220 250"),
                Field(
                    "temperature_limit_c", "Hot end's temperature limit", "°C",
                    "The highest its maker allows, for the weakest part.", required=True,
                ),
                Field(
                    "ptfe_in_melt_zone", "PTFE liner reaches the melt zone", kind="truth",
                    choices=(("yes", "yes"), ("no", "no")),
                    help="If so, or not known, nothing is run above 240 °C (common practice: PTFE "
                    "gives off harmful fumes when overheated).",
                ),
                Field(
                    "melt_zone_mm", "Melt zone length", "mm",
                    "Heated length of the bore. Not known: flows are chosen for a usual one.",
                ),
            ),
        ),
        Group(
            "What you weigh",
            "",
            (
                Field("polymer", "Polymer", kind="choice", choices=polymers, start="PLA",
                      required=True),
                Field("balance_g", "Smallest step of your balance", "g", start="0.01",
                      required=True),
            ),
        ),
    )  # fmt: skip


def show(request: Request, form: Form, status: int = 200, *, asked: bool = False) -> Response:
    """The page; ``asked``: what stands in the form is odd, not wrong."""
    context = {"groups": groups(), "form": form, "asked": asked}
    return page(request, "start.html", context, status)


@router.get("/start")
def start(request: Request) -> Response:
    """An empty form."""
    return show(request, Form(typed_in(groups(), {})))


@router.post("/start")
def begin(request: Request, bench: BenchOf, sent: FormOf) -> Response:
    """Store rig, material and plan, and open the trial."""
    typed = typed_in(groups(), sent)
    try:
        inputs = from_mapping(StartInputs, collect(groups(), typed), "start")
        odd = start_questions(bench, inputs)
        if odd and not sent.get(SURE):
            form = refused(groups(), typed, InputError(odd), MOVED)
            return show(request, form, 422, asked=True)
        trial = start_trial(bench, inputs)
    except BeadworthError as error:
        return show(request, refused(groups(), typed, error), status_of(error))
    return see_other(f"/trials/{trial.id}")
