"""Worth: is an upgrade worth it, and for whom; cases stored on the bench."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import replace
from typing import TYPE_CHECKING, Any
from urllib.parse import quote, urlencode

from fastapi import APIRouter
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response

from beadworth.core import BeadworthError, NotFoundError, Place, Problem, from_mapping, to_toml
from beadworth.report import (
    limits_worth_chart,
    options_chart,
    payback_chart,
    ranking_chart,
    tornado_chart,
)
from beadworth.web.fields_worth import (
    MOST_PRINTS,
    NEWEST,
    asked_for,
    case_data,
    case_groups,
    option_data,
    option_groups,
    tried_data,
    try_groups,
)
from beadworth.web.figures import Figure, figure_if_any
from beadworth.web.forms import Form, Group, fields, refused, typed_in
from beadworth.web.jobs import Job
from beadworth.web.print_jobs import Desk
from beadworth.web.responses import is_fragment, page, status_of
from beadworth.web.routes.common import (
    PATIENCE_S,
    BenchOf,
    DeskOf,
    FormOf,
    download,
    pasted_or_uploaded,
    see_other,
)
from beadworth.web.toml_lines import with_lines
from beadworth.workflow import (
    COST,
    REPLAYS,
    StoredWorth,
    TriedInputs,
    calculate_worth,
    case_from_mapping,
    case_from_toml,
    changed_worth,
    differs,
    figures,
    limit_words,
    material_names,
    measured_in,
    money,
    option_effect,
    rig_pairs,
    store_changed,
    store_worth,
    stored_worth,
    stored_worths,
    tried_case,
    usual_material,
    whom_sentence,
    with_interval,
    with_option,
    without_option,
    worth_answer,
)

if TYPE_CHECKING:
    from beadworth.store import Bench
    from beadworth.worth import Answer, WorthCase

router = APIRouter(include_in_schema=False)


def _address(name: str) -> str:
    return f"/worth/case?name={quote(name, safe='')}"


@router.get("/worth")
def worth_page(request: Request, bench: BenchOf, desk: DeskOf) -> Response:
    """The cases on the bench, and the form of another."""
    groups = _groups(bench, desk)
    sent = asked_for(rig_pairs(bench), request.query_params)
    return _form_page(request, bench, groups, Form(typed_in(groups, sent)))


def _groups(bench: Bench, desk: Desk) -> tuple[Group, ...]:
    prints = desk.shelf.here()[:MOST_PRINTS]
    trials = [(trial.id, trial.question) for trial in bench.outlines() if trial.fitted]
    rigs = [rig.name for rig in bench.rigs()]
    return case_groups(rig_pairs(bench), rigs, trials, prints, material_names(bench))


def _form_page(
    request: Request, bench: Bench, groups: tuple[Group, ...], form: Form, status: int = 200
) -> Response:
    context = {
        "cases": stored_worths(bench),
        "address": _address,
        "groups": groups,
        "form": form,
        "no_prints": not any(field.path.startswith("per_year.") for field in fields(groups)),
    }
    return page(request, "worth.html", context, status)


@router.post("/worth")
def new_case(request: Request, bench: BenchOf, desk: DeskOf, sent: FormOf) -> Response:
    """A case from the form: replayed, calculated, stored."""
    groups = _groups(bench, desk)
    typed = typed_in(groups, sent)
    prints = desk.shelf.here()[:MOST_PRINTS]
    data, moved = case_data(groups, typed, prints, rig_pairs(bench))
    try:
        if data.get("trial") == NEWEST:
            data |= measured_in(bench, data.get("baseline"), data.get("candidate"))
        usual = None if data.get("trial") else usual_material(bench)
        if usual:
            data["prints"] = [{"material": usual} | of for of in data["prints"]]
        return _working(request, case_job(desk, bench, case_from_mapping(data, "form")))
    except NotFoundError:
        raise
    except BeadworthError as error:
        if "name" not in data:  # it is made of the two rigs, which are asked for
            error.problems = tuple(
                p for p in error.problems if not p.path or p.path.field != ("name",)
            )
        if not data["prints"]:  # said of the whole case; the form has a box for it
            where = Place("form", field=("prints",))
            error.problems = tuple(
                replace(p, path=where) if not (p.path and p.path.field) else p
                for p in error.problems
            )
        form = refused(groups, typed, error, moved)
        return _form_page(request, bench, groups, form, status_of(error))


def case_job(desk: Desk, bench: Bench, case: WorthCase) -> Job:
    """The prints of a case replayed and the case stored; its result is the case's name."""

    def work(job: Job) -> str:
        inputs, found = calculate_worth(
            bench, case, shelf=desk.shelf, step=lambda: job.progress(job.count + 1)
        )
        store_worth(bench, inputs, found)
        return inputs.case.name

    digest = hashlib.sha256(case.model_dump_json().encode()).hexdigest()
    return desk.jobs.start(
        ("worth", digest), work, words="Replaying on both rigs",
        total=REPLAYS * len(case.prints),
        detail=lambda job: f"{job.count} of {job.total} replays done.",
    )  # fmt: skip


@router.get("/worth/working")
def working(request: Request, desk: DeskOf, job: int) -> Response:
    """How far the replays of a case are; its page once they are done."""
    found = desk.jobs.numbered(job)
    if found is None or not isinstance(found.key, tuple) or found.key[0] != "worth":
        raise HTTPException(404)
    return _working(request, found)


def _working(request: Request, job: Job) -> Response:
    if not job.wait(PATIENCE_S):
        context = {"job": job, "again": f"/worth/working?job={job.number}"}
        return page(
            request, "progress.html" if is_fragment(request) else "worth_working.html", context
        )
    address = _address(job.answer())
    if is_fragment(request):
        return Response(headers={"HX-Redirect": address})
    return see_other(address)


