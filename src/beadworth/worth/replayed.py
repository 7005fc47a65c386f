"""From a case to everything it needs: records looked up, prints replayed on both rigs."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path

from beadworth.capacity import Difference, Fit
from beadworth.capacity import compare as compare_fits
from beadworth.core import BeadworthError, FitError, InputError, NotFoundError, Problem, to_mapping
from beadworth.fit import Case as FitCase
from beadworth.fit import UnknownError, added_mass_g
from beadworth.rig import Rig
from beadworth.text import percent
from beadworth.worth.case import PrintUse, WorthCase
from beadworth.worth.estimate import Estimate
from beadworth.worth.model import PrintTimes, WorthRequest
from beadworth.worth.times import times_on

REPLAYS = 6
"""Steps told per print: three on either rig."""


@dataclass(frozen=True)
class Sources:
    """Where names lead: files and bench for the command line, the bench for the browser."""

    rig: Callable[[str], Rig]
    fit: Callable[[str], Fit]
    """A trial's fit (or a file's), by the name in the case."""
    print_file: Callable[[PrintUse], Path]
    density_g_cm3: Callable[[str], float | None]
    """Of a material by its name; None where it is not known."""


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
    ready: list[_Ready] = []
    for use in case.prints:  # all that can be told without a replay, before the first of them
        try:
            ready.append(_look_up(case, use, (before, after), sources, fits))
        except NotFoundError:
            raise
        except BeadworthError as error:
            problems += error.problems
    if problems:
        raise InputError(problems)
    prints: list[PrintTimes] = []
    for item in ready:
        try:
            prints.append(_replayed(case, item, (before, after), step))
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


@dataclass(frozen=True)
class _Ready:
    """One print with its file and, for either rig, the fit and whose ceilings of it hold."""

    use: PrintUse
    file: Path
    fits: tuple[Fit | None, Fit | None]
    weighed: tuple[str | None, str | None]
    density_g_cm3: float | None


def _look_up(
    case: WorthCase,
    use: PrintUse,
    rigs: tuple[Rig, Rig],
    sources: Sources,
    fits: dict[str, Fit],
) -> _Ready:
    file = sources.print_file(use)
    if not file.is_file():
        raise InputError(
            "there is no such print file.",
            str(file),
            use.called,
            "Give its path from the folder of the case, or its id on the bench.",
        )
    own = use.trial or case.trial
    names = (own, own if use.trial else (case.candidate_trial or own))
    found: list[Fit | None] = []
    weighed: list[str | None] = []
    material = None
    for rig, name in zip(rigs, names, strict=True):
        if name is None:
            found.append(None)
            weighed.append(None)
            continue
        if name not in fits:
            fits[name] = sources.fit(name)
        found.append(fits[name])
        weighed.append(_weighed_as(fits[name], rig, name, sources, rigs))
        material = fits[name].group(weighed[-1], use.material).material
    first, second = found
    if first is not None and second is not None and first.loss != second.loss:
        raise InputError(
            f"the ceilings are read at {percent(first.loss, 2)} loss in one trial and at "
            f"{percent(second.loss, 2)} in the other: they cannot be compared.",
            f"trials {names[0]} and {names[1]}",
            second.loss,
            "Fit both at the same loss (capacity fit --loss) and name the fits.",
        )
    density = _density(case, material, sources, use)
    return _Ready(use, file, (first, second), (weighed[0], weighed[1]), density)


def _replayed(
    case: WorthCase, item: _Ready, rigs: tuple[Rig, Rig], step: Callable[[], None] | None
) -> PrintTimes:
    use = item.use
    found = []
    for rig, fit, weighed in zip(rigs, item.fits, item.weighed, strict=True):
        times = times_on(
            item.file, rig, fit, case.feeds, fit_rig=weighed, fit_material=use.material,
            name=use.called, step=step,
        )  # fmt: skip
        if weighed not in (None, rig.name):
            note = f"it was not weighed; its hot end and drive are those of {weighed}, whose "
            times = replace(times, notes=(f"{note}ceilings hold for it", *times.notes))
        found.append(times)
    return PrintTimes(use.called, found[0], found[1], item.density_g_cm3)


def _weighed_as(fit: Fit, rig: Rig, name: str, sources: Sources, rigs: tuple[Rig, Rig]) -> str:
    """The rig of a fit whose ceilings hold for a rig: its own, or one of the same hot end.

    Whoever changes the motion only need not weigh again.
    """
    weighed = sorted({group.rig for group in fit.groups})
    if rig.name in weighed:
        return rig.name
    known = {item.name: item for item in rigs}
    for other in weighed:
        try:
            twin = known.get(other) or sources.rig(other)
        except BeadworthError:
            continue
        if (twin.hot_end, twin.extruder) == (rig.hot_end, rig.extruder):
            return other
    raise FitError(
        f"this trial weighed {', '.join(weighed)}, not {rig.name}, and none of them is known "
        "to have the same hot end and drive.",
        f"trial {name}",
        rig.name,
        "Name the trial that weighed it (candidate_trial for the upgraded rig), or leave "
        "the trial out: then only motion counts.",
    )


def _density(
    case: WorthCase, material: str | None, sources: Sources, use: PrintUse
) -> float | None:
    run = case.running
    if run.density_g_cm3 is not None or run.filament_kg is None or run.failed is None:
        return run.density_g_cm3
    density = sources.density_g_cm3(material) if material else None
    if density is None:
        raise InputError(
            f"the filament of {use.called} cannot be weighed: the density of "
            f"{material or 'its material'} is not known.",
            "running.density_g_cm3",
            None,
            "Give density_g_cm3 (near 1.24 for PLA), or put the material on the bench.",
        )
    return density


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
