"""What an upgrade buys: hours, money, break-even, with intervals."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from beadworth.text import capital
from beadworth.worth.describe import (
    HOURS_OF_A_WEEK,
    MOST_MONTHS,
    bounded,
    break_even_of,
    money,
    sentence,
    verdict_of,
    verdict_words,
)
from beadworth.worth.model import (
    Input,
    WorthRequest,
    discount_of,
    evaluate,
    flow_inputs,
    flow_key,
    inputs_of,
    worth_years,
)
from beadworth.worth.monte_carlo import Draws, Result, propagate, result_of, shape_of
from beadworth.worth.result import BreakEven, CostPer, Point, PrintWorth, Worth
from beadworth.worth.times import RigTimes
from beadworth.worth.tornado import tornado

Array = NDArray[np.float64]
POINTS = 25
DRAWN = 40_000
"""Draws the path over the months is read from; a picture needs no more."""
UNKNOWN = Result(None, None, None)
LONG_MONTHS = 36.0
"""Beyond this a payback rests on years nobody has seen (common practice, no source)."""


def what_it_buys(asked: WorthRequest, *, most_batches: int = 100, short: bool = False) -> Worth:
    """Hours, money and break-even of a case, by Monte Carlo from its own seed.

    Parameters
    ----------
    asked : WorthRequest
        The case with its prints replayed.
    most_batches : int
        Of 10 000 draws each; fewer where the digits stand still before.
    short : bool
        Leave out each print, the path over the months and the tornado.
    """
    case = asked.case
    inputs = inputs_of(asked)
    flows = flow_inputs(asked)
    rng = np.random.default_rng(case.seed)
    drawn = propagate(
        evaluate(asked),
        {item.key: item.quantile for item in (*inputs, *flows)},
        rng,
        watch=("hours_saved", "cost", "net"),
        most_batches=most_batches,
    )
    out = {name: result_of(values) for name, values in drawn.outputs.items()}
    out |= {name: bounded(out[name]) for name in out if name.startswith("cost_per_")}
    months = bounded(out["break_even_months"], MOST_MONTHS)
    out["break_even_prints"] = _as_far_as(out["break_even_prints"], months)
    out["break_even_months"] = months
    rated = asked.has_rates
    found = break_even_of(
        out["break_even_prints"], out["break_even_months"], out["cost"],
        has_rates=rated, hours=out["hours_saved"],
    )  # fmt: skip
    pays = float(np.mean(drawn.outputs["net"] >= 0)) if rated else 0.0
    needed = bounded(out["hours_a_week_needed"], HOURS_OF_A_WEEK) if rated else UNKNOWN
    verdict = verdict_of(out["net"], pays, status=found.status, hours=out["hours_saved"])
    return Worth(
        name=case.name,
        baseline=asked.prints[0].baseline.rig,
        candidate=asked.prints[0].candidate.rig,
        feeds=case.feeds,
        currency=asked.currency,
        months=case.months,
        sentence=sentence(
            out["hours_saved"], out["cost"], out["cost_per_hour"], out["hours_a_week"], needed,
            months=case.months, currency=asked.currency, status=found.status,
            verdict=verdict, pays=pays,
        ),
        verdict=verdict,
        verdict_words=verdict_words(verdict, pays, case.months),
        hours_saved_per_year=out["hours_saved"],
        hours_before_per_year=out["hours_before"],
        hours_after_per_year=out["hours_after"],
        hours_a_week=out["hours_a_week"],
        hours_a_week_needed=needed,
        prints_per_year=out["prints"],
        cost=out["cost"],
        cost_parts=_cost_parts(inputs),
        money_per_year=out["money"] if rated else UNKNOWN,
        time_per_year=out["time_money"] if case.time.given else UNKNOWN,
        energy_per_year=out["energy_money"] if case.running.energy_kwh else UNKNOWN,
        filament_per_year=out["filament_money"] if case.running.filament_kg else UNKNOWN,
        net=out["net"] if rated else UNKNOWN,
        break_even=found,
        costs_per=_costs_per(asked, out),
        saves_time_share=float(np.mean(drawn.outputs["hours_saved"] > 0)),
        pays_share=pays,
        limits_before=_limits(asked, "baseline"),
        limits_after=_limits(asked, "candidate"),
        prints=() if short else _prints(asked, drawn),
        path=_path(asked, drawn, _shown_months(found, case.months)) if rated and not short else (),
        tornado={
            name: found
            for name, found in ({} if short else tornado(asked)).items()
            if rated or name in ("hours_saved", "cost")
        },
        notes=_notes(asked),
        draws=len(drawn),
        stable=drawn.stable,
        seed=case.seed,
        simulated=case.simulated,
        shapes={name: shape_of(drawn.outputs[name]) for name in ("hours_saved", "cost")},
    )  # fmt: skip


def _as_far_as(prints: Result, months: Result) -> Result:
    """Prints until the cost is back, told as far as the months are."""
    if months.low is None or months.low >= MOST_MONTHS:
        return UNKNOWN
    return Result(
        None if months.value is None else prints.value,
        prints.low,
        None if months.high is None else prints.high,
    )


def _cost_parts(inputs: tuple[Input, ...]) -> dict[str, float]:
    """What the cost is made of, at the middles."""
    middle = {item.key: float(item.quantile(0.5)) for item in inputs}
    parts = {
        "parts": middle.get("parts", 0.0),
        "brackets": middle.get("brackets", 0.0),
        "tools": middle.get("tools", 0.0),
        "fitting": middle.get("fitting_hours", 0.0) * middle.get("fitting_hour", 0.0),
        "resale": -middle.get("resale", 0.0),
    }
    return {name: value + 0.0 for name, value in parts.items()}


def _costs_per(asked: WorthRequest, out: Mapping[str, Result]) -> tuple[CostPer, ...]:
    currency = asked.currency
    found = [CostPer("hour saved", "h", out["cost_per_hour"],
                     _per(out["cost_per_hour"], currency, "hour saved within "
                          f"{asked.case.months:g} months"))]  # fmt: skip
    for difference in asked.differences:
        name = flow_key(difference).replace("added_flow", "cost_per_flow")
        at = f"added mm³/s at {difference.temperature_c:g} °C"
        result = out.get(name, UNKNOWN)
        found.append(CostPer(at, "mm³/s", result, _per(result, currency, at)))
    if "cost_per_gram" in out:
        found.append(CostPer("gram taken off", "g", out["cost_per_gram"],
                             _per(out["cost_per_gram"], currency, "gram taken off")))  # fmt: skip
    return tuple(found)


def _per(result: Result, currency: str, of: str) -> str:
    if result.low is None:
        return f"nothing per {of}: it gains none"
    return f"{money(result, currency)} per {of}"


def _limits(asked: WorthRequest, side: str) -> dict[str, float]:
    """Shares of all printing, prints weighted by how often they are made."""
    total: dict[str, float] = {}
    for use, times in zip(asked.case.prints, asked.prints, strict=True):
        on: RigTimes = getattr(times, side)
        for name, seconds in on.share_s.items():
            total[name] = total.get(name, 0.0) + seconds * use.per_year.middle
    return _shares(total)


def _shares(seconds: Mapping[str, float]) -> dict[str, float]:
    whole = sum(seconds.values())
    return {name: value / whole if whole else 0.0 for name, value in seconds.items()}


def _prints(asked: WorthRequest, drawn: Draws) -> tuple[PrintWorth, ...]:
    made = []
    factor = drawn.inputs["stopwatch"]
    for use, times in zip(asked.case.prints, asked.prints, strict=True):
        before, after = (
            factor * on.at(on.ceiling_deviations(drawn.inputs, np.zeros(len(drawn))))
            for on in (times.baseline, times.candidate)
        )
        count = drawn.inputs[f"per_year:{use.called}"] * drawn.inputs["amount"]
        made.append(
            PrintWorth(
                use.called, result_of(count), result_of(before), result_of(after),
                result_of(before - after), _shares(times.baseline.share_s),
                _shares(times.candidate.share_s),
            )
        )  # fmt: skip
    return tuple(made)


def _shown_months(found: BreakEven, months: float) -> float:
    """How far the path is drawn: past the break-even where that is in sight."""
    back = found.months.value
    return months if back is None else max(months, min(1.2 * back, 5.0 * months))


def _path(asked: WorthRequest, drawn: Draws, months: float) -> tuple[Point, ...]:
    delta = discount_of(asked.case)
    cost, money_ = (drawn.outputs[name][:DRAWN] for name in ("cost", "money"))
    return tuple(
        Point(float(month), result_of(money_ * worth_years(month / 12.0, delta) - cost))
        for month in np.linspace(0.0, months, POINTS)
    )


def _notes(asked: WorthRequest) -> tuple[str, ...]:
    case = asked.case
    notes: list[str] = []
    if case.feeds == "as written":
        notes.append(
            "Feeds as the files have them, on both rigs slowed where they are over the ceiling. "
            'Whoever slices again for higher speeds may gain more: say feeds = "raised".'
        )
    else:
        notes.append(
            "Speeds raised to the ceiling on both rigs: every bead as fast as ceiling and motion "
            "allow. That is the most there is to gain; looks, cooling and strength may ask for "
            "less."
        )
    if case.stopwatch.exact and case.stopwatch.value == 1.0:
        notes.append("Times are replayed; how far a stopwatch would differ was not given.")
    if case.cost.fitting_hours is None:
        notes.append("Hours of fitting and tuning were not given and are not in the cost.")
    elif case.cost.fitting_hour is None:
        notes.append(
            "What an hour of fitting is worth to you was not given: the hours of fitting are not "
            "in the cost."
        )
    if case.running.energy_kwh is not None and case.running.candidate_power_w is None:
        notes.append("The upgraded rig is taken to draw the same power as before.")
    if case.running.failed is not None and case.running.failed_at is None:
        notes.append("A failed print is taken to fail anywhere between its start and its end.")
    if case.discount_percent is not None:
        notes.append(f"Money later counts less by {case.discount_percent:g} % a year.")
    if case.months > LONG_MONTHS:
        interest = "" if case.discount_percent else " No interest is counted: give a discount."
        notes.append(
            f"Beyond {LONG_MONTHS:.0f} months prices, parts and what you print change; what is "
            f"said of {case.months:g} months is a sum, not a forecast.{interest}"
        )
    return (*dict.fromkeys(notes), *_replay_notes(asked))


def _replay_notes(asked: WorthRequest) -> list[str]:
    """What the replays took for granted, each once, with the prints and rigs it holds for."""
    said: dict[str, dict[str, list[str]]] = {}
    for times in asked.prints:
        for on in (times.baseline, times.candidate):
            for note in on.notes:
                said.setdefault(note, {}).setdefault(on.rig, []).append(times.name)
    made = []
    for note, rigs in said.items():
        names = list(dict.fromkeys(name for prints in rigs.values() for name in prints))
        where = "both rigs" if len(rigs) == 2 else next(iter(rigs))
        which = "" if len(names) == len(asked.prints) else f" ({', '.join(names)})"
        made.append(f"{capital(where)}{which}: {note}.")
    return made
