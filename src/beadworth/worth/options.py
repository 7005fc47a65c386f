"""What else the money could buy: options, what they do, how good the evidence is, who wins.

'Do nothing' always stands among them. A score is a weighted sum of each criterion's place
between two values that the person states, worst (0) and best (1): an additive value function on
fixed scales (R. L. Keeney and H. Raiffa, Decisions with Multiple Objectives, 1976, from memory).
Scales taken from whoever is listed would let an option decide between two others by standing there.
Without stated scales, and where fewer than three options stand, there is no score; the money an
option nets has its interval either way.
An option is dominated where another is at least as good in everything and better in something:
it can then never come first, whatever the weights.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Annotated, ClassVar, Literal, Self

import numpy as np
from numpy.typing import NDArray
from pydantic import Field, model_validator

from beadworth.core import InputError, Problem, Record, named
from beadworth.text import count, join_words
from beadworth.worth.estimate import Estimate, Money, interval_of, refusal
from beadworth.worth.monte_carlo import Result, result_of
from beadworth.worth.ranking import TIE, Ranking, first_shares, ranking_of, scores_of

Array = NDArray[np.float64]
Evidence = Literal["measured here", "measured elsewhere", "predicted", "claimed"]
GRADES: tuple[Evidence, ...] = ("measured here", "measured elsewhere", "predicted", "claimed")
"""From the best evidence to the least."""
NOTHING = "do nothing"
COST = "cost"
HOURS = "hours saved"
FEWEST_STANDING = 3
"""Undominated options from which a score is given: of two, cost and effects say it all."""
NO_NET = Result(None, None, None)


class Criterion(Record):
    """One thing options are judged by."""

    name: str = Field(min_length=1, max_length=60, description="name, e.g. top temperature")
    unit: str = Field("", max_length=20, description="unit of its effects")
    better: Literal["more", "less"] = Field("more", description="which way is better")
    worst: float | None = Field(
        None, description="value that counts 0 in the score; with best for every criterion"
    )
    best: float | None = Field(None, description="value that counts 1 in the score")
    weight: Annotated[float, Field(gt=0, le=1e6)] = Field(
        1.0, description="weight above 0: a criterion of weight zero has no say, so leave it out"
    )

    @model_validator(mode="after")
    def _scale(self) -> Self:
        if (self.worst is None) != (self.best is None) or (
            self.worst is not None and self.worst == self.best
        ):
            raise refusal(
                f"the scale of {self.name} needs two values that differ, worst and best.",
                "Give both, or neither.",
            )
        return self


class Effect(Estimate):
    """A change against the rig as it is, and where the figure comes from."""

    evidence: Evidence = Field(description="how good the evidence is")
    source: str | None = Field(None, description="who says so, or which trial")


class Option(Record):
    """One way to spend the money."""

    name: str = Field(min_length=1, max_length=80, description="what it is, in a few words")
    what: str = Field("", max_length=300, description="what would be done")
    cost: Money = Field(description="all of it: parts, tools, your hours, less resale")
    effects: dict[str, Effect] = Field({}, description="changes, by criterion")


@dataclass(frozen=True)
class Row:
    """An option in the table."""

    name: str
    what: str
    cost: Estimate
    effects: Mapping[str, Effect]
    dominated_by: tuple[str, ...]
    """Options at least as good in everything and better in something; empty: none."""
    grade: Evidence | None = field(metadata=named("evidence"))
    """The weakest evidence any of its effects rests on; None without effects."""
    score: float | None
    """Under the weights in sight, 0 to 1 within the scales; None where an effect is unknown, and
    where no option is scored (:attr:`Table.no_score`)."""
    first_share: float | None
    """Share of draws in which it comes first, a tie shared; None where its score is."""
    net: Result = NO_NET
    """Money over the case's months, its cost taken off; all None where no hour has a worth or its
    hours are unknown."""
    tied_with: tuple[str, ...] = ()
    """Options with the same score."""
    json_also: ClassVar = {"intervals": "intervals"}

    @property
    def intervals(self) -> dict[str, Result]:
        """Median and 95 % interval of cost and of each effect, by criterion."""
        return {name: interval_of(e) for name, e in {COST: self.cost, **self.effects}.items()}

    @property
    def dominated(self) -> bool:
        """Whether another option is at least as good in everything."""
        return bool(self.dominated_by)


@dataclass(frozen=True)
class Table:
    """All options, and how their order depends on the weights."""

    rows: tuple[Row, ...]
    """The best score first; those without a score last."""
    criteria: tuple[Criterion, ...]
    """Cost first."""
    shares: Mapping[str, float] = field(metadata=named("weights"))
    """Weights as shares of 1, by criterion."""
    rankings: tuple[Ranking, ...]
    """Empty where no option is scored."""
    no_score: str = ""
    """Why no option is scored; empty where they are."""
    json_also: ClassVar = {"first": "first"}

    @property
    def first(self) -> str:
        """Which option comes first, in words: a tie is one, and without scores the net decides."""
        if not self.no_score:
            lead = next((row for row in self.rows if row.score is not None), None)
            if lead is None:
                return "cannot tell"
            if lead.tied_with:
                return f"a tie: {join_words([lead.name, *lead.tied_with])}"
            return lead.name
        netted = [row for row in self.rows if row.net.low is not None]
        if len(netted) < len(self.rows):
            return "cannot tell"
        best = max(netted, key=lambda row: row.net.low or 0.0)
        others = [row.net.high or 0.0 for row in netted if row is not best]
        return best.name if all((best.net.low or 0.0) > high for high in others) else "cannot tell"


def compare_options(
    options: Sequence[Option],
    criteria: Sequence[Criterion],
    weights: Mapping[str, float],
    rng: np.random.Generator,
    draws: int = 4000,
    per_hour: Callable[[Array], Array] | None = None,
) -> Table:
    """Hold options against each other.

    Parameters
    ----------
    options : sequence of Option
        'Do nothing' is put among them where it is missing.
    criteria : sequence of Criterion
        Besides cost; an option without an effect on one of them gets no score.
    weights : mapping
        By criterion; those left out keep the criterion's own weight.
    rng : generator
        For the share of draws in which an option comes first.
    per_hour : callable, optional
        Quantile function of what an hour saved a year is worth over the case's months; left out:
        no net.

    Raises
    ------
    InputError
        A weight that is not above 0, or two options of one name.
    """
    judged = (Criterion(name=COST, better="less"), *(c for c in criteria if c.name != COST))
    judged = tuple(c if c.name != COST else _own(criteria, c) for c in judged)
    raw = {c.name: float(weights.get(c.name, c.weight)) for c in judged}
    _check(options, raw)
    shares = {name: weight / sum(raw.values()) for name, weight in raw.items()}
    known = list(options)
    if NOTHING not in [o.name for o in known]:
        known.append(do_nothing(judged))
    middles = np.array([[_middle(o, c.name) for c in judged] for o in known])
    signs = np.array([1.0 if c.better == "more" else -1.0 for c in judged])
    weight = np.array([shares[c.name] for c in judged])
    beaten = [
        tuple(
            other.name
            for m, other in enumerate(known)
            if m != n and dominates(middles[m] * signs, middles[n] * signs)
        )
        for n in range(len(known))
    ]
    standing = sum(not by for by in beaten)
    no_score = _why_no_score(judged, standing)
    worst = np.array([0.0 if c.worst is None else c.worst for c in judged])
    best = np.array([1.0 if c.best is None else c.best for c in judged])
    scores = scores_of(middles, worst, best, weight)
    drawn = _drawn(known, judged, rng, draws)
    first = first_shares(scores_of(drawn, worst, best, weight))
    nets = _nets(drawn, judged, per_hour, rng)
    if no_score:
        scores = np.full(len(known), np.nan)
    rows = [
        Row(
            option.name,
            option.what,
            option.cost,
            option.effects,
            beaten[n],
            _weakest(option),
            None if np.isnan(scores[n]) else float(scores[n]),
            None if np.isnan(scores[n]) else float(first[n]),
            nets[n],
            tuple(
                other.name
                for m, other in enumerate(known)
                if m != n and abs(scores[m] - scores[n]) < TIE
            ),
        )
        for n, option in enumerate(known)
    ]
    names = [option.name for option in known]
    places = (middles - worst) / (best - worst)
    rankings = () if no_score else tuple(
        ranking_of(c.name, weight[at], names, places, at, weight) for at, c in enumerate(judged)
    )  # fmt: skip
    return Table(tuple(sorted(rows, key=_place)), judged, shares, rankings, no_score)


def _why_no_score(criteria: Sequence[Criterion], standing: int) -> str:
    lacking = [c.name for c in criteria if c.worst is None]
    if lacking:
        return (
            f"No score: state what counts as worst and as best of {join_words(lacking)}. Scales "
            "taken from the options listed would let one decide between two others."
        )
    if standing < FEWEST_STANDING:
        return (
            f"No score: {count(standing, 'option stands', 'options stand')} undominated, and a "
            f"score orders {FEWEST_STANDING} or more. Compare what they cost and bring."
        )
    return ""


def _nets(
    drawn: Array,
    criteria: Sequence[Criterion],
    per_hour: Callable[[Array], Array] | None,
    rng: np.random.Generator,
) -> list[Result]:
    """Money over the months of each option, from draws (draws, options, criteria)."""
    names = [c.name for c in criteria]
    if per_hour is None or HOURS not in names:
        return [NO_NET] * int(drawn.shape[1])
    worth = per_hour(rng.random(len(drawn)))
    net = drawn[:, :, names.index(HOURS)] * worth[:, None] - drawn[:, :, names.index(COST)]
    return [NO_NET if np.isnan(n).any() else result_of(n) for n in net.T]


def _place(row: Row) -> tuple[bool, float, bool, float, float, str]:
    """Order of the table: by score, without one by net; alike but for rounding by cost and name."""
    net = -(row.net.value or 0.0) if row.score is None and row.net.value is not None else 0.0
    return (row.score is None, -round(row.score or 0.0, 9), row.dominated, net, row.cost.middle,
            row.name)  # fmt: skip


def do_nothing(criteria: Sequence[Criterion]) -> Option:
    """The option that is always there: no cost, no change."""
    none = {
        c.name: Effect(value=0.0, evidence="measured here", source="nothing changes")
        for c in criteria
        if c.name != COST
    }
    return Option(name=NOTHING, what="keep the rig as it is", cost=Money(value=0.0), effects=none)


def dominates(one: Array, other: Array) -> bool:
    """Whether one option is at least as good in everything and better in something.

    Both rows with more meaning better; an unknown effect (NaN) is never at least as good.
    """
    return bool(np.all(one >= other) and np.any(one > other))


def _own(criteria: Sequence[Criterion], usual: Criterion) -> Criterion:
    """Cost as the user weighs it, where the case lists it."""
    own = next((c for c in criteria if c.name == COST), usual)
    return own.model_copy(update={"better": "less"})


def _middle(option: Option, criterion: str) -> float:
    if criterion == COST:
        return option.cost.middle
    effect = option.effects.get(criterion)
    return float("nan") if effect is None else effect.middle


def _drawn(
    options: Sequence[Option], criteria: Sequence[Criterion], rng: np.random.Generator, draws: int
) -> Array:
    drawn = np.empty((draws, len(options), len(criteria)))
    for n, option in enumerate(options):
        for m, criterion in enumerate(criteria):
            share = rng.random(draws)
            known = option.cost if criterion.name == COST else option.effects.get(criterion.name)
            drawn[:, n, m] = np.nan if known is None else known.quantile(share)
    return drawn


def _weakest(option: Option) -> Evidence | None:
    grades = [GRADES.index(effect.evidence) for effect in option.effects.values()]
    return GRADES[max(grades)] if grades else None


def _check(options: Sequence[Option], weights: Mapping[str, float]) -> None:
    problems = [
        Problem(
            f"a weight of {weight:g} gives {name} no say.",
            f"weight of {name}",
            weight,
            "Give a weight above 0, or leave the criterion out.",
        )
        for name, weight in weights.items()
        if not (np.isfinite(weight) and weight > 0)
    ]
    names = [option.name for option in options]
    problems += [
        Problem(f"two options are called {name!r}.", "options", name, "Name them apart.")
        for name in sorted({n for n in names if names.count(n) > 1})
    ]
    if problems:
        raise InputError(problems)
