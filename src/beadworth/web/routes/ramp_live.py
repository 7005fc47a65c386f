"""A live weighing as a page: recorded with the balance in use, read, stored on its trial."""

from __future__ import annotations

from typing import Any, Final
from urllib.parse import urlencode

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import Response

from beadworth.core import BeadworthError, NotFoundError, Problem
from beadworth.report import ceiling_words, loss_chart, trace_chart
from beadworth.text import capital
from beadworth.web.balance_desk import BalanceDesk, in_words
from beadworth.web.fields_ramp import NOISE, ramp_groups
from beadworth.web.figures import Figure, figure
from beadworth.web.forms import collect, typed_in
from beadworth.web.responses import page, status_of
from beadworth.web.routes.common import BalancesOf, BenchOf, FormOf, download, see_other
from beadworth.workflow import (
    Bench,
    RampProgress,
    RampRecorder,
    StoredLive,
    begin_live,
    live_analysis,
    live_entries,
    live_fit,
    live_rows,
    live_table,
    live_weighing,
    ramp_of,
    ramp_of_live,
    read_live,
    unread_live,
    void_live,
    weighed_entries,
)

router = APIRouter(include_in_schema=False)
FIRST: Final = "first"
CHART_PX: Final = 760.0


@router.post("/live-weighing/record")
def record(bench: BenchOf, desk: BalancesOf, sent: FormOf) -> Response:
    """Begin to record with the balance in use: a ramp on a trial, or its first minute alone."""
    groups = ramp_groups(bench)
    typed = typed_in(groups, sent)
    ramp = ramp_of(bench, collect(groups, typed))
    balance = desk.require_used()
    if sent.get(FIRST):
        desk.record(bench, ramp, None)
        return see_other(f"/live-weighing/{FIRST}?{urlencode(typed)}")
    one = begin_live(
        bench, ramp, trial=str(sent.get("trial", "")) or None,
        question=str(sent.get("question", "")), balance=balance, note=str(sent.get("note", "")),
    )  # fmt: skip
    desk.record(bench, ramp, one)
    return see_other(f"/live-weighing/{one.number}")


@router.get("/live-weighing/first")
def first_minute(request: Request, desk: BalancesOf) -> Response:
    """The first minute while it is recorded."""
    recorder = _recorder(desk, None)
    context = {"one": None, "query": request.url.query, "problems": (), **_now(recorder)}
    return page(request, "ramp_record.html", context)


@router.get("/live-weighing/first/now")
def first_now(request: Request, desk: BalancesOf) -> Response:
    """What it says by now, for the page that shows it."""
    context = {"one": None, "query": request.url.query, **_now(_recorder(desk, None))}
    return page(request, "ramp_now.html", context)


@router.post("/live-weighing/first/end")
def first_end(request: Request, desk: BalancesOf) -> Response:
    """End it; the ramp is then asked with the noise it found."""
    recorder = _recorder(desk, None)
    noise = recorder.progress().noise
    recorder.stop()
    found = {} if noise is None else {
        NOISE[0]: f"{noise.hang_mg:.2f}", NOISE[1]: f"{noise.hang_s:.2f}"
    }  # fmt: skip
    more = f"&{urlencode(found)}" if found else ""
    return see_other(f"/live-weighing?{request.url.query}{more}#ramp")


def _recorder(desk: BalanceDesk, number: int | None) -> RampRecorder:
    found = desk.recording(number)
    if found is None:
        raise NotFoundError("nothing is recorded.", "live weighing",
                            remedy="Begin at Weigh live.")  # fmt: skip
    return found


@router.get("/live-weighing/{number}")
def one_page(request: Request, bench: BenchOf, desk: BalancesOf, number: int) -> Response:
    """A live weighing: as it grows, or what was found."""
    return _one(request, bench, desk, live_weighing(bench, number))


