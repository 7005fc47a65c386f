"""Does an upgrade fit: two rigs of the bench, or a rig and a pasted list of what changes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any
from urllib.parse import quote, urlencode

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import Response

from beadworth.core import BeadworthError, InputError, NotFoundError, Problem, parse_toml
from beadworth.fit import Check, fit_check, unchanged
from beadworth.material import Material
from beadworth.report import acceleration_chart, fit_sentence
from beadworth.rig import Rig, side_view, upgrade
from beadworth.store import Bench
from beadworth.web import handbook
from beadworth.web.figures import Figure, figure
from beadworth.web.responses import page, status_of
from beadworth.web.rig_job import USUAL_MATERIAL, Typed, material_names, polymer
from beadworth.web.rig_sheet import changes_of
from beadworth.web.routes.common import BenchOf, FormOf, pasted_or_uploaded, see_other
from beadworth.web.routes.record_pages import refuse_taken
from beadworth.web.routes.rig_fit_record import LinedProblem, lined
from beadworth.web.routes.rigs import NOUN

router = APIRouter(include_in_schema=False)
FIELDS = ("parent", "upgrade", "material", "temperature", "flow")
USUAL = {"material": USUAL_MATERIAL, "temperature": "220", "flow": "15"}
MARKS = {"fits": "✓", "look closer": "◐", "does not fit": "✕", "measure this": "?"}
BAR_PX, HALF_PX = 132.0, 66.0


@dataclass(frozen=True)
class Bar:
    """The margin as a bar from the limit in the middle; room to the right, beyond to the left."""

    x: float
    width: float
    low: float
    high: float
    """Ends of the whisker, ± twice the standard uncertainty."""


@dataclass(frozen=True)
class Row:
    """A check as the table shows it."""

    check: Check
    mark: str
    bar: Bar | None
    as_before: bool
    """Whether the parent rig has the same number and the same verdict."""
    formula: str | None


def typed_job(typed: Mapping[str, str], bench: Bench) -> tuple[Material | None, Any, Any]:
    """Material, temperature and flow as typed.

    Raises
    ------
    InputError
        What is no number or out of range, all at once.
    NotFoundError
        No such material.
    """
    reader = Typed()
    celsius = reader.number(typed["temperature"], "temperature, °C", 20, 600)
    flow = reader.number(typed["flow"], "flow, mm³/s", 0.01, 1000)
    reader.refuse()
    return (polymer(bench, typed["material"]) if typed["material"] else None), celsius, flow


@router.get("/rig-fit")
def fit_page(request: Request, bench: BenchOf) -> Response:
    """The form, and the checks once there is a rig to check."""
    asked = request.query_params
    typed = {name: str(asked.get(name, USUAL.get(name, ""))).strip() for name in FIELDS}
    if not typed["upgrade"] and not typed["parent"]:
        return show(request, bench, typed)
    try:
        before, after = _pair(bench, typed)
        typed["parent"] = before.name
        typed["upgrade"] = "" if after is before else after.name
        return show(request, bench, typed, found=_checked(bench, before, after, typed))
    except NotFoundError:
        raise
    except InputError as error:
        problems = tuple(LinedProblem(problem, None) for problem in error.problems)
        return show(request, bench, typed, problems=problems, status=status_of(error))


@router.post("/rig-fit")
def fit_pasted(request: Request, bench: BenchOf, sent: FormOf) -> Response:
    """Two rigs: their address. A pasted upgrade: its checks, and on demand a rig of its own."""
    typed = {name: str(sent.get(name, "")).strip() for name in FIELDS}
    pasted = str(sent.get("text", ""))
    upload = getattr(sent.get("file"), "filename", "")
    if not pasted.strip() and not upload:
        return see_other(f"/rig-fit?{urlencode(typed)}")
    source = "pasted upgrade"
    try:
        pasted, source = pasted_or_uploaded(sent, source)
        if not typed["parent"]:
            raise InputError(
                Problem("no rig was chosen that this changes.", "rig as it is",
                        remedy="Choose the rig the upgrade starts from.")
            )  # fmt: skip
        before = bench.rig(typed["parent"])
        after = upgrade(before, parse_toml(pasted, source), source)
        if sent.get("keep"):
            refuse_taken(NOUN, bench, after.name)
            bench.save_rig(after)
            return see_other(f"/rig/{quote(after.name)}")
        found = _checked(bench, before, after, typed)
    except NotFoundError:
        raise
    except BeadworthError as error:
        problems = lined(error, pasted)
        return show(request, bench, typed, problems=problems, text=pasted, status=status_of(error))
    return show(request, bench, typed, found=found, text=pasted)


def show(
    request: Request,
    bench: Bench,
    typed: Mapping[str, str],
    *,
    found: Mapping[str, Any] | None = None,
    problems: tuple[LinedProblem, ...] = (),
    text: str = "",
    status: int = 200,
) -> Response:
    """The page, with what was typed."""
    context = {
        "rigs": [rig.name for rig in bench.rigs()],
        "materials": material_names(bench),
        "typed": typed,
        "text": text,
        "problems": problems,
        "found": found,
    }
    return page(request, "rig_fit.html", context, status)


def _pair(bench: Bench, typed: Mapping[str, str]) -> tuple[Rig, Rig]:
    """The rig before and after; with one name only, a rig against its own parent or itself."""
    if typed["parent"] and typed["upgrade"]:
        return bench.rig(typed["parent"]), bench.rig(typed["upgrade"])
    after = bench.rig(typed["upgrade"] or typed["parent"])
    if typed["parent"] or not after.parent:
        return after, after
    try:
        return bench.rig(after.parent), after
    except NotFoundError:
        return after, after


def _checked(bench: Bench, before: Rig, after: Rig, typed: Mapping[str, str]) -> dict[str, Any]:
    material, celsius, flow = typed_job(typed, bench)
    checks = fit_check(before, after, material, celsius, flow)
    alone = after is before
    earlier = checks if alone else fit_check(before, before, material, celsius, flow)
    same = unchanged(checks, earlier)
    rows = [
        Row(c, MARKS[c.verdict], bar_of(c), not alone and c.name in same,
            handbook.formula_address(c.formula))
        for c in checks
    ]  # fmt: skip
    rigs = (before.name, after.name)
    return {
        "before": before,
        "after": after,
        "alone": alone,
        "rows": rows,
        "counts": {mark: sum(c.verdict == mark for c in checks) for mark in MARKS},
        "marks": MARKS,
        "changes": () if alone else changes_of(before, after),
        "sentence": fit_sentence(checks, after.name, () if alone else tuple(same)),
        "cautions": tuple(dict.fromkeys(c.caution for c in checks if c.caution)),
        "views": [(after.name, side_view(after))]
        if alone
        else [(rig.name, side_view(rig)) for rig in (before, after)],
        "figure": _figure(earlier, checks, rigs),
    }


def _figure(earlier: Any, checks: Any, rigs: tuple[str, str]) -> Figure | None:
    if acceleration_chart(earlier, checks, rigs=rigs) is None:
        return None

    def draw(px: float) -> Any:
        return acceleration_chart(earlier, checks, rigs=rigs, width_px=px)

    return figure(draw)


def bar_of(check: Check) -> Bar | None:
    """The bar of a margin, as a share of limit or value, whichever is larger."""
    if check.margin is None or check.limit is None or check.value is None:
        return None
    scale = max(abs(check.limit), abs(check.value))
    if scale == 0:
        return Bar(HALF_PX, 0.0, HALF_PX, HALF_PX)

    def place(value: float) -> float:
        return HALF_PX + (HALF_PX - 2) * max(-1.0, min(1.0, value / scale))

    end = place(check.margin)
    doubt = 2.0 * (check.u or 0.0)
    return Bar(
        min(HALF_PX, end),
        abs(end - HALF_PX),
        place(check.margin - doubt),
        place(check.margin + doubt),
    )
