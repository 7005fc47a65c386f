"""The wear log of a rig: what is due, what the checks say, how often it fails, what to log."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date
from typing import Any
from urllib.parse import quote

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import Response

from beadworth.core import BeadworthError, InputError, NotFoundError, from_mapping
from beadworth.report import hours_charts, part_charts, series_charts
from beadworth.text import duration, whole_number
from beadworth.web.fields_wear import WEAR_FORMS
from beadworth.web.figures import Figure, figure
from beadworth.web.forms import Form, Group, collect, refused, typed_from, typed_in
from beadworth.web.record_fields import pick
from beadworth.web.responses import page, status_of
from beadworth.web.routes.common import BenchOf, FormOf, see_other
from beadworth.workflow import (
    FEWEST,
    Bench,
    Change,
    ChartInputs,
    ChartSettings,
    PartReport,
    PrintShelf,
    SeriesReport,
    add_wear,
    compare_wear,
    describe_entry,
    rig_wear,
    stored_wear_entry,
    supersede_wear,
    void_wear,
    wear_log,
    wear_noted,
)

router = APIRouter(include_in_schema=False)
CHART = (Group("", "", pick(ChartInputs)),)
CHANGES = ("adjustment", "replacement", "failure")


@dataclass(frozen=True)
class Compared:
    """A check before and after a change."""

    check: str
    at: str
    """Number of the entry that is the change, or empty."""
    on: str
    words: str
    unit: str
    change: Change


@router.get("/wear/{rig:path}")
def wear_page(request: Request, bench: BenchOf, rig: str) -> Response:
    """The log of a rig; a query may state a baseline, a comparison, or an entry to correct."""
    forms = _fresh(bench, rig)
    correcting = request.query_params.get("correct", "")
    old = None
    if (number := whole_number(correcting)) is not None:
        old = stored_wear_entry(bench, rig, number)
        name = _form_of(old.record.kind)
        typed = typed_from((forms[name][0],), old.record.model_dump(mode="json"))
        typed["from_print"] = ""
        forms[name] = (forms[name][0], Form(typed))
    try:
        settings = _settings(request.query_params)
        compared = _compared(bench, rig, request.query_params)
    except NotFoundError:
        raise
    except BeadworthError as error:
        return _show(request, bench, rig, forms, refusal=error)
    return _show(request, bench, rig, forms, settings=settings, compared=compared, old=old)


@router.post("/wear/{rig:path}")
def change_log(request: Request, bench: BenchOf, rig: str, sent: FormOf) -> Response:
    """Log something, correct an entry, or let one no longer count."""
    bench.rig(rig)
    reason = str(sent.get("reason", ""))
    back = f"/wear/{quote(rig)}"
    number = str(sent.get("entry", ""))
    if sent.get("do") == "void":
        try:
            void_wear(bench, rig, _number(number), reason)
        except NotFoundError:
            raise
        except BeadworthError as error:
            return _show(request, bench, rig, _fresh(bench, rig), refusal=error)
        return see_other(f"{back}?done=void#log")
    forms = _fresh(bench, rig)
    name = str(sent.get("form", ""))
    if name not in forms:
        raise InputError(
            "the form does not say what it logs.", "form", name, "Use the forms of the page."
        )
    group = forms[name][0]
    typed = typed_in((group,), sent)
    data = {"kind": name} | collect((group,), typed)
    try:
        if number:
            kept = supersede_wear(bench, rig, _number(number), data, reason)
        else:
            kept = add_wear(bench, rig, data)
    except NotFoundError:
        raise
    except BeadworthError as error:
        forms[name] = (group, refused((group,), typed, error))
        old = stored_wear_entry(bench, rig, _number(number)) if number else None
        return _show(request, bench, rig, forms, old=old, reason=reason, wrong=name,
                     status=status_of(error))  # fmt: skip
    return see_other(f"{back}?done={kept.id}#now")


def _number(text: str) -> int:
    if (number := whole_number(text)) is None:
        raise InputError(
            f"{text!r} is no number of an entry.",
            "entry",
            text,
            "Its number stands beside each entry in the log.",
        )
    return number


def _form_of(kind: str) -> str:
    return "change" if kind in CHANGES else kind


def _fresh(bench: Bench, rig: str) -> dict[str, tuple[Group, Form]]:
    """The forms empty, dated today, with the prints that were last replayed on this rig."""
    bench.rig(rig)
    prints = tuple(
        (stored.id, f"{stored.name}, {duration(stored.last['time_s'])}")
        for stored in PrintShelf(bench).all()
        if stored.last is not None and stored.last.get("rig") == rig
    )
    made = {}
    for name, group in WEAR_FORMS.items():
        fields = tuple(
            replace(f, choices=prints) if f.path == "from_print" else f
            for f in group.fields
            if prints or f.path not in ("from_print", "copies")
        )
        made[name] = (replace(group, fields=fields), Form({"on": str(date.today())}))
    return made


def _settings(query: Mapping[str, str]) -> dict[str, ChartSettings]:
    """What a chart is to be held against, as sent in the address."""
    check = query.get("check", "")
    if not check:
        return {}
    inputs = from_mapping(ChartInputs, collect(CHART, typed_in(CHART, query)), "chart")
    return {check: inputs.settings}


def _compared(bench: Bench, rig: str, asked: Mapping[str, str]) -> Compared | None:
    check, on, at = (asked.get(name, "").strip() for name in ("compare", "day", "at"))
    if not check:
        return None
    when: date | int
    if at:
        when = _number(at)
        record = stored_wear_entry(bench, rig, when).record
        words = f"{record.kind} of {record.on} ({record.what})"
    else:
        try:
            when = date.fromisoformat(on)
        except ValueError:
            raise InputError(
                "neither a change nor a day is named.",
                "before and after",
                on,
                "Choose a change of the log, or name a day as 2026-11-25.",
            ) from None
        words = str(when)
    try:
        unit, change = compare_wear(bench, rig, check, when)
    except NotFoundError as error:
        raise InputError(error.problems) from None
    return Compared(check, at, on, words, unit, change)


def _show(
    request: Request,
    bench: Bench,
    rig: str,
    forms: Mapping[str, tuple[Group, Form]],
    *,
    settings: Mapping[str, ChartSettings] | None = None,
    compared: Compared | None = None,
    old: Any = None,
    reason: str = "",
    wrong: str = "",
    refusal: BeadworthError | None = None,
    status: int | None = None,
) -> Response:
    log = wear_log(bench, rig)
    found = rig_wear(bench, rig, settings)
    context = {
        "rig": rig,
        "found": found,
        "log": list(reversed(log)),
        "words": describe_entry,
        "forms": forms,
        "wrong": wrong,
        "refusal": refusal.problems if refusal else (),
        "old": old,
        "old_form": _form_of(old.record.kind) if old else "",
        "reason": reason,
        "compared": compared,
        "parent": _parent_with_log(bench, rig),
        "changes": [k for k in log if k.state == "current" and k.record.kind in CHANGES],
        "done": request.query_params.get("done", ""),
        "hours_figures": [figure(chart) for chart in hours_charts(found)],
        "series": [_drawn_series(found, report) for report in found.series],
        "fewest": FEWEST,
        "stated": _stated,
        "few": [r for r in found.series if r.individuals is None and not _stated(r)],
        "parts": [_drawn_part(part) for part in found.parts],
        "checks": list(dict.fromkeys(
            name for r in found.series for name in (r.series.what, r.series.name)
        )),
    }  # fmt: skip
    code = status or (status_of(refusal) if refusal else 200)
    return page(request, "wear.html", context, code)


def _parent_with_log(bench: Bench, rig: str) -> str:
    """The rig this one was made from, where it has a log of its own; else empty."""
    parent = bench.rig(rig).parent
    return parent if parent and wear_noted(bench, parent) else ""


def _stated(report: SeriesReport) -> bool:
    return report.settings != ChartSettings()


def _drawn_series(found: Any, report: SeriesReport) -> tuple[SeriesReport, list[Figure]]:
    return report, [figure(chart) for chart in series_charts(found, report)]


def _drawn_part(part: PartReport) -> tuple[PartReport, list[Figure]]:
    return part, [figure(chart) for chart in part_charts(part)]
