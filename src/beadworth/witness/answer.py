"""What the sheets of a witness say once its codes are open."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations

from beadworth.core import CONFIDENCE
from beadworth.text import capital, fixed, percent, with_unit
from beadworth.witness.agreement import Agreement, table_of, weighted_kappa
from beadworth.witness.criteria import OBJECTIONABLE
from beadworth.witness.design import Band
from beadworth.witness.grades import LookSheet, grades_by_grader, key_of
from beadworth.witness.pair import PairVerdict, Wall, judge_pair
from beadworth.witness.plain_fit import plain_fit
from beadworth.witness.separate import BandGrade, Separation, separate
from beadworth.witness.spec import Kind
from beadworth.witness.threshold import Look, Threshold, threshold

QUANTITIES = {
    "flow_mm3_s": ("flow", "mm³/s", 1), "speed_mm_s": ("speed", "mm/s", 0),
    "angle_deg": ("overhang", "°", 0), "layer_time_s": ("layer time", "s", 1),
    "passes": ("passes", "", 0),
}  # fmt: skip
"""Words, unit and decimals of what a threshold is of."""


@dataclass(frozen=True)
class AgreementRow:
    """How well two sets of grades agree."""

    who: str
    same_grader: bool
    agreement: Agreement


@dataclass(frozen=True)
class GradedLadder:
    """One ladder of a witness and its threshold."""

    name: str
    """Which bands and which side, as 'front, bands that climb in flow'."""
    quantity: str
    threshold: Threshold
    looks: Mapping[str, tuple[Look, ...]]
    """Of each grader."""
    plain_half: float | None
    """Half level of the plain logistic fit, where it has one."""
    sentence: str


@dataclass(frozen=True)
class WitnessAnswer:
    """Everything the grades say."""

    kind: Kind
    agreement: tuple[AgreementRow, ...]
    ladders: tuple[GradedLadder, ...]
    separation: Separation | None
    pair: PairVerdict | None
    sentences: tuple[str, ...]


def read_sheets(
    kind: Kind,
    bands: Sequence[Band],
    walls: Mapping[str, Wall],
    sheets: Sequence[LookSheet],
    confidence: float = CONFIDENCE,
) -> WitnessAnswer:
    """Read the sheets of all graders together.

    Parameters
    ----------
    walls : mapping of code to Wall
        Of a weighed pair; empty for the rest.
    """
    by_grader = grades_by_grader(sheets)
    agreement = tuple(_agreements(bands, by_grader))
    ladders: tuple[GradedLadder, ...] = ()
    separation, pair = None, None
    if kind == "weighed pair":
        pair = judge_pair(walls, _mean_masses(sheets), confidence=confidence)
    else:
        ladders = tuple(_ladders(kind, bands, by_grader, confidence))
    if kind == "melt or motion":
        separation = separate(_band_grades(bands, by_grader))
    said = [part.sentence for part in (pair, separation) if part is not None]
    return WitnessAnswer(
        kind, agreement, ladders, separation, pair,
        (*said, *(ladder.sentence for ladder in ladders)),
    )  # fmt: skip


def _mean_masses(sheets: Sequence[LookSheet]) -> dict[str, float]:
    """Mass of each wall, averaged over whoever weighed it."""
    found: dict[str, list[float]] = {}
    for sheet in sheets:
        for code, mass in sheet.masses_g.items():
            found.setdefault(code, []).append(mass)
    return {code: sum(masses) / len(masses) for code, masses in found.items()}


def _agreements(
    bands: Sequence[Band], by_grader: Mapping[str, list[LookSheet]]
) -> Iterator[AgreementRow]:
    """Each grader's looks against each other, then first looks of each two graders."""
    for grader, own in by_grader.items():
        for first, second in combinations(own, 2):
            if first.grades and second.grades:
                name = f"{grader}, look {first.look} and {second.look}"
                yield AgreementRow(name, True, _agree(first, second))
    for (a, one), (b, two) in combinations(by_grader.items(), 2):
        if one[0].grades and two[0].grades:
            yield AgreementRow(f"{a} and {b}", False, _agree(one[0], two[0]))


def _agree(first: LookSheet, second: LookSheet) -> Agreement:
    both = [
        (a, b)
        for key, a in first.grades.items()
        if a is not None and (b := second.grades.get(key)) is not None
    ]
    return weighted_kappa(table_of([a for a, _ in both], [b for _, b in both]))


