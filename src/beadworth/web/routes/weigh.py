"""The weigh-in: a mass, Enter, the answer, the next coupon; undo is a void."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any
from urllib.parse import quote

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import Response

from beadworth.core import ConflictError, InputError, Problem
from beadworth.text import parse_number, whole_number
from beadworth.trial import Reading, parse_mass
from beadworth.web.responses import is_fragment, page, status_of
from beadworth.web.routes.common import BenchOf, FormOf, entry_key_of, see_other
from beadworth.web.routes.phones import phone_context
from beadworth.web.sheet import sheet_of
from beadworth.web.trial_page import station, trial_context
from beadworth.workflow import Bench, Weighing, judge_reading, record_weighing, void_reading

router = APIRouter(include_in_schema=False)
TYPED = ("mass_g", "tare_g", "diameter_mm", "note", "reason")


def show(
    request: Request,
    bench: Bench,
    trial: str,
    *,
    coupon: str | None = None,
    after: str | None = None,
    typed: Mapping[str, str] | None = None,
    problems: Sequence[Problem] = (),
    answer: Weighing | None = None,
    words: str = "",
    with_sheet: bool = False,
    status: int = 200,
) -> Response:
    """The trial page at the weigh-in, or the parts of it an entry replaces."""
    snapshot = bench.snapshot(trial)
    at = station(snapshot, sheet_of(snapshot), coupon=coupon, after=after, typed=typed)
    at |= {"problems": problems, "answer": answer, "words": words}
    context = trial_context(snapshot, step="weigh", at=at)
    if not is_fragment(request):
        on_phone = "phone" in request.scope
        context |= phone_context(request, snapshot) if on_phone else {}
        return page(request, "phone.html" if on_phone else "trial.html", context, status)
    context["with_sheet"] = with_sheet
    context["whole_card"] = request.headers.get("hx-target") == "card"
    return page(request, "weigh_entered.html", context, status)


@router.get("/trials/{trial}/weigh")
def weigh(
    request: Request,
    bench: BenchOf,
    trial: str,
    coupon: str | None = None,
    answer: int | None = None,
) -> Response:
    """The station at the coupon asked for, else at the first one waiting."""
    said = judge_reading(bench, trial, answer) if answer is not None else None
    after = said.coupon if said else None
    return show(request, bench, trial, coupon=coupon, after=after, answer=said)


@router.post("/trials/{trial}/readings")
def enter(request: Request, bench: BenchOf, trial: str, sent: FormOf) -> Response:
    """Commit one reading, then say so."""
    typed = {name: str(sent.get(name, "")).strip() for name in TYPED}
    coupon = str(sent.get("coupon", ""))
    supersedes = str(sent.get("supersedes", ""))
    typed["entry_key"] = entry_key_of(sent) or ""
    with_sheet = bool(sent.get("sheet"))
    try:
        answer = _entered(bench, trial, coupon, typed, supersedes)
    except (InputError, ConflictError) as error:
        return show(
            request,
            bench,
            trial,
            coupon=coupon,
            typed=typed,
            problems=error.problems,
            with_sheet=with_sheet,
            status=status_of(error),
        )
    if not is_fragment(request):
        return see_other(f"/trials/{trial}/weigh?answer={answer.reading_id}")
    kept = {"tare_g": typed["tare_g"]}
    shown = show(
        request, bench, trial, after=coupon, typed=kept, answer=answer, with_sheet=with_sheet
    )
    # Where the address names a coupon, loading the page again would offer to replace it again.
    shown.headers["HX-Replace-Url"] = f"/trials/{trial}/weigh?answer={answer.reading_id}"
    return shown


def _entered(
    bench: Bench, trial: str, coupon: str, typed: Mapping[str, str], supersedes: str
) -> Weighing:
    """Commit what was typed; sent twice (the first answer was lost), it counts once."""
    details: dict[str, Any] = {
        "tare": typed["tare_g"],
        "diameter_mm": _diameter(typed["diameter_mm"]),
        "note": typed["note"] or None,
        "entry_key": typed["entry_key"] or None,
    }
    if (number := whole_number(supersedes)) is not None:
        details["supersedes"] = number
        details["reason"] = typed["reason"] or "weighed again"
    try:
        return record_weighing(bench, trial, coupon, typed["mass_g"], **details)
    except ConflictError:
        row = sheet_of(bench.snapshot(trial)).row(coupon)
        standing = row.reading if row else None
        if standing is None or not _same(standing.reading, typed):
            raise
        return judge_reading(bench, trial, standing.reading_id)


def _same(reading: Reading, typed: Mapping[str, str]) -> bool:
    """Whether what was typed is what is on the bench already."""
    return (reading.mass_g, reading.tare_g, reading.diameter_mm) == (
        parse_mass(typed["mass_g"]),
        parse_number(typed["tare_g"]),
        parse_number(typed["diameter_mm"]),
    )


def _diameter(text: str) -> float | None:
    if not text:
        return None
    value = parse_number(text)
    if value is None or not 0.5 < value < 5:
        raise InputError(
            f"{text!r} is not a filament diameter in mm.",
            where="filament measured",
            value=text,
            remedy="Type it in millimetres, between 0.5 and 5, or leave it empty.",
        )
    return value


@router.post("/trials/{trial}/readings/{reading}/void")
def void(request: Request, bench: BenchOf, trial: str, reading: int, sent: FormOf) -> Response:
    """Void a reading, with its reason; it stays in the history."""
    reason = str(sent.get("reason", "")).strip()
    try:
        if not reason:
            raise InputError(
                "a void needs its reason: the history must say why it does not count.",
                where="reason",
                remedy="Say it in a few words.",
            )
        coupon = void_reading(bench, trial, reading, reason).reading.coupon
    except (InputError, ConflictError) as error:
        return show(request, bench, trial, problems=error.problems, status=status_of(error))
    words = f"Reading of {coupon} is void: {reason}. It is waiting again."
    if not is_fragment(request):
        return see_other(f"/trials/{trial}/weigh?coupon={quote(coupon or '')}")
    return show(
        request, bench, trial, coupon=coupon, words=words, with_sheet=bool(sent.get("sheet"))
    )
