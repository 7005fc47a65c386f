"""What these photos cannot tell, what to ask for nothing, and the test that would decide.

A question or a test parts the causes that are still possible. Its worth is the information that
its answer is expected to give (Shannon's mutual information, in bits), with an answer that is
right as often as :data:`RIGHT` says.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from beadworth.cause.ranking import NOTHING, RINGING, Ranking, normalised
from beadworth.cause.rectifying import FEWEST_PX
from beadworth.cause.sources import Source
from beadworth.cause.trying import FEWEST_PERIODS, Reading
from beadworth.core import InputError

RIGHT = 0.9
"""How often a person's answer, or a test, is right; assumed."""
LEAST_BITS = 0.02
"""A look or a test that is worth less is left out."""
LEAST_SWING = 0.004
"""Swing of brightness under which a wall hardly shows light and shade; assumed."""


@dataclass(frozen=True)
class CannotTell:
    """A source that these walls cannot show, and what would."""

    source: str
    reason: str
    needs_mm: float | None
    """Length of wall that would, where a length would."""


Making = Literal["", "cause wall", "weighed pair"]


@dataclass(frozen=True)
class Question:
    """Something to look at or to make, and what its answer is worth."""

    key: str
    words: str
    bits: float
    minutes: int
    """What it costs; 0 for a look at the print or the machine."""
    making: Making = ""
    """The witness print that it takes, where there is one."""


def cannot_tell(sources: Sequence[Source], readings: Sequence[Reading]) -> list[CannotTell]:
    """Sources that the walls are too short for, or run along an axis that stands still."""
    out = []
    for s in sources:
        if s.kind != "place":
            continue
        longest = max(s.fewest_mm(r.wall, FEWEST_PERIODS) for r in readings)
        width = min(r.spectrum.width_mm for r in readings)
        if math.isinf(longest):
            out.append(
                CannotTell(s.name, "stands still along this wall; photograph one across it", None)
            )
        elif longest > width:
            out.append(CannotTell(
                s.name, f"{width:.0f} mm of wall hold fewer than {FEWEST_PERIODS:g} of its turns",
                math.ceil(longest + 2),
            ))  # fmt: skip
    return out


def photo_notes(layer_px: float, brightness_swing: float) -> list[str]:
    """Advice on distance and light.

    Parameters
    ----------
    layer_px : float
        Pixels a layer.
    brightness_swing : float
        Standard deviation of relative brightness along the wall.
    """
    notes = []
    if layer_px < FEWEST_PX:
        notes.append(
            f"{layer_px:.1f} pixels a layer are few; {FEWEST_PX:g} are wanted: go nearer, or take "
            "a part of the wall."
        )
    if brightness_swing < LEAST_SWING:
        notes.append(
            "Hardly any light and shade along the wall. Move the lamp to one side and low: from "
            "the diagonal both directions show."
        )
    return notes


_Parts = Callable[[str, str], bool]


@dataclass(frozen=True)
class _Asked:
    key: str
    words: str
    minutes: int
    parts: _Parts
    """Whether a cause of this kind and name answers yes."""
    making: Making = ""


_BELT = ("belt", "pulley", "idler")
_FREE = (
    _Asked("same place", "Is the pattern at the same place on every layer?", 0,
           lambda kind, _: kind in ("place", "ringing")),
    _Asked("lean", "Do its stripes lean?", 0, lambda kind, _: kind in ("filament", "time")),
    _Asked("fade", "Does it fade with the way from the corner?", 0,
           lambda kind, _: kind == "ringing"),
    _Asked("level", "Are there bands that go level round the whole part?", 0,
           lambda kind, _: kind == "height"),
    _Asked("dust", "Is there filament dust at the drive wheel?", 0,
           lambda kind, name: "drive tooth" in name),
)  # fmt: skip
_TESTS = (
    _Asked("half speed", "Print the same wall at half the speed: does the spacing along the wall "
           "stay?", 20, lambda kind, _: kind in ("place", "filament", "height"), "cause wall"),
    _Asked("shift", "Shift the part on the bed by half the spacing: does the pattern stay with the "
           "machine?", 20, lambda kind, _: kind == "place"),
    _Asked("two flows", "Print a weighed pair, one path and speed at two flows: do the stripes "
           "change with the flow?", 20, lambda kind, _: kind == "filament", "weighed pair"),
    _Asked("belt", "Turn or swap the belt: does the pattern change?", 30,
           lambda kind, name: kind == "place" and any(w in name for w in _BELT)),
    _Asked("half acceleration", "Print with half the acceleration: does it change near the "
           "corners?", 20, lambda kind, _: kind == "ringing"),
    _Asked("heater", "Print with the heater's cycle recorded: do its crests match the bands?", 20,
           lambda kind, _: kind == "time"),
)  # fmt: skip


