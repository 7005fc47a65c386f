"""Worth: is an upgrade worth it, and for whom; cases kept on the bench."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any
from urllib.parse import quote, urlencode

from fastapi import APIRouter
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response

from beadworth.core import BeadworthError, NotFoundError, to_mapping, to_toml
from beadworth.store import Bench
from beadworth.text import duration, parse_number
from beadworth.web.print_desk import Desk, Job
from beadworth.web.responses import is_fragment, page, status_of
from beadworth.web.routes.common import BenchOf, FormOf, download, pasted_or_uploaded, see_other
from beadworth.web.routes.prints import PATIENCE_S, DeskOf
from beadworth.web.routes.rig_fit_record import LinedProblem, lined
from beadworth.web.worth_form import GROUPS, PRINT, case_data, estimate, in_form_words, typed_of
from beadworth.web.worth_work import case_job, changed, digest_of, known_job, shown
from beadworth.workflow import StoredWorth, store_worth, stored_worth, stored_worths
from beadworth.worth import (
    COST,
    GRADES,
    HOURS,
    WorthCase,
    case_from_mapping,
    case_from_toml,
    figures,
    limit_words,
    money,
    option_effect,
    profiles_of,
    reused,
    whom_sentence,
    with_interval,
)

router = APIRouter(include_in_schema=False)
USUAL = {"months": "24", "feeds": "as written"}


def _address(name: str) -> str:
    return f"/worth/case?name={quote(name, safe='')}"


@router.get("/worth")
def worth_page(request: Request, bench: BenchOf, desk: DeskOf) -> Response:
    """The cases on the bench, and the form of another."""
    typed = typed_of({**USUAL, **request.query_params}, desk.shelf.all())
    return _form_page(request, bench, desk, typed)


def _form_page(
    request: Request,
    bench: Bench,
    desk: Desk,
    typed: Mapping[str, str],
    error: BeadworthError | None = None,
) -> Response:
    prints = [stored for stored in desk.shelf.all() if desk.shelf.is_here(stored)]
    problems = error.problems if error else ()
    context = {
        "cases": stored_worths(bench),
        "address": _address,
        "rigs": [(rig.name, rig.name) for rig in bench.rigs()],
        "trials": [(t.id, t.question) for t in bench.trials() if t.readings],
        "prints": prints,
        "typed": typed,
        "groups": GROUPS,
        "print_path": PRINT,
        "problems": in_form_words(problems),
        "wrong": {problem.path.dotted for problem in problems if problem.path},
        "duration": duration,
    }
    return page(request, "worth.html", context, status_of(error) if error else 200)


@router.post("/worth")
def new_case(request: Request, bench: BenchOf, desk: DeskOf, sent: FormOf) -> Response:
    """A case from the form: replayed, worked out, kept."""
    stored = desk.shelf.all()
    typed = typed_of(sent, stored)
    try:
        case = case_from_mapping(case_data(typed, stored), "form")
        job = case_job(desk, bench, case)
        return _working(request, job, digest_of(case))
    except NotFoundError:
        raise
    except BeadworthError as error:
        return _form_page(request, bench, desk, typed, error)


@router.get("/worth/working")
def working(request: Request, desk: DeskOf, key: str) -> Response:
    """How far the replays of a case are; its page once they are done."""
    job = known_job(desk, key)
    if job is None:
        raise HTTPException(404)
    return _working(request, job, key)


def _working(request: Request, job: Job, key: str) -> Response:
    if not job.wait(PATIENCE_S):
        context = {"job": job, "again": f"/worth/working?{urlencode({'key': key})}"}
        template = "worth_busy.html" if is_fragment(request) else "worth_working.html"
        return page(request, template, context)
    address = _address(job.answer())
    if is_fragment(request):
        return Response(headers={"HX-Redirect": address})
    return see_other(address)


@router.get("/worth/case")
def case_page(request: Request, bench: BenchOf, name: str) -> Response:
    """What a case comes to; with weights and profiles as in the address."""
    kept = stored_worth(bench, name)
    return _case_page(request, kept, dict(request.query_params))


def _case_page(
    request: Request,
    kept: StoredWorth,
    typed: Mapping[str, str],
    error: BeadworthError | None = None,
) -> Response:
    case = kept.case
    if error is None:
        try:
            case = changed(kept, typed)
        except BeadworthError as refused:
            error = refused
    asked = reused(case, kept.asked) or kept.asked
    found = shown(asked)
    worth, table = found.found.worth, found.found.table
    context = {
        "kept": kept,
        "case": case,
        "tried": case != kept.case and _differs(case, kept.case),
        "answer": found.found,
        "whom": whom_sentence(found.found.profiles),
        "worth": worth,
        "table": table,
        "shown": found,
        "typed": typed,
        "query": urlencode({"name": kept.case.name}),
        "criteria": [c for c in table.criteria if c.name != COST],
        "profiles": profiles_of(case),
        "problems": error.problems if error else (),
        "grades": GRADES,
        "cost_name": COST,
        "hours_name": HOURS,
        "figures": figures,
        "interval": with_interval,
        "money": money,
        "effect_words": option_effect,
        "limit_words": limit_words,
        "duration": duration,
        "raw": {c.name: c.weight for c in table.criteria},
    }
    return page(request, "worth_case.html", context, status_of(error) if error else 200)


def _differs(case: WorthCase, kept: WorthCase) -> bool:
    """Whether weights or profiles are not those that are kept."""
    weights = {c.name: c.weight for c in kept.criteria}
    new = {c.name: c.weight for c in case.criteria}
    moved = any(weight != weights.get(name, 1.0) for name, weight in new.items())
    return moved or profiles_of(case) != profiles_of(kept)


@router.post("/worth/case")
def keep_changed(request: Request, bench: BenchOf, name: str, sent: FormOf) -> Response:
    """Keep the weights and profiles that were tried."""
    kept = stored_worth(bench, name)
    typed = {key: str(value) for key, value in sent.items()}
    try:
        case = changed(kept, typed)
    except BeadworthError as error:
        return _case_page(request, kept, typed, error)
    asked = reused(case, kept.asked)
    assert asked is not None  # weights and profiles move no replay
    store_worth(bench, asked, shown(asked).found)
    return see_other(_address(case.name))


@router.post("/worth/option")
def add_option(request: Request, bench: BenchOf, name: str, sent: FormOf) -> Response:
    """Add an option, or take one away, and keep the case."""
    kept = stored_worth(bench, name)
    typed = {key: str(value).strip() for key, value in sent.items()}
    data = to_mapping(kept.case)
    options = [o for o in data.get("options", []) if o["name"] != typed.get("remove")]
    try:
        if "remove" not in typed:
            options.append(_option(typed))
        case = case_from_mapping({**data, "options": options}, "option")
        asked = reused(case, kept.asked)
        assert asked is not None
        store_worth(bench, asked, shown(asked).found)
    except BeadworthError as error:
        return _case_page(request, kept, typed, error)
    return see_other(f"{_address(name)}#against")


def _option(typed: Mapping[str, str]) -> dict[str, Any]:
    """An option as typed; effects left empty are unknown."""
    effects: dict[str, Any] = {}
    dotted = {key.replace(":low", ".low").replace(":high", ".high"): v for key, v in typed.items()}
    named = {re.sub(r"\.(low|high)$", "", key) for key in dotted if key.startswith("effect:")}
    for key in sorted(named):
        known = estimate(dotted, key)
        if known is not None:
            known = known if isinstance(known, dict) else {"value": known}
            known["evidence"] = typed.get("evidence", "")
            effects[key.removeprefix("effect:")] = known
    cost = typed.get("cost", "")
    value = parse_number(cost)
    return {"name": typed.get("option", ""), "what": typed.get("what", ""),
            "cost": cost if value is None else value, "effects": effects}  # fmt: skip


@router.get("/worth/edit")
def edit_page(request: Request, bench: BenchOf, name: str) -> Response:
    """The whole case as text."""
    return _edit(request, name, to_toml(stored_worth(bench, name).case), ())


def _edit(
    request: Request, name: str, text: str, problems: tuple[LinedProblem, ...], status: int = 200
) -> Response:
    context = {"name": name, "text": text, "problems": problems, "address": _address}
    return page(request, "worth_edit.html", context, status)


@router.post("/worth/edit")
def edit(request: Request, bench: BenchOf, desk: DeskOf, name: str, sent: FormOf) -> Response:
    """The changed text, replayed where it must be, and kept; or everything wrong with it."""
    kept = stored_worth(bench, name)
    text = str(sent.get("text", ""))
    try:
        text, source = pasted_or_uploaded(sent, f"{name}.toml")
        case = case_from_toml(text, source)
        asked = reused(case, kept.asked)
        if asked is None:
            return _working(request, case_job(desk, bench, case), digest_of(case))
        store_worth(bench, asked, shown(asked).found)
        return see_other(_address(case.name))
    except NotFoundError:
        raise
    except BeadworthError as error:
        return _edit(request, name, text, lined(error, text), status_of(error))


@router.get("/worth/file")
def case_file(bench: BenchOf, name: str) -> Response:
    """The case as TOML, to take away."""
    text = to_toml(stored_worth(bench, name).case)
    return download(text, f"{name}.toml", "application/toml")