def _given(
    by_grader: Mapping[str, list[LookSheet]], cells: Sequence[tuple[str, str, float]]
) -> dict[str, tuple[Look, ...]]:
    """Looks at cells (code, side, level) of each grader that judged any."""
    found = {
        grader: tuple(
            Look(level, grade)
            for sheet in own
            for code, side, level in cells
            if (grade := sheet.grades.get(key_of((code, side)))) is not None
        )
        for grader, own in by_grader.items()
    }
    return {grader: looks for grader, looks in found.items() if looks}


def _cells(
    kind: Kind, bands: Sequence[Band]
) -> Iterator[tuple[str, str, int, list[tuple[str, str, float]]]]:
    """Ladders of a kind: name, quantity, which way is worse, and cells with their levels."""
    if kind == "melt or motion":
        for side, words in (("front", "front"), ("folded", "folds")):
            for chain, quantity in (("flow", "flow_mm3_s"), ("speed", "speed_mm_s")):
                own = [b for b in bands if b.chain == chain]
                cells = [(b.code, side, b.settings[quantity]) for b in own]
                yield f"{words}, bands that climb in {chain}", quantity, 1, cells
    elif kind == "overhang":
        for band in bands:
            cells = [
                (band.code, side, settings["angle_deg"])
                for side, settings in band.side_settings.items()
            ]
            fan, time = band.settings["fan"], band.settings["layer_time_s"]
            yield f"fan {percent(fan, 0)}, layer {time:.0f} s", "angle_deg", 1, cells
    elif kind == "layer time":
        cells = [(b.code, "first", b.settings["layer_time_s"]) for b in bands]
        yield "first teeth", "layer_time_s", -1, cells
    elif kind == "grip":
        yield "front", "passes", 1, [(b.code, "front", b.settings["passes"]) for b in bands]


def _ladders(
    kind: Kind,
    bands: Sequence[Band],
    by_grader: Mapping[str, list[LookSheet]],
    confidence: float,
) -> Iterator[GradedLadder]:
    for name, quantity, worse, cells in _cells(kind, bands):
        looks = _given(by_grader, cells)
        if len({look.level for own in looks.values() for look in own}) < 3:
            continue
        found = threshold(looks, quantity, worse=worse, confidence=confidence)
        every = [look for own in looks.values() for look in own]
        levels = sorted({look.level for look in every})
        bad = [sum(k.grade >= OBJECTIONABLE for k in every if k.level == x) for x in levels]
        many = [sum(k.level == x for k in every) for x in levels]
        plain = plain_fit(levels, bad, many)
        half = plain.half if plain and levels[0] <= plain.half <= levels[-1] else None
        yield GradedLadder(
            name, quantity, found, looks, half, describe_threshold(name, found, worse)
        )


def _band_grades(
    bands: Sequence[Band], by_grader: Mapping[str, list[LookSheet]]
) -> dict[str, list[BandGrade]]:
    return {
        grader: [
            BandGrade(band.settings["flow_mm3_s"], band.settings["speed_mm_s"], side, grade)
            for sheet in own
            for band in bands
            for side in band.sides
            if (grade := sheet.grades.get(key_of((band.code, side)))) is not None
        ]
        for grader, own in by_grader.items()
    }


def describe_threshold(name: str, found: Threshold, worse: int = 1) -> str:
    """A threshold in a sentence."""
    _, unit, decimals = QUANTITIES[found.quantity]
    rising = worse > 0

    def say(value: float | None) -> str:
        return with_unit(fixed(value, decimals), unit)

    what = capital(name)
    if found.bound == "interval":
        ends = f"{fixed(found.low, decimals)} to {fixed(found.high, decimals)}"
        return f"{what}: acceptable {'up' if rising else 'down'} to {say(found.value)} ({ends})."
    if found.bound == "unknown":
        return f"{what}: cannot tell from these grades."
    end = say(found.low if found.bound == "at-least" else found.high)
    if (found.bound == "at-least") == rising:
        way = "up to at least" if rising else "down to at most"
        return f"{what}: acceptable {way} {end}; it never got worse."
    way, lies = ("above", "lower") if rising else ("below", "higher")
    return f"{what}: not acceptable {way} {end}; the limit lies {lies}."