def questions(ranking: Ranking, keep: Collection[str] = ()) -> list[Question]:
    """Looks that cost nothing, the most telling first; those of the keys ``keep`` in any case."""
    return _ordered(_FREE, ranking, keep)


def deciding_tests(ranking: Ranking, unseen: Sequence[CannotTell] = ()) -> list[Question]:
    """Prints and swaps that would part the causes, the most telling per 20 minutes first.

    Parameters
    ----------
    ranking : Ranking
    unseen : sequence of CannotTell
        Those that a longer wall would show have that wall among the tests.
    """
    found = [*_ordered(_TESTS, ranking), *_longer(ranking, unseen)]
    return sorted(found, key=lambda q: -q.bits / q.minutes)


def _longer(ranking: Ranking, unseen: Sequence[CannotTell]) -> list[Question]:
    """A longer wall: to these ones a source that it would show looks like nothing periodic."""
    needs = {one.source: one.needs_mm for one in unseen if one.needs_mm is not None}
    if not needs:
        return []
    p = ranking.probabilities
    share = p.get(NOTHING, 0.0) + p.get(RINGING, 0.0)
    total = 1 + len(needs) * share
    wider = {name: value / total for name, value in {**p, **dict.fromkeys(needs, share)}.items()}
    bits = information_bits(wider, {name: name in needs for name in wider})
    if bits < LEAST_BITS:
        return []
    longest = max(needs.values())
    words = f"Print a cause wall with {longest:.0f} mm of straight wall: does a pattern come up?"
    return [Question("longer wall", words, bits, 40, "cause wall")]


def answered(ranking: Ranking, answers: Mapping[str, bool]) -> Ranking:
    """A ranking with what a person saw: each answer is right as often as :data:`RIGHT` says.

    Parameters
    ----------
    ranking : Ranking
    answers : by the key of a question or a test
        Yes or no; what was not looked at is left out.

    Returns
    -------
    Ranking
        The probabilities of the main cause by Bayes' rule, answers independent of one another;
        that of ringing beside it as it was.

    Raises
    ------
    InputError
        A key that no question has.
    """
    by_key = {asked.key: asked for asked in (*_FREE, *_TESTS)}
    unknown = sorted(set(answers) - set(by_key))
    if unknown:
        raise InputError(
            f"{', '.join(unknown)}: no such question.", "answers", unknown,
            f"Those there are: {', '.join(by_key)}.",
        )  # fmt: skip
    p = dict(ranking.probabilities)
    for key, said in answers.items():
        yes = _says(ranking, by_key[key])
        p = {
            name: value * (0.5 if name not in yes else RIGHT if yes[name] == said else 1 - RIGHT)
            for name, value in p.items()
        }
    return replace(ranking, probabilities=normalised(p))


def _says(ranking: Ranking, asked: _Asked) -> dict[str, bool]:
    """What the answer would be, by cause; 'none of these' and nothing answer either way."""
    kinds = {name: tried.source.kind for name, tried in ranking.tried.items()}
    kinds[RINGING] = "ringing"
    return {name: asked.parts(kinds[name], name) for name in ranking.probabilities if name in kinds}


def _ordered(
    every: Sequence[_Asked], ranking: Ranking, keep: Collection[str] = ()
) -> list[Question]:
    out = []
    for asked in every:
        bits = information_bits(ranking.probabilities, _says(ranking, asked))
        if bits >= LEAST_BITS or asked.key in keep:
            out.append(Question(asked.key, asked.words, bits, asked.minutes, asked.making))
    return sorted(out, key=lambda q: -q.bits)


def information_bits(probabilities: Mapping[str, float], yes: Mapping[str, bool]) -> float:
    """Expected information of a yes-or-no answer, bits.

    Parameters
    ----------
    probabilities : by cause, sum 1
    yes : by cause
        What the answer would be if that were the cause; a cause that is not in it
        ('none of these') answers either way.

    Returns
    -------
    float
        H(answer) − H(answer given cause).
    """
    says = {
        name: (RIGHT if yes[name] else 1 - RIGHT) if name in yes else 0.5 for name in probabilities
    }
    whole = _entropy(sum(p * says[name] for name, p in probabilities.items()))
    return whole - sum(p * _entropy(says[name]) for name, p in probabilities.items())


def _entropy(p: float) -> float:
    return -sum(q * math.log2(q) for q in (p, 1 - p) if q > 0)
