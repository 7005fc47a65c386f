"""What else the money could buy: options, what they do, how good the evidence is, who wins.

'Do nothing' always stands among them. A score is a weighted sum of each criterion's place
between the worst and the best option (0 to 1); the weights are the user's and stay in sight.
An option is dominated where another is at least as good in everything and better in something:
it can then never come first, whatever the weights.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Annotated, ClassVar, Literal

import numpy as np
from numpy.typing import NDArray
from pydantic import Field

from beadworth.core import LEFT_OUT, InputError, Problem, Record, named
from beadworth.worth.estimate import Estimate, Money

Array = NDArray[np.float64]
Evidence = Literal["measured here", "measured elsewhere", "predicted", "claimed"]
GRADES: tuple[Evidence, ...] = ("measured here", "measured elsewhere", "predicted", "claimed")
"""From the best evidence to the least."""
NOTHING = "do nothing"
COST = "cost"
HOURS = "hours saved"


class Criterion(Record):
    """One thing options are judged by."""

    name: str = Field(min_length=1, max_length=60, description="name, e.g. top temperature")
    unit: str = Field("", max_length=20, description="unit of its effects")
    better: Literal["more", "less"] = Field("more", description="which way is better")
    weight: Annotated[float, Field(gt=0, le=1e6)] = Field(
        1.0, description="weight above 0: a criterion of weight zero has no say, so leave it out"
    )


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
    """0 to 1 under the weights in sight; None where an effect is unknown."""
    first_share: float | None
    """Share of draws in which it comes first; None where its score is."""

    @property
    def dominated(self) -> bool:
        """Whether another option is at least as good in everything."""
        return bool(self.dominated_by)


@dataclass(frozen=True)
class LeadChange:
    """A share of the weights at which another option takes the lead."""

    weight: float
    before: str = field(metadata=named("from"))
    after: str = field(metadata=named("to"))


@dataclass(frozen=True)
class Ranking:
    """Scores as the weight of one criterion goes from nothing to all."""

    criterion: str
    weight: float
    """Its share of the weights now, 0 to 1."""
    at: tuple[float, ...]
    """Shares 0 … 1."""
    scores: Mapping[str, tuple[float, ...]]
    """By option."""
    changes: tuple[tuple[float, str, str], ...] = field(metadata=LEFT_OUT)
    """Shares at which another option takes the lead: (share, from, to)."""
    json_also: ClassVar = {"changes": "lead_changes"}

    @property
    def lead_changes(self) -> tuple[LeadChange, ...]:
        """The same as records."""
        return tuple(LeadChange(*change) for change in self.changes)


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


def compare_options(
    options: Sequence[Option],
    criteria: Sequence[Criterion],
    weights: Mapping[str, float],
    rng: np.random.Generator,
    draws: int = 4000,
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
    scores = _scores(middles * signs, weight)
    first = _first_shares(known, judged, signs, weight, rng, draws)
    rows = [
        Row(
            option.name,
            option.what,
            option.cost,
            option.effects,
            tuple(
                other.name
                for m, other in enumerate(known)
                if m != n and dominates(middles[m] * signs, middles[n] * signs)
            ),
            _weakest(option),
            None if np.isnan(scores[n]) else float(scores[n]),
            None if np.isnan(scores[n]) else float(first[n]),
        )
        for n, option in enumerate(known)
    ]
    names = [option.name for option in known]
    scored = middles * signs
    rankings = [
        _ranking(c.name, weight[at], names, scored, at, weight) for at, c in enumerate(judged)
    ]
    order = sorted(rows, key=_place)
    return Table(tuple(order), judged, shares, tuple(rankings))


def _place(row: Row) -> tuple[bool, float, bool, float, str]:
    """Order of the table; scores alike but for rounding go by cost and name."""
    return (row.score is None, -round(row.score or 0.0, 9), row.dominated, row.cost.middle,
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


def _scores(scored: Array, weight: Array) -> Array:
    """Weighted sums of each criterion's place between worst (0) and best (1).

    Criteria on which all options are alike tell none apart and add nothing. Options with an
    unknown effect get NaN and do not stretch the scale.
    """
    whole = ~np.isnan(scored).any(axis=-1, keepdims=True)
    best = np.max(np.where(whole, scored, -np.inf), axis=-2, keepdims=True)
    worst = np.min(np.where(whole, scored, np.inf), axis=-2, keepdims=True)
    width = np.where(best > worst, best - worst, 1.0)
    with np.errstate(invalid="ignore"):
        place = np.where(whole, (scored - worst) / width, np.nan)
    return np.asarray(place @ weight)


def _first_shares(
    options: Sequence[Option],
    criteria: Sequence[Criterion],
    signs: Array,
    weight: Array,
    rng: np.random.Generator,
    draws: int,
) -> Array:
    drawn = np.empty((draws, len(options), len(criteria)))
    for n, option in enumerate(options):
        for m, criterion in enumerate(criteria):
            share = rng.random(draws)
            known = option.cost if criterion.name == COST else option.effects.get(criterion.name)
            drawn[:, n, m] = np.nan if known is None else known.quantile(share)
    scores = _scores(drawn * signs, weight)
    scores = np.where(np.isnan(scores), -np.inf, scores)
    first = np.argmax(scores, axis=1)
    return np.bincount(first, minlength=len(options)) / draws


def _weakest(option: Option) -> Evidence | None:
    grades = [GRADES.index(effect.evidence) for effect in option.effects.values()]
    return GRADES[max(grades)] if grades else None


def _ranking(
    name: str, now: float, options: Sequence[str], scored: Array, at: int, weight: Array
) -> Ranking:
    """Scores are straight lines in one criterion's share, the others keeping their proportions."""
    others = weight.copy()
    others[at] = 0.0
    others = others / others.sum() if others.sum() > 0 else others
    alone = np.zeros_like(weight)
    alone[at] = 1.0
    ends = _scores(scored, others), _scores(scored, alone)
    grid = np.linspace(0.0, 1.0, 21)
    known = [n for n in range(len(options)) if not np.isnan(ends[0][n])]
    lines = {
        options[n]: tuple(((1 - grid) * ends[0][n] + grid * ends[1][n]).tolist()) for n in known
    }
    return Ranking(name, float(now), tuple(grid.tolist()), lines, _changes(options, known, ends))


def _changes(
    options: Sequence[str], known: Sequence[int], ends: tuple[Array, Array]
) -> tuple[tuple[float, str, str], ...]:
    """Where the upper envelope of the score lines passes from one option to the next."""
    if not known:
        return ()
    start, end = ends
    lead = max(known, key=lambda n: (start[n], end[n]))
    share = 0.0
    found: list[tuple[float, str, str]] = []
    while True:
        gains = {n: (end[n] - start[n]) - (end[lead] - start[lead]) for n in known}
        meets = [((start[lead] - start[n]) / gain, n) for n, gain in gains.items() if gain > 1e-9]
        later = [(at, n) for at, n in meets if share - 1e-9 <= at < 1.0 - 1e-9]
        if not later:
            return tuple(found)
        at, following = min(later, key=lambda item: (item[0], -(end[item[1]] - start[item[1]])))
        share = float(max(at, share))
        found.append((share, options[lead], options[following]))
        lead = following


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
