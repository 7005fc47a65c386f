"""What these photos cannot tell, what to ask for nothing, and the test that would decide.

A question or a test parts the causes that are still possible. Its worth is the information that
its answer is expected to give (Shannon's mutual information, in bits), with an answer that is
right as often as :data:`RIGHT` says.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from beadworth.cause.ranking import RINGING, Ranking
from beadworth.cause.rectifying import FEWEST_PX
from beadworth.cause.sources import Source
from beadworth.cause.trying import FEWEST_PERIODS, Reading

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


@dataclass(frozen=True)
class Question:
    """Something to look at or to make, and what its answer is worth."""

    words: str
    bits: float
    minutes: int
    """What it costs; 0 for a look at the print or the machine."""


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
                CannotTell(s.name, "it stands still along this wall: take one across it", None)
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
_FREE: list[tuple[str, _Parts]] = [
    ("Is the pattern at the same place on every layer?",
     lambda kind, _: kind in ("place", "ringing")),
    ("Do its stripes lean?", lambda kind, _: kind in ("filament", "time")),
    ("Does it fade with the way from the corner?", lambda kind, _: kind == "ringing"),
    ("Are there bands that go level round the whole part?", lambda kind, _: kind == "height"),
    ("Is there filament dust at the drive wheel?", lambda kind, name: "drive tooth" in name),
]  # fmt: skip
_TESTS: list[tuple[str, int, _Parts]] = [
    ("Print the same wall at half the speed: does the spacing along the wall stay?", 20,
     lambda kind, _: kind in ("place", "filament", "height")),
    ("Shift the part on the bed by half the spacing: does the pattern stay with the machine?", 20,
     lambda kind, _: kind == "place"),
    ("Print with 10 % more flow: do the stripes change their lean?", 20,
     lambda kind, _: kind == "filament"),
    ("Turn or swap the belt: does the pattern change?", 30,
     lambda kind, name: kind == "place" and any(w in name for w in ("belt", "pulley", "idler"))),
    ("Print with half the acceleration: does it change near the corners?", 20,
     lambda kind, _: kind == "ringing"),
    ("Print with the heater's cycle recorded: do its crests match the bands?", 20,
     lambda kind, _: kind == "time"),
]  # fmt: skip


def questions(ranking: Ranking) -> list[Question]:
    """Looks that cost nothing, the most telling first."""
    return _ordered([(words, 0, parts) for words, parts in _FREE], ranking)


def deciding_tests(ranking: Ranking) -> list[Question]:
    """Prints and swaps that would part the causes, the most telling per 20 minutes first."""
    found = _ordered(_TESTS, ranking)
    return sorted(found, key=lambda q: -q.bits / q.minutes)


def _ordered(asked: list[tuple[str, int, _Parts]], ranking: Ranking) -> list[Question]:
    kinds = {name: tried.source.kind for name, tried in ranking.tried.items()}
    kinds[RINGING] = "ringing"
    out = []
    for words, minutes, parts in asked:
        yes = {name: parts(kinds[name], name) for name in ranking.probabilities if name in kinds}
        bits = information_bits(ranking.probabilities, yes)
        if bits >= LEAST_BITS:
            out.append(Question(words, bits, minutes))
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
