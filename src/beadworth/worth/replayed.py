"""From a case to everything it needs: records looked up, prints replayed on both rigs."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace

from beadworth.capacity import Difference, Fit
from beadworth.capacity import compare as compare_fits
from beadworth.core import BeadworthError, FitError, InputError, NotFoundError, Problem, to_mapping
from beadworth.fit import Case as FitCase
from beadworth.fit import UnknownError, added_mass_g
from beadworth.rig import Rig
from beadworth.text import join_words
from beadworth.worth.case import WorthCase
from beadworth.worth.estimate import Estimate
from beadworth.worth.look_up import PreparedPrint, RigCeilings, Sources, look_up
from beadworth.worth.model import PrintTimes, WorthRequest
from beadworth.worth.predicted import common_share
from beadworth.worth.times import RigTimes, times_on

REPLAYS = 6
"""Steps told per print: three on either rig."""


def ask(case: WorthCase, sources: Sources, step: Callable[[], None] | None = None) -> WorthRequest:
    """Look up what the case names and replay its prints on both rigs.

    Parameters
    ----------
    step : callable, optional
        Called :data:`REPLAYS` times per print.

    Raises
    ------
    InputError
        Whatever keeps a print or an amount from being counted, all of it at once.
    NotFoundError
        A rig or trial that is not there.
    """
    before, after = sources.rig(case.baseline), sources.rig(case.candidate)
    if before.name == after.name:
        raise InputError(
            f"both rigs are {before.name}.",
            "candidate",
            before.name,
            "Name the rig after the upgrade; an upgrade makes a rig of its own.",
        )
    if before.simulated or after.simulated:
        case = case.model_copy(update={"simulated": True})
    problems = list(_money_problems(case, after))
    fits: dict[str, Fit] = {}
    ready: list[PreparedPrint] = []
    for use in case.prints:  # all that can be told without a replay, before the first of them
        try:
            ready.append(look_up(case, use, (before, after), sources, fits))
        except NotFoundError:
            raise
        except BeadworthError as error:
            problems += error.problems
    if problems:
        raise InputError(problems)
    prints: list[PrintTimes] = []
    for item in ready:
        try:
            prints.append(_replayed(case, item, step))
            problems += _no_time(prints[-1])
        except BeadworthError as error:
            problems += error.problems
    if problems:
        raise InputError(problems)
    return WorthRequest(
        case,
        tuple(prints),
        case.cost.parts or Estimate(value=after.price or 0.0),
        currency_of(case) or after.currency or "",
        _differences(case, before, after, sources, fits),
        case.mass_removed_g or _mass_removed(before, after),
    )


def _no_time(times: PrintTimes) -> list[Problem]:
    """A print that takes no time has no hours to save."""
    if times.baseline.time_s > 0 and times.candidate.time_s > 0:
        return []
    return [
        Problem("nothing in this print moves: it takes no time.", f"print {times.name}", 0.0,
                "Leave it out, or give the file the printer gets.")
    ]  # fmt: skip


def _replayed(case: WorthCase, item: PreparedPrint, step: Callable[[], None] | None) -> PrintTimes:
    use = item.use
    found = []
    for side in item.sides:
        times = times_on(
            item.file, side.rig, side.fit, case.feeds, fit_rig=side.weighed,
            fit_material=use.material if side.fit is not None else None, name=use.called,
            predicted=side.predicted, step=step,
        )  # fmt: skip
        found.append(replace(times, notes=(*side.notes, *_whose(side, times), *times.notes)))
    cold = [times.rig for times in found if not times.group]
    if len(cold) == 1:
        raise FitError(
            f"the melt model gives no ceiling of {cold[0]} at the temperature of this print: "
            "hardly anything passes there.",
            f"print {use.called}",
            cold[0],
            "Check the temperature in the file, or name a trial that weighed this rig there.",
        )
    first, second = (side.predicted for side in item.sides)
    if first is not None and second is not None and all(times.predicted for times in found):
        common = common_share(first, second)
        found = [replace(times, common=common) for times in found]
    return PrintTimes(use.called, found[0], found[1], item.density_g_cm3)


def _whose(side: RigCeilings, times: RigTimes) -> tuple[str, ...]:
    """Whose ceilings hold for a rig that was not weighed, or what was predicted."""
    if side.weighed not in (None, side.rig.name):
        return (
            f"it was not weighed; its hot end and drive are those of {side.weighed}, whose "
            "ceilings hold for it",
        )
    if side.predicted is None or not times.predicted:
        return ()
    at = join_words(
        f"{c.flow_mm3_s:.1f} mm³/s ({c.low:.1f} to {c.high:.1f}) at {c.temperature_c:g} °C"
        for celsius in sorted(side.predicted.found)
        for c in [side.predicted(celsius)]
        if c is not None
    )
    taught = f" and what trial {side.predicted.trial} taught" if side.predicted.trial else ""
    return (
        f"nobody weighed it; its ceiling with {side.predicted.material.name} is predicted from "
        f"its drawing{taught}: {at}. Weigh coupons to narrow it",
    )


def _money_problems(case: WorthCase, candidate: Rig) -> Iterator[Problem]:
    currency = currency_of(case)
    if case.cost.parts is None:
        if candidate.price is None:
            yield Problem(
                "what the parts cost is not recorded.",
                "cost.parts",
                None,
                f"Give it, or the price in the record of {candidate.name}; 0 if they were free.",
            )
        elif currency and candidate.currency and candidate.currency != currency:
            yield Problem(
                f"the parts of {candidate.name} are priced in {candidate.currency}, and the case "
                f"counts in {currency}.",
                "cost.parts",
                candidate.currency,
                f"Give cost.parts in {currency}, converted at a rate you choose.",
            )
    if not currency and candidate.currency is None:
        yield Problem(
            "amounts without a currency.", "currency", None,
            'Say which once, at the top of the case: currency = "EUR".',
        )  # fmt: skip


def currency_of(case: WorthCase) -> str | None:
    """The one currency of a case; its record has checked that there is no other."""
    from beadworth.worth.case import currencies_of

    return case.currency or next((code for _, code in currencies_of(to_mapping(case))), None)


def _differences(
    case: WorthCase, before: Rig, after: Rig, sources: Sources, fits: dict[str, Fit]
) -> tuple[Difference, ...]:
    """What the ceilings gain, from the case's own trial or trials."""
    if case.trial is None:
        return ()
    fit = fits.get(case.trial) or sources.fit(case.trial)
    if case.candidate_trial and case.candidate_trial != case.trial:
        other = fits.get(case.candidate_trial) or sources.fit(case.candidate_trial)
        if other.loss != fit.loss:
            return ()
        groups = tuple(g for g in other.groups if g.rig == after.name)
        ceilings = tuple(c for c in other.ceilings if c.rig == after.name)
        fit = replace(
            fit,
            groups=(*(g for g in fit.groups if g.rig != after.name), *groups),
            ceilings=(*(c for c in fit.ceilings if c.rig != after.name), *ceilings),
        )
    material = next((use.material for use in case.prints if use.trial is None), None)
    try:
        return compare_fits(fit, before.name, after.name, material=material).differences
    except (FitError, NotFoundError):
        return ()


def _mass_removed(before: Rig, after: Rig) -> Estimate | None:
    """What the rig records say was taken off the toolhead; None where nothing was."""
    try:
        removed = -added_mass_g(FitCase(before, after)).grams
    except UnknownError:
        return None
    return Estimate(value=removed) if removed > 0 else None
