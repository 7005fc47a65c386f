"""Does an upgrade fit: two rigs of the bench, or a rig and a pasted list of what changes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any
from urllib.parse import quote, urlencode

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import Response

from beadworth.core import (
    BeadworthError,
    InputError,
    NotFoundError,
    Place,
    Problem,
    from_mapping,
    parse_toml,
)
from beadworth.report import acceleration_chart, fit_sentence
from beadworth.rig import side_view, upgrade
from beadworth.text import slug
from beadworth.web import handbook
from beadworth.web.fields_rig import fit_groups
from beadworth.web.figures import figure_if_any
from beadworth.web.fit_asks import Ask, Refused, asks_of, group_of, job_query, record_values
from beadworth.web.forms import Form, Group, collect, refused, typed_in
from beadworth.web.responses import page, status_of
from beadworth.web.rig_sheet import changes_of
from beadworth.web.routes.common import BenchOf, FormOf, pasted_or_uploaded, see_other
from beadworth.web.routes.record_pages import SURE, refuse_taken
from beadworth.web.routes.rigs import NOUN
from beadworth.web.toml_lines import with_lines
from beadworth.workflow import (
    Bench,
    Check,
    CheckedPair,
    FitInputs,
    check_pair,
    questions_about,
    rig_pair,
)

router = APIRouter(include_in_schema=False)
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
    key: str
    asks: tuple[Ask, ...]
    """Forms for what it misses; none for a pasted upgrade, whose text says it."""


@router.get("/rig-fit")
def fit_page(request: Request, bench: BenchOf) -> Response:
    """The form, and the checks once there is a rig to check."""
    return checked(request, bench, request.query_params, {})


def checked(
    request: Request,
    bench: Bench,
    sent: Mapping[str, Any],
    wrong: Mapping[str, Refused],
    status: int = 200,
) -> Response:
    """The page of two rigs; ``wrong``: forms of rows that were refused, by their key."""
    groups = fit_groups(bench)
    typed = typed_in(groups, sent)
    if not typed["upgrade"] and not typed["parent"]:
        return show(request, groups, Form(typed))
    try:
        inputs = from_mapping(FitInputs, collect(groups, typed), "fit check")
        before, after = rig_pair(bench, inputs)
        typed |= {"parent": before.name, "upgrade": "" if after is before else after.name}
        found = _answer(check_pair(bench, before, after, inputs), groups, wrong)
    except NotFoundError:
        raise
    except InputError as error:
        return show(request, groups, refused(groups, typed, error), status=status_of(error))
    return show(request, groups, Form(typed), found=found, status=status)


@router.post("/rig-fit/value")
def record_value(request: Request, bench: BenchOf, sent: FormOf) -> Response:
    """What a row asked for, as the rig's next version; then the checks again."""
    typed = {name: str(value).strip() for name, value in sent.items()}
    query = job_query({name: typed.get(f"job.{name}", "") for name in FitInputs.model_fields})
    key, names = typed.get("key", ""), [typed.get("of", "")]
    if typed.get("both"):
        names.append(typed.get("also", ""))
    groups = group_of(list(typed))
    odd: tuple[Problem, ...] = ()
    try:
        boxes = [field.path for group in groups for field in group.fields]
        if not any(typed[path] for path in boxes):
            where = Place.of_field("fit check", boxes[0] if boxes else "of")
            raise InputError("nothing was entered.", where, None, "Enter at least one value.")
        rigs = record_values(bench, names, groups, typed)
        odd = tuple(o for rig in rigs for o in questions_about(bench, rig, bench.rig(rig.name)))
        if odd and not typed.get(SURE):
            raise InputError(odd)
    except NotFoundError:
        raise
    except BeadworthError as error:
        form = refused(groups, typed, error)
        return checked(request, bench, query, {key: (form, bool(odd))}, status_of(error))
    for rig in rigs:
        bench.save_rig(rig)
    return see_other(f"/rig-fit?{urlencode(query)}#row-{key.rpartition('-')[0]}")


@router.post("/rig-fit")
def fit_pasted(request: Request, bench: BenchOf, sent: FormOf) -> Response:
    """Two rigs: their address. A pasted upgrade: its checks, and on demand a rig of its own."""
    groups = fit_groups(bench)
    typed = {path: str(sent.get(path, "")).strip() for path in typed_in(groups, {})}
    pasted = str(sent.get("text", ""))
    upload = getattr(sent.get("file"), "filename", "")
    if not pasted.strip() and not upload:
        return see_other(f"/rig-fit?{urlencode(typed)}")
    try:
        pasted, source = pasted_or_uploaded(sent, "pasted upgrade")
        inputs = from_mapping(FitInputs, collect(groups, typed), "fit check")
        if not inputs.parent:
            raise InputError(
                "no rig was chosen that this changes.",
                Place.of_field("fit check", "parent"),
                remedy="Choose the rig the upgrade starts from.",
            )
        before = bench.rig(inputs.parent)
        after = upgrade(before, parse_toml(pasted, source), source)
        if sent.get("keep"):
            refuse_taken(NOUN, bench, after.name)
            bench.save_rig(after)
            return see_other(f"/rig/{quote(after.name)}")
        found = _answer(check_pair(bench, before, after, inputs), groups)
    except NotFoundError:
        raise
    except BeadworthError as error:
        error.problems = with_lines(error, pasted)
        form = refused(groups, typed, error)
        return show(request, groups, form, text=pasted, status=status_of(error))
    return show(request, groups, Form(typed), found=found, text=pasted)


def show(
    request: Request,
    groups: tuple[Group, ...],
    form: Form,
    *,
    found: Mapping[str, Any] | None = None,
    text: str = "",
    status: int = 200,
) -> Response:
    """The page, with what was typed."""
    context = {"groups": groups, "form": form, "text": text, "found": found}
    return page(request, "rig_fit.html", context, status)


def _answer(
    pair: CheckedPair,
    job: tuple[Group, ...],
    wrong: Mapping[str, Refused] | None = None,
) -> dict[str, Any]:
    """What the page shows; ``wrong`` left out: rows ask for nothing."""
    before, after, checks = pair.before, pair.after, pair.checks
    rigs = (before.name, after.name)
    return {
        "before": before,
        "after": after,
        "alone": pair.alone,
        "rows": [
            Row(c, MARKS[c.verdict], bar_of(c), c.name in pair.same,
                handbook.formula_address(c.formula), slug(c.name),
                () if wrong is None else asks_of(c, (before, after), job, wrong))
            for c in checks
        ],
        "counts": {mark: sum(c.verdict == mark for c in checks) for mark in MARKS},
        "marks": MARKS,
        "changes": () if pair.alone else changes_of(before, after),
        "sentence": fit_sentence(checks, after.name, tuple(pair.same)),
        "cautions": tuple(dict.fromkeys(c.caution for c in checks if c.caution)),
        "views": [
            (rig.name, side_view(rig)) for rig in ((after,) if pair.alone else (before, after))
        ],
        "figure": figure_if_any(
            acceleration_chart(pair.earlier, checks, rigs=rigs)
        ),
    }  # fmt: skip


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
