"""Worth cases on the bench: look up what a case names, replay, store the result.

A case is stored as a note of the kind ``worth`` under its name: the case as it was typed, what
was replayed for it, and what came out. Stored again it gets a new note; the old ones stay.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from beadworth.core import BeadworthError, InputError, NotFoundError, to_json, to_mapping
from beadworth.store import PrintShelf
from beadworth.workflow.capacity import trial_fit
from beadworth.workflow.materials import find_material

if TYPE_CHECKING:
    from beadworth.capacity import Fit
    from beadworth.material import Material
    from beadworth.store import Bench, Note
    from beadworth.workflow.sections import SectionInputs
    from beadworth.worth import (
        Answer,
        PredictedCeilings,
        PredictionRequest,
        PrintUse,
        Sources,
        WorthCase,
        WorthRequest,
    )

WORTH_KIND: Final = "worth"


@dataclass(frozen=True)
class StoredWorth:
    """A case as it was last stored."""

    case: WorthCase
    asked: WorthRequest
    """With the times as they were replayed then."""
    at: datetime
    result: dict[str, Any]
    """What was said then."""


def bench_sources(bench: Bench, shelf: PrintShelf | None = None) -> Sources:
    """Where the names of a case lead on a bench."""
    from beadworth.worth import Sources

    def print_file(use: PrintUse) -> Path:
        if use.print is None:
            raise InputError(
                "a bench knows prints by their id, not by a file.",
                use.called,
                use.file,
                "Give the file on the page of prints, then name its id (print = …).",
            )
        where = shelf or PrintShelf(bench)
        return where.file(where.one(use.print))

    return Sources(
        rig=bench.rig,
        fit=lambda trial: trial_fit(bench.snapshot(trial)),
        print_file=print_file,
        density_g_cm3=lambda name: material_density(bench, name),
        predicted=lambda asked: predict_unweighed(
            bench,
            asked,
            find_material(bench, asked.material),
            trial_fit(bench.snapshot(asked.trial)) if asked.trial else None,
        ),
    )


def predict_unweighed(
    bench: Bench | None, asked: PredictionRequest, material: Material, fit: Fit | None
) -> PredictedCeilings:
    """The ceilings of a rig nobody weighed, narrowed by what the other rig's trial taught.

    Raises
    ------
    InputError
        What the melt model needs and the records lack.
    """
    from beadworth.workflow.melt import melt_problems, trial_calibration, with_usual_bore
    from beadworth.worth import PredictedCeilings

    rig = with_usual_bore(asked.rig)
    problems = melt_problems(rig, material)
    if problems:
        raise InputError(problems)
    scales = None
    if fit is not None and asked.trial:
        with suppress(BeadworthError):  # it knows no ceiling from both sides
            also = [with_usual_bore(asked.other)]
            scales = trial_calibration(bench, fit, [rig], material, asked.trial, also=also).scales
    trial = asked.trial if scales is not None and asked.trial else ""
    return PredictedCeilings(rig, material, asked.loss, scales, trial)


def material_density(bench: Bench, name: str) -> float | None:
    """Density of a material by its name, on the bench or among the generic polymers."""
    from beadworth.material import generic

    for find in (bench.material, generic):
        with suppress(NotFoundError):
            return find(name).density_g_cm3
    return None


def calculate_worth(
    bench: Bench,
    case: WorthCase,
    *,
    shelf: PrintShelf | None = None,
    step: Callable[[], None] | None = None,
) -> tuple[WorthRequest, Answer]:
    """Replay the prints of a case that stands on the bench, and work it out; nothing is stored."""
    from beadworth.worth import ask, work_out

    asked = ask(case, bench_sources(bench, shelf), step)
    return asked, work_out(asked)


def store_worth(bench: Bench, asked: WorthRequest, found: Answer) -> None:
    """Store a case with what was replayed and what came out, under its name."""
    from beadworth.worth import to_plain

    data = {
        "case": to_mapping(asked.case),
        "replayed": to_plain(asked),
        "result": to_json(found),
        "rigs": [asked.prints[0].baseline.rig, asked.prints[0].candidate.rig],
    }
    bench.add_note(WORTH_KIND, asked.case.name, data)


def stored_worths(bench: Bench) -> list[StoredWorth]:
    """Every case as it was last stored, the newest first."""
    return worths_of(bench.notes(WORTH_KIND))


def worths_of(notes: Sequence[Note]) -> list[StoredWorth]:
    """The cases that notes hold, each as it was last stored, the newest first."""
    last = {note.subject: note for note in notes}
    return [_stored(note.data, note.at) for note in sorted(last.values(), key=lambda n: -n.id)]


def stored_worth(bench: Bench, name: str) -> StoredWorth:
    """A case by its name.

    Raises
    ------
    NotFoundError
        None of that name is stored.
    """
    notes = bench.notes(WORTH_KIND, name)
    if not notes:
        known = (
            ", ".join(dict.fromkeys(note.subject for note in bench.notes(WORTH_KIND))) or "none yet"
        )
        raise NotFoundError(
            f"no worth case is called {name!r}.", "worth", name, f"Stored here: {known}."
        )
    return _stored(notes[-1].data, notes[-1].at)


def _stored(data: dict[str, Any], at: datetime) -> StoredWorth:
    from beadworth.worth import case_from_mapping, from_plain

    case = case_from_mapping(data["case"], "stored case")
    return StoredWorth(case, from_plain(case, data["replayed"]), at, data["result"])


def gather_worth(inputs: SectionInputs) -> Answer | None:
    """The newest case stored about the rigs of a trial, calculated; None where there is none."""
    names = {rig.name for rig in inputs.rigs}
    last = {note.subject: note for note in inputs.notes(WORTH_KIND)}
    for note in sorted(last.values(), key=lambda n: -n.id):
        if len(names) > 1 and set(note.data["rigs"]) <= names:
            return worth_answer(_stored(note.data, note.at).asked)
    return None


def worth_answer(asked: WorthRequest) -> Answer:
    """The answer of a case; asked again, it costs nothing."""
    from beadworth.worth import to_plain

    return _answered(asked.case.model_dump_json(), json.dumps(to_plain(asked)))


@lru_cache(maxsize=16)
def _answered(case_json: str, replayed: str) -> Answer:
    from beadworth.worth import case_from_mapping, from_plain, work_out

    case = case_from_mapping(json.loads(case_json), "stored case")
    return work_out(from_plain(case, json.loads(replayed)))