@router.get("/worth/case")
def case_page(request: Request, bench: BenchOf, name: str) -> Response:
    """What a case comes to; with weights and profiles as in the address."""
    return _tried_page(request, stored_worth(bench, name), request.query_params)


def _tried(stored: StoredWorth, sent: Mapping[str, Any]) -> WorthCase:
    """The case with weights and profiles as sent.

    Raises
    ------
    RecordError
        What is no number, or a weight that is not above 0; all of it at once.
    """
    groups = try_groups(stored.case, worth_answer(stored.asked).table)
    data = tried_data(groups, typed_in(groups, sent), sent.keys())
    return tried_case(stored.case, from_mapping(TriedInputs, data, "case"))


def _tried_page(request: Request, stored: StoredWorth, sent: Mapping[str, Any]) -> Response:
    try:
        return _case_page(request, stored, _tried(stored, sent))
    except BeadworthError as error:
        return _case_page(request, stored, stored.case, sent, tried_error=error)


def _case_page(
    request: Request,
    stored: StoredWorth,
    case: WorthCase,
    sent: Mapping[str, Any] | None = None,
    *,
    tried_error: BeadworthError | None = None,
    option_error: BeadworthError | None = None,
) -> Response:
    answer = worth_answer(changed_worth(stored, case) or stored.asked)
    worth, table = answer.worth, answer.table
    groups = try_groups(case, table)
    form = Form(typed_in(groups, {}))
    if tried_error:
        form = refused(groups, typed_in(groups, sent or {}), tried_error)
    option = option_groups(table.criteria, worth.currency)
    option_form = Form(typed_in(option, {}))
    if option_error:
        last = len(stored.case.options)
        moved = {f"options.{last}.{name}": name for name in ("name", "what", "cost", "effects")}
        option_form = refused(option, typed_in(option, sent or {}), option_error, moved)
    error = tried_error or option_error
    context = {
        "stored": stored,
        "case": case,
        "tried": case != stored.case and differs(case, stored.case),
        "answer": answer,
        "whom": whom_sentence(answer.profiles),
        "worth": worth,
        "table": table,
        "drawn": _figures(answer),
        "groups": groups,
        "form": form,
        "option_groups": option,
        "option_form": option_form,
        "query": urlencode({"name": stored.case.name}),
        "criteria": [c for c in table.criteria if c.name != COST],
        "figures": figures,
        "interval": with_interval,
        "money": money,
        "effect_words": option_effect,
        "limit_words": limit_words,
    }
    return page(request, "worth_case.html", context, status_of(error) if error else 200)


def _figures(answer: Answer) -> dict[str, Figure | None]:
    """The pictures of a case, where there is something to draw."""
    worth, table = answer.worth, answer.table
    drawn: dict[str, Any] = {
        "payback": payback_chart(worth),
        "tornado": tornado_chart(worth),
        "limits": limits_worth_chart(worth),
        "options": options_chart(table, worth.currency),
        "ranking": ranking_chart(table),
    }
    return {name: figure_if_any(chart) for name, chart in drawn.items()}


@router.post("/worth/case")
def store_tried(request: Request, bench: BenchOf, name: str, sent: FormOf) -> Response:
    """Store the weights and profiles that were tried."""
    stored = stored_worth(bench, name)
    try:
        case = _tried(stored, sent)
    except BeadworthError as error:
        return _case_page(request, stored, stored.case, sent, tried_error=error)
    store_changed(bench, stored, case)
    return see_other(_address(case.name))


@router.post("/worth/option")
def change_options(request: Request, bench: BenchOf, name: str, sent: FormOf) -> Response:
    """Add an option, or take one away, and store the case."""
    stored = stored_worth(bench, name)
    answer = worth_answer(stored.asked)
    try:
        if "remove" in sent:
            case = without_option(stored.case, str(sent["remove"]))
        else:
            groups = option_groups(answer.table.criteria, answer.worth.currency)
            case = with_option(stored.case, option_data(groups, typed_in(groups, sent)))
        store_changed(bench, stored, case)
    except BeadworthError as error:
        return _case_page(request, stored, stored.case, sent, option_error=error)
    return see_other(f"{_address(name)}#against")


@router.get("/worth/edit")
def edit_page(request: Request, bench: BenchOf, name: str) -> Response:
    """The whole case as text."""
    return _edit(request, name, to_toml(stored_worth(bench, name).case), ())


def _edit(
    request: Request, name: str, text: str, problems: tuple[Problem, ...], status: int = 200
) -> Response:
    context = {"name": name, "text": text, "problems": problems, "address": _address}
    return page(request, "worth_edit.html", context, status)


@router.post("/worth/edit")
def edit(request: Request, bench: BenchOf, desk: DeskOf, name: str, sent: FormOf) -> Response:
    """The changed text, replayed where it must be, and stored; or everything wrong with it."""
    stored = stored_worth(bench, name)
    text = str(sent.get("text", ""))
    try:
        text, source = pasted_or_uploaded(sent, f"{name}.toml")
        case = case_from_toml(text, source)
        if store_changed(bench, stored, case):
            return see_other(_address(case.name))
        return _working(request, case_job(desk, bench, case))
    except NotFoundError:
        raise
    except BeadworthError as error:
        return _edit(request, name, text, with_lines(error, text), status_of(error))


@router.get("/worth/file")
def case_file(bench: BenchOf, name: str) -> Response:
    """The case as TOML, to take away."""
    text = to_toml(stored_worth(bench, name).case)
    return download(text, f"{name}.toml", "application/toml")
