"""What a case names for one print: its file, and for either rig the ceilings that hold."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from beadworth.capacity import Fit
from beadworth.core import LOSS, BeadworthError, FitError, InputError
from beadworth.rig import Rig
from beadworth.text import join_words, percent
from beadworth.worth.case import PrintUse, WorthCase
from beadworth.worth.predicted import PredictedCeilings


@dataclass(frozen=True)
class PredictionRequest:
    """What is to be predicted: a rig nobody weighed."""

    rig: Rig
    other: Rig
    """The case's other rig."""
    material: str
    loss: float
    trial: str | None
    """That weighed the other rig, and teaches what both have in common."""


def no_prediction(asked: PredictionRequest) -> PredictedCeilings:
    """Where nothing can be predicted."""
    raise InputError(
        f"the material {asked.material} is not known here.", "material", asked.material,
        "Name one on the bench.",
    )  # fmt: skip


@dataclass(frozen=True)
class Sources:
    """Where names lead: files and bench for the command line, the bench for the browser."""

    rig: Callable[[str], Rig]
    fit: Callable[[str], Fit]
    """A trial's fit (or a file's), by the name in the case."""
    print_file: Callable[[PrintUse], Path]
    density_g_cm3: Callable[[str], float | None]
    """Of a material by its name; None where it is not known."""
    predicted: Callable[[PredictionRequest], PredictedCeilings] = no_prediction
    """Ceilings of a rig nobody weighed; raises what the records lack for the melt model."""


@dataclass(frozen=True)
class RigCeilings:
    """Whose ceilings hold for one rig in one print."""

    rig: Rig
    fit: Fit | None = None
    weighed: str | None = None
    """Rig of the fit."""
    predicted: PredictedCeilings | None = None
    notes: tuple[str, ...] = ()


@dataclass(frozen=True)
class PreparedPrint:
    """One print with its file and the ceilings of both rigs."""

    use: PrintUse
    file: Path
    sides: tuple[RigCeilings, RigCeilings]
    density_g_cm3: float | None


def look_up(
    case: WorthCase,
    use: PrintUse,
    rigs: tuple[Rig, Rig],
    sources: Sources,
    fits: dict[str, Fit],
) -> PreparedPrint:
    """Everything a print needs before its first replay.

    Raises
    ------
    InputError, FitError, NotFoundError
        A file, a trial, a rig in it, or a density that is not there.
    """
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
    sides = []
    own_trial = case.candidate_trial is not None and use.trial is None
    for rig, name in zip(rigs, names, strict=True):
        if name is None:
            sides.append(RigCeilings(rig))
            continue
        if name not in fits:
            fits[name] = sources.fit(name)
        alone = own_trial and rig is rigs[1]
        weighed = _weighed_as(fits[name], rig, name, sources, rigs, alone=alone)
        sides.append(RigCeilings(rig, fits[name], weighed) if weighed else RigCeilings(rig))
    _same_loss(names, sides)
    material = next(
        (s.fit.group(s.weighed, use.material).material for s in sides if s.fit is not None), None
    )
    sides = [
        side if side.fit is not None
        else _predicted(pair, use.material or material, sources, (names, fits))
        for side, pair in zip(sides, (rigs, rigs[::-1]), strict=True)
    ]  # fmt: skip
    _both_or_none(use, sides)
    density = _density(case, use.material or material, sources, use)
    return PreparedPrint(use, file, (sides[0], sides[1]), density)


def _same_loss(names: tuple[str | None, str | None], sides: list[RigCeilings]) -> None:
    first, second = (side.fit for side in sides)
    if first is not None and second is not None and first.loss != second.loss:
        raise InputError(
            f"the ceilings are read at {percent(first.loss, 2)} loss in one trial and at "
            f"{percent(second.loss, 2)} in the other: they cannot be compared.",
            f"trials {names[0]} and {names[1]}",
            second.loss,
            "Fit both at the same loss (capacity fit --loss) and name the fits.",
        )


def _both_or_none(use: PrintUse, sides: list[RigCeilings]) -> None:
    """A rig under its ceiling beside one without any would seem to lose by it."""
    known = [side for side in sides if side.fit is not None or side.predicted is not None]
    if len(known) != 1:
        return
    (without,) = (side for side in sides if side is not known[0])
    raise FitError(
        f"the ceiling of {known[0].rig.name} is known and that of {without.rig.name} is not: "
        f"{join_words(without.notes)}.",
        f"print {use.called}",
        without.rig.name,
        "Name the trial that weighed it (candidate_trial for the upgraded rig), or give what is "
        "missing for a prediction. Without any trial and material only motion counts, on both "
        "rigs.",
    )


def _predicted(
    rigs: tuple[Rig, Rig],
    material: str | None,
    sources: Sources,
    weighed: tuple[tuple[str | None, str | None], dict[str, Fit]],
) -> RigCeilings:
    """A rig nobody weighed (the first): as the melt model has it, or with its motion alone."""
    rig, other = rigs
    names, fits = weighed
    trial = next((name for name in names if name is not None), None)
    if material is None:
        why = "name the material of the print, and it is predicted from the drawing"
        return RigCeilings(rig, notes=(f"nobody weighed it; {why}",))
    asked = PredictionRequest(rig, other, material, fits[trial].loss if trial else LOSS, trial)
    try:
        return RigCeilings(rig, predicted=sources.predicted(asked))
    except BeadworthError as error:
        lacks = join_words([problem.what.rstrip(".") for problem in error.problems])
        return RigCeilings(rig, notes=(f"nobody weighed it, and it cannot be predicted: {lacks}",))


def _weighed_as(
    fit: Fit, rig: Rig, name: str, sources: Sources, rigs: tuple[Rig, Rig], *, alone: bool
) -> str | None:
    """The rig of a fit whose ceilings hold for a rig: its own, or one of the same hot end.

    Whoever changes the motion only need not weigh again. None where the trial weighed the other
    rig of the case and was not named for this one (``alone``): then this one is predicted.
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
    if not alone and set(known) & set(weighed):
        return None
    raise FitError(
        f"this trial weighed {', '.join(weighed)}, not {rig.name}, and none of them is known "
        "to have the same hot end and drive.",
        f"trial {name}",
        rig.name,
        "Name the trial that weighed it (candidate_trial for the upgraded rig), or leave "
        "the trial out: then its ceilings are predicted from its drawing.",
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
