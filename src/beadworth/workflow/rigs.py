"""Rigs on the bench: questions about a new record, and taking one away that nobody used."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from beadworth.core import ConflictError, Place, Problem, from_mapping
from beadworth.rig import (
    PartCard,
    Question,
    Rig,
    RigStart,
    descriptions,
    questions,
    rig_from_layout,
)
from beadworth.store import REPLAYED
from beadworth.text import join_words, number
from beadworth.workflow.bringup import BRINGUP_KIND
from beadworth.workflow.cause_stored import CAUSE_KIND
from beadworth.workflow.journal import JOURNAL_KIND
from beadworth.workflow.wear import WEAR_KIND
from beadworth.workflow.witness import WITNESS_KIND
from beadworth.workflow.worth import WORTH_KIND

if TYPE_CHECKING:
    from beadworth.store import Bench

ABOUT = {
    BRINGUP_KIND: "a bring-up", WEAR_KIND: "its wear log", JOURNAL_KIND: "its journal",
    WITNESS_KIND: "a witness print", CAUSE_KIND: "a reading of a wall",
}  # fmt: skip


def questions_about(bench: Bench, rig: Rig, before: Rig | None = None) -> tuple[Problem, ...]:
    """What is odd about a rig: values that no desktop printer has as a rule, a parent nobody knows.

    Parameters
    ----------
    before : Rig, optional
        Its record as it is on the bench, or its parent: what stands there already is not asked
        again.

    Returns
    -------
    tuple of Problem
        They question, they refuse nothing.
    """
    old = {(one.path, one.value) for one in questions(before)} if before else set()
    found = _odd_values(rig, old, f"rig {rig.name}")
    if rig.parent and not (before and before.parent == rig.parent):
        names = [one.name for one in bench.rigs()]
        if rig.parent not in names:
            there = f"On the bench: {join_words(names)}." if names else "The bench has no rig yet."
            found.append(
                Problem(
                    f"no rig is called {rig.parent!r}.",
                    Place.of_field(f"rig {rig.name}", "parent"),
                    rig.parent,
                    f"{there} Correct the name, or say that it is so: what the upgrade changed is "
                    "then not known.",
                )
            )
    return tuple(found)


def questions_about_part(card: PartCard, before: PartCard | None = None) -> tuple[Problem, ...]:
    """What is odd about a part card; what its present version says is not asked again."""
    old = {(one.path, one.value) for one in questions(_bare(before))} if before else set()
    inside = {
        "axes.x.guide.": "guide.",
        "fans.0.": "fan.",
        "hot_end.mass_g": "mass_g",
        "extruder.mass_g": "mass_g",
        "fan.mass_g": "mass_g",
    }
    moved = []
    for one in _odd_values(_bare(card), old, f"part {card.name}"):
        path = one.path.dotted if one.path else ""
        for rig, part in inside.items():
            path = path.replace(rig, part)
        moved.append(replace(one, path=Place.of_field(f"part {card.name}", path)))
    return tuple(moved)


def _bare(card: PartCard) -> Rig:
    """A rig that has a part alone."""
    data: dict[str, dict[str, Any]] = {
        "hot end": {"hot_end": card.part()},
        "extruder": {"extruder": card.part()},
        "guides": {"axes": {"x": {"guide": card.part()}}},
        "fan": {"fans": [card.part()]},
    }
    return from_mapping(Rig, {"name": card.name, **data[card.kind]}, f"part {card.name}")


def _odd_values(rig: Rig, old: set[tuple[str, float]], source: str) -> list[Problem]:
    return [
        Problem(
            f"{number(one.value)} is odd: as a rule {number(one.low)} to {number(one.high)}.",
            Place.of_field(source, one.path),
            one.value,
            f"{_perhaps(one)}Correct it, or say that it is so.",
        )
        for one in questions(rig)
        if (one.path, one.value) not in old
    ]


def _perhaps(one: Question) -> str:
    """What was probably meant: a decimal point that was lost, or another unit."""
    for times in (0.1, 10.0):
        if one.low <= one.value * times <= one.high and not (one.slip and times > 1):
            return f"Perhaps {number(one.value * times)}? "
    return f"{one.slip}? " if one.slip else ""


def start_rig_record(bench: Bench, answers: Mapping[str, Any]) -> tuple[Rig, tuple[Problem, ...]]:
    """A rig from a layout and a few answers, put on the bench; and what is odd about it.

    Parameters
    ----------
    answers : mapping
        Fields of a :class:`RigStart`; None counts as left out.

    Raises
    ------
    RecordError
        Answers a rig cannot have.
    ConflictError
        A rig of that name is there already.
    """
    rig = started_rig(bench, answers)
    odd = questions_about(bench, rig)
    bench.save_rig(rig)
    return rig, odd


def started_rig(bench: Bench, answers: Mapping[str, Any]) -> Rig:
    """The same, nothing stored."""
    given = {name: value for name, value in answers.items() if value is not None}
    rig = rig_from_layout(from_mapping(RigStart, given, "rig"))
    if rig.name in bench.records()[0]:
        raise taken("rig", rig.name)
    return rig


def taken(noun: str, name: str) -> ConflictError:
    """What refuses a new record that would become, unasked, a new version of one that is there.

    Parameters
    ----------
    noun : str
        What it is: rig, material, part.
    name : str
    """
    return ConflictError(
        f"a {noun} named {name!r} is on the bench already.",
        where=Place.of_field(noun, "name"),
        value=name,
        remedy=f"Give this one another name, or open that {noun} and change it there.",
    )


def question_words(problems: tuple[Problem, ...]) -> list[str]:
    """The same as lines for a terminal, each field by its path and meaning."""
    told = []
    for problem in problems:
        path = problem.path.dotted if problem.path else ""
        meaning = descriptions(Rig).get(path, "").partition(";")[0]
        told.append(f"{path}{f' ({meaning})' if meaning else ''}: {problem.what} {problem.remedy}")
    return told


def uses_of_rig(bench: Bench, name: str) -> list[str]:
    """What hangs on a rig, in words: upgrades, trials, bring-ups, logs, prints, walls, cases."""
    uses = [f"its upgrade {rig.name}" for rig in bench.rigs() if rig.parent == name]
    for trial in bench.outlines():
        spec = trial.spec
        named = {spec.baseline, spec.candidate} if spec else set()
        named |= {group.rig for group in trial.groups}
        if name in named or name in trial.live_rigs:
            uses.append(f"trial {trial.id}")
    for note in bench.notes((*ABOUT, WORTH_KIND, REPLAYED)):
        if note.kind in ABOUT and note.subject == name:
            uses.append(ABOUT[note.kind])
        elif note.kind == WORTH_KIND and name in note.data.get("rigs", ()):
            uses.append(f"worth case {note.subject}")
        elif note.kind == REPLAYED and note.data.get("rig") == name:
            uses.append("a print replayed on it")
    return list(dict.fromkeys(uses))


def remove_rig(bench: Bench, name: str) -> Rig:
    """Take a rig away that nothing on the bench is about.

    Raises
    ------
    NotFoundError
        No such rig.
    ConflictError
        Something is about it; all of it is named.
    """
    rig = bench.rig(name)

    def ask() -> None:
        if uses := uses_of_rig(bench, name):
            raise ConflictError(
                f"{name} is used: {join_words(uses)}.",
                f"rig {name}",
                name,
                "A rig stays as long as something on the bench is about it.",
            )

    bench.remove_record("rig", name, ask)
    return rig
