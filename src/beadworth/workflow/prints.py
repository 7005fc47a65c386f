"""Prints of the bench: what they are replayed with, the replay, a retimed copy, two rigs."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from pydantic import Field

from beadworth.core import InputError, NotFoundError, Record
from beadworth.report import ReplayedPrint
from beadworth.rig import Rig
from beadworth.store import REPLAYED
from beadworth.workflow.capacity import trial_fit
from beadworth.workflow.materials import find_material
from beadworth.workflow.print_files import DEFAULT_RIG, retimed_name

if TYPE_CHECKING:
    from beadworth.capacity import Fit
    from beadworth.material import Material
    from beadworth.replay import Replay, Retiming, Sheet, Stretch, TwoFiles, WhatIf
    from beadworth.store import Bench, PrintShelf, StoredPrint, TrialOutline
    from beadworth.workflow.sections import SectionInputs

REPLAY_FIELDS = ("rig", "trial", "material")
Progress = Callable[[int], None]
"""Told how many bytes of the print are read."""


@dataclass(frozen=True)
class ReplayInputs:
    """A rig, with the capacity and material that go with it."""

    rig: Rig
    trial: str
    """Empty: no capacity is known."""
    fit: Fit | None
    fit_rig: str | None
    fit_material: str | None
    material: Material | None

    @property
    def chosen(self) -> dict[str, str]:
        """The names it was made from, as :func:`replay_inputs` takes them."""
        return {
            "rig": "" if self.rig.name == DEFAULT_RIG else self.rig.name,
            "trial": self.trial,
            "material": self.material.name if self.material else "",
        }

    @property
    def key(self) -> tuple[Any, ...]:
        """What a result is stored under: it changes with the records and with the readings."""
        material = self.material.model_dump_json() if self.material else None
        return (self.rig.model_dump_json(), self.trial, id(self.fit), self.fit_rig,
                self.fit_material, material)  # fmt: skip

    @property
    def group(self) -> dict[str, Any]:
        """Whose curve counts, as the functions of :mod:`beadworth.replay` take it."""
        return {"fit_rig": self.fit_rig, "fit_material": self.fit_material}


class RetimeInputs(Record):
    """What a retimed copy keeps below the ceiling, and on which machines."""

    reserve: float = Field(ge=0, le=90, description="reserve below the ceiling, %", examples=[10])
    holds: Literal["on any machine", "on this rig"] = Field(
        "on any machine",
        description="where the copy holds; on any machine every bead's feed is capped, on this rig "
        "only where the speed it reaches asks for more",
        examples=["on any machine"],
    )


@dataclass(frozen=True)
class PlacedStretch:
    """A stretch and the sheet it lies on."""

    stretch: Stretch
    sheet: int


@dataclass(frozen=True)
class PrintReplay:
    """A replay, with its sheets and its stretches in the order they matter."""

    found: Replay
    sheets: tuple[Sheet, ...]
    stretches: tuple[PlacedStretch, ...]
    """By what is missing, the most first."""

    @property
    def least(self) -> int:
        """The sheet with the least headroom, the first of them; the fullest where none is known."""
        known = [n for n, sheet in enumerate(self.sheets) if sheet.headroom is not None]
        if known:
            return min(known, key=lambda n: self.sheets[n].headroom or 0.0)
        return max(range(len(self.sheets)), key=lambda n: self.sheets[n].max_mm3_s, default=0)


@dataclass(frozen=True)
class RetimedPrint:
    """A retimed copy, replayed."""

    file: Path
    name: str
    made: Retiming
    after: Replay


def trials_of_rigs(bench: Bench, rigs: Iterable[str]) -> list[tuple[str, str]]:
    """Trials with readings of any of these rigs: id and question, the newest first."""
    wanted = set(rigs)
    return _of_rigs(bench.outlines(), wanted) if wanted else []


def trials_by_rig(bench: Bench, rigs: Iterable[str]) -> dict[str, list[tuple[str, str]]]:
    """The same for each rig that has any, by its name."""
    trials = bench.outlines()
    found = {rig: _of_rigs(trials, {rig}) for rig in rigs}
    return {rig: some for rig, some in found.items() if some}


def _of_rigs(trials: Iterable[TrialOutline], rigs: set[str]) -> list[tuple[str, str]]:
    found = []
    for trial in trials:
        spec = trial.spec
        named = {spec.baseline, spec.candidate} if spec else set(trial.weighed)
        if trial.fitted and named & rigs:
            found.append((trial.id, trial.question))
    return found


def usual_inputs(bench: Bench, last: Mapping[str, Any] | None) -> dict[str, str]:
    """What to start from: as last time, else the first rig a trial has weighed."""
    names = [rig.name for rig in bench.rigs()]
    trials = bench.outlines()
    if last is not None and last["rig"] in (*names, ""):
        known = [trial for trial, _ in _of_rigs(trials, {last["rig"]})]
        return {
            "rig": last["rig"],
            "trial": last["trial"] if last["trial"] in known else "",
            "material": last["material"],
        }
    for name in names:
        if weighed := _of_rigs(trials, {name}):
            return {"rig": name, "trial": weighed[0][0], "material": ""}
    return {"rig": names[0] if names else "", "trial": "", "material": ""}


def replay_inputs(bench: Bench, chosen: Mapping[str, Any], prefix: str = "") -> ReplayInputs:
    """The records behind the names that were chosen.

    Parameters
    ----------
    chosen : mapping
        Names by ``REPLAY_FIELDS``; empty ones stand for conservative defaults, no capacity and
        no material.
    prefix : str
        Of the fields' names: the second of two rigs.

    Raises
    ------
    NotFoundError
        A rig, trial or material that is not on the bench.
    InputError
        A trial that did not weigh this rig.
    FitError
        A trial whose readings carry no curve yet.
    """
    names = {name: str(chosen.get(prefix + name) or "").strip() for name in REPLAY_FIELDS}
    rig = bench.rig(names["rig"]) if names["rig"] else Rig(name=DEFAULT_RIG)
    material = find_material(bench, names["material"]) if names["material"] else None
    if not names["trial"]:
        return ReplayInputs(rig, "", None, None, None, material)
    fit = trial_fit(bench.snapshot(names["trial"]))
    of = _group_material(fit, names["trial"], rig, material)
    return ReplayInputs(rig, names["trial"], fit, rig.name, of, material)


def _group_material(fit: Fit, trial: str, rig: Rig, material: Material | None) -> str:
    """The material whose curve counts, of those a trial weighed on a rig."""
    own = [group.material for group in fit.groups if group.rig == rig.name]
    if not own:
        weighed = ", ".join(sorted({group.rig for group in fit.groups}))
        raise InputError(
            f"this trial did not weigh {rig.name}.",
            f"trial {trial}",
            trial,
            f"Choose {weighed}, or a trial of this rig, or no capacity.",
        )
    if material and material.name in own:
        return material.name
    if len(own) == 1:
        return own[0]
    if material is None:
        raise NotFoundError(
            f"this trial weighed {rig.name} with several materials: {', '.join(own)}.",
            "material",
            remedy="Choose the one the print is made of.",
        )
    raise InputError(
        f"this trial weighed {rig.name} with {', '.join(own)}, not {material.name}.",
        "material",
        material.name,
        "Choose one of those.",
    )


def replay_print(
    shelf: PrintShelf, stored: StoredPrint, inputs: ReplayInputs, progress: Progress
) -> PrintReplay:
    """Replay a print of the bench, and store what it says with the print.

    Raises
    ------
    InputError
        A file of another kind: nothing in it moves.
    """
    from beadworth.replay import no_print, replay, sheet_of_layer, sheets

    found = replay(
        shelf.file(stored), inputs.rig, inputs.fit, **inputs.group, material=inputs.material,
        name=stored.name, progress=progress,
    )  # fmt: skip
    other = no_print(found.summary)
    if other is not None:
        raise InputError(
            other,
            stored.name,
            remedy="Give the G-code the printer gets, as it goes to the machine.",
        )
    verdict = {"verdict": found.verdict, "time_s": found.time_s, **inputs.chosen}
    shelf.store_verdict(shelf.one(stored.id), verdict)
    sheet_of = sheet_of_layer(found)
    ordered = sorted(found.stretches, key=lambda s: (-s.missing_mm3, s.start_s))
    placed = tuple(
        PlacedStretch(s, int(sheet_of[min((s.layer or 0) - 1, len(sheet_of) - 1)])) for s in ordered
    )
    return PrintReplay(found, sheets(found), placed)


def retime_print(
    shelf: PrintShelf,
    stored: StoredPrint,
    inputs: ReplayInputs,
    wanted: RetimeInputs,
    out: Path,
    progress: Progress,
) -> RetimedPrint:
    """A copy of a print that stays under the ceiling, written to ``out`` and replayed."""
    from beadworth.replay import check_copy, replay, retime

    file, fit, name = shelf.file(stored), with_ceiling(inputs), retimed_name(stored.name)
    with out.open("wb") as target:
        made = retime(
            file, target, inputs.rig, fit, **inputs.group, reserve=wanted.reserve / 100.0,
            name=stored.name, by_peak=wanted.holds == "on this rig", packed=name.endswith(".gz"),
        )  # fmt: skip
    after = replay(
        out, inputs.rig, fit, **inputs.group, material=inputs.material, name=name,
        progress=progress,
    )  # fmt: skip
    check_copy(made, after)
    return RetimedPrint(out, name, made, after)


def with_ceiling(inputs: ReplayInputs) -> Fit:
    """The capacity that was chosen.

    Raises
    ------
    InputError
        None was: there is no ceiling to stay under.
    """
    if inputs.fit is None:
        raise InputError(
            "there is no ceiling to stay under: no capacity is chosen.",
            "capacity",
            remedy="Choose a trial that weighed this rig, at the top of the page.",
        )
    return inputs.fit


def compare_print(
    shelf: PrintShelf, stored: StoredPrint, first: ReplayInputs, second: ReplayInputs
) -> WhatIf:
    """The same print on two rigs."""
    from beadworth.replay import compare, on_rig

    file = shelf.file(stored)
    sides = [
        on_rig(file, side.rig, side.fit, **side.group, name=stored.name) for side in (first, second)
    ]
    return compare(*sides)


def hold_prints(
    shelf: PrintShelf, first: StoredPrint, second: StoredPrint, inputs: ReplayInputs
) -> TwoFiles:
    """Two prints of the bench on the same rig, beside each other."""
    from beadworth.replay import hold_files, replay

    def made(one: StoredPrint) -> Replay:
        return replay(
            shelf.file(one), inputs.rig, inputs.fit, **inputs.group, material=inputs.material,
            name=one.name,
        )  # fmt: skip

    return hold_files(
        made(first), made(second), (first.name, second.name), known=inputs.fit is not None
    )


def gather_replays(inputs: SectionInputs) -> tuple[ReplayedPrint, ...] | None:
    """What was last said of each print replayed on a rig of the trial."""
    numbers: dict[str, int] = {}
    last: dict[tuple[str, int], ReplayedPrint] = {}
    names = [rig.name for rig in inputs.rigs]
    for note in inputs.notes(REPLAYED):
        number = numbers.setdefault(note.subject, len(numbers) + 1)
        rig = note.data.get("rig")
        if rig in names:
            last[rig, number] = ReplayedPrint(
                number, rig, float(note.data["time_s"]), str(note.data["verdict"])
            )
    ordered = sorted(last.items(), key=lambda item: (names.index(item[0][0]), item[0][1]))
    return tuple(one for _, one in ordered) or None
