"""An upgrade as the thing people have: rig before and after, and where each stage of it is done."""

from __future__ import annotations

from collections.abc import Sequence
from urllib.parse import quote, urlencode

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import Response

from beadworth.core import BeadworthError, InputError
from beadworth.rig import PartCard, Rig
from beadworth.web.fields_parts import chosen_parts, part_groups
from beadworth.web.forms import Form, collect, refused, typed_in
from beadworth.web.responses import page, status_of
from beadworth.web.rig_sheet import changes_of
from beadworth.web.routes.common import BenchOf, FormOf, see_other
from beadworth.web.routes.record_pages import SURE
from beadworth.workflow import (
    Stage,
    Upgrade,
    bench_view,
    questions_about,
    upgrade,
    upgraded,
    upgrades,
)

router = APIRouter(include_in_schema=False)


@router.get("/upgrades")
def every(request: Request, bench: BenchOf) -> Response:
    """Every upgrade on the bench."""
    return page(request, "upgrades.html", {"pairs": upgrades(bench_view(bench))})


@router.get("/upgrade")
def one(request: Request, bench: BenchOf, rig: str = "") -> Response:
    """One upgrade, stage by stage."""
    found = upgrade(bench_view(bench), rig)
    changes = changes_of(found.before, found.after) if found.before else ()
    context = {"upgrade": found, "job": job_of(found), "changes": changes}
    return page(request, "upgrade.html", context)


@router.get("/upgrades/new")
def new(request: Request, bench: BenchOf, rig: str = "") -> Response:
    """The form of an upgrade of a rig, part by part; parts may be named in the address."""
    before, cards = bench.rig(rig), bench.parts()
    typed = typed_in(part_groups(before, cards), request.query_params)
    return _form(request, before, cards, Form(typed))


@router.post("/upgrades/new")
def make(request: Request, bench: BenchOf, sent: FormOf, rig: str = "") -> Response:
    """Store the upgraded rig and show its job; what is odd is asked about first."""
    before, cards = bench.rig(rig), bench.parts()
    groups = part_groups(before, cards)
    typed = typed_in(groups, sent)
    try:
        changes = collect(groups, typed)
        changes.pop("part", None)
        after = upgraded(bench, rig, changes, chosen_parts(cards, typed))
        odd = questions_about(bench, after, before)
        if odd and not sent.get(SURE):
            form = refused(groups, typed, InputError(odd))
            return _form(request, before, cards, form, 422, asked=True)
    except BeadworthError as error:
        return _form(request, before, cards, refused(groups, typed, error), status_of(error))
    bench.save_rig(after)
    return see_other(f"/upgrade?{urlencode({'rig': after.name})}")


def _form(
    request: Request,
    before: Rig,
    cards: Sequence[PartCard],
    form: Form,
    status: int = 200,
    *,
    asked: bool = False,
) -> Response:
    groups = part_groups(before, cards)
    context = {"before": before, "groups": groups, "form": form, "asked": asked, "cards": cards}
    return page(request, "upgrade_form.html", context, status)


def job_of(found: Upgrade) -> list[tuple[Stage, str]]:
    """The stages with the addresses where each is done."""
    return [(stage, _address(stage, found)) for stage in found.stages]


def _address(stage: Stage, found: Upgrade) -> str:
    """Where a stage is done; one that waits for a trial leads to planning it."""
    rig, on = found.after.name, quote(stage.subject or "", safe="")
    before = found.before.name if found.before else None
    plan = {"baseline": rig}
    if before and not found.apart[0]:  # where it is weighed already, the upgrade is weighed alone
        plan = {"baseline": before, "candidate": rig}
    new_trial = f"/trials/new?{urlencode(plan)}"
    new_case = f"/worth?{urlencode({'candidate': rig} | ({'baseline': before} if before else {}))}"
    known = stage.subject is not None
    addresses = {
        "fit": f"/rig-fit?{urlencode({'upgrade': rig})}",
        "bring-up": f"/bring-up?{urlencode({'rig': rig})}",
        "trial": f"/trials/{on}" if known else new_trial,
        "speed": f"/trials/{on}?step=print" if known else new_trial,
        "prints": "/prints",
        "worth": f"/worth/case?name={on}" if known else new_case,
        "wear": f"/wear/{quote(rig)}",
        "publish": f"/trials/{on}?tab=publish" if known else new_trial,
    }
    return addresses[stage.name]