def _one(
    request: Request,
    bench: Bench,
    desk: BalanceDesk,
    one: StoredLive,
    problems: tuple[Problem, ...] = (),
    status: int = 200,
) -> Response:
    recorder = desk.recording(one.number)
    if recorder is not None and recorder.running:
        context: dict[str, Any] = {"one": one, "query": "", "problems": problems, **_now(recorder)}
        return page(request, "ramp_record.html", context, status)
    read = live_analysis(bench, one.number)
    fit = live_fit(one)
    context = {
        "one": one,
        "rows": live_rows(bench, one.number),
        "balance": desk.name,
        "problems": problems,
        "fit": fit,
        "ceiling_words": ceiling_words,
        "capital": capital,
        "trace": None,
        "losses": figure(loss_chart(fit.groups, live_entries(one, fit), fit.ceilings))
        if fit
        else None,
    }
    if read is not None:
        trace, found = read
        context["trace"] = figure(trace_chart(trace, one.sections, found.grams, found.minutes))
    return page(request, "ramp_one.html", context, status)


@router.get("/live-weighing/{number}/now")
def now(request: Request, bench: BenchOf, desk: BalancesOf, number: int) -> Response:
    """What it says by now, for the page that shows it."""
    one = live_weighing(bench, number)
    return page(
        request, "ramp_now.html", {"one": one, "query": "", **_now(_recorder(desk, number))}
    )


@router.post("/live-weighing/{number}/end")
def end(request: Request, bench: BenchOf, desk: BalancesOf, number: int, sent: FormOf) -> Response:
    """End the recording where it still runs, read the trace, store what it says."""
    recorder = desk.recording(number)
    note = str(sent.get("note", ""))
    try:
        if recorder is not None and recorder.running:
            recorder.finish(note)
        else:
            read_live(bench, number, note=note)
    except BeadworthError as error:
        return _one(request, bench, desk, live_weighing(bench, number), error.problems,
                    status_of(error))  # fmt: skip
    return see_other(f"/live-weighing/{number}")


@router.post("/live-weighing/{number}/go-on")
def go_on(bench: BenchOf, desk: BalancesOf, number: int) -> Response:
    """Record on behind what is on the bench, after a stop."""
    one = unread_live(bench, number)
    desk.record(bench, ramp_of_live(one), one)
    return see_other(f"/live-weighing/{number}")


@router.post("/live-weighing/{number}/void")
def void(request: Request, bench: BenchOf, desk: BalancesOf, number: int, sent: FormOf) -> Response:
    """Let it no longer count; it stays, with the reason."""
    try:
        void_live(bench, number, str(sent.get("reason", "")))
    except BeadworthError as error:
        return _one(request, bench, desk, live_weighing(bench, number), error.problems,
                    status_of(error))  # fmt: skip
    return see_other(f"/live-weighing/{number}")


@router.get("/live-weighing/{number}/trace.csv")
def table(bench: BenchOf, number: int) -> Response:
    """The trace as it was read."""
    return download(live_table(bench, number), f"live-weighing-{number}.csv", "text/csv")


def _now(recorder: RampRecorder) -> dict[str, Any]:
    progress = recorder.progress()
    trouble = in_words(progress.trouble)
    return {
        "progress": progress,
        "made": recorder.program,
        "cycles": progress.cycles,
        "chosen": recorder.ramp.spec.cycles,
        "trouble": trouble,
        "ceiling_words": ceiling_words,
        "figures": _figures(recorder, progress),
    }


def _figures(recorder: RampRecorder, progress: RampProgress) -> list[Figure]:
    trace, found, fit = recorder.trace(), progress.found, progress.fit
    if trace is None or trace.time_s.size < 2:
        return []
    weighing = found.weighing if found else None
    shown = [trace_chart(trace, found.sections if found else (), progress.grams, progress.minutes)]
    if fit is not None:
        bins = weighed_entries(weighing.readings, fit) if weighing else ()
        shown.append(loss_chart(fit.groups, bins, fit.ceilings))
    return [figure(chart, wide_px=CHART_PX) for chart in shown]
