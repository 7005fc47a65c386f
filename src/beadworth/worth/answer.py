"""The whole answer: what it buys, for whom, and against what else."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from beadworth.core import to_mapping
from beadworth.worth.buys import what_it_buys
from beadworth.worth.estimate import Estimate, Money
from beadworth.worth.model import Asked
from beadworth.worth.monte_carlo import Result
from beadworth.worth.options import (
    HOURS,
    Criterion,
    Effect,
    Option,
    Row,
    Table,
    compare_options,
)
from beadworth.worth.profiles import ForWhom, for_whom, whom_sentence
from beadworth.worth.result import Worth


@dataclass(frozen=True)
class Answer:
    """Everything worth says of one case."""

    worth: Worth
    profiles: tuple[ForWhom, ...]
    table: Table
    """Under the case's own weights."""
    first_for: Mapping[str, str]
    """Which option comes first under each profile's weights."""

    @property
    def who_for(self) -> tuple[str, ...]:
        """For whom it pays, a sentence each: the person whose case it is, then the profiles."""
        return self.worth.sentence, whom_sentence(self.profiles)

    def to_json(self) -> dict[str, Any]:
        """The shape of ``worth compare --json``."""
        return {
            **self.worth.to_json(),
            "for_whom": whom_sentence(self.profiles),
            "profiles": [_profile(item, self.first_for[item.profile.name])
                         for item in self.profiles],
            "options": options_json(self.table),
        }  # fmt: skip


def work_out(asked: Asked) -> Answer:
    """Work a case out.

    Raises
    ------
    InputError
        Two options of one name, or one called as the upgraded rig.
    """
    worth = what_it_buys(asked)
    profiles = for_whom(asked)
    here = worth.hours_before_per_year.value or 1.0
    first = {}
    for item in profiles:
        printed = (item.worth.hours_before_per_year.value or 0.0) / here
        table = table_of(asked, item.worth, item.profile.weights, printed)
        first[item.profile.name] = table.rows[0].name
    return Answer(worth, profiles, table_of(asked, worth, {}), first)


def table_of(
    asked: Asked, worth: Worth, weights: Mapping[str, float], printed: float = 1.0
) -> Table:
    """The options beside this upgrade, under the case's weights changed by some.

    Parameters
    ----------
    printed : float
        Printing of this profile ÷ printing of the case: the hours that other options save were
        said for the case's own printing and go with it.
    """
    case = asked.case
    options = case.options if printed == 1.0 else [_printed(o, printed) for o in case.options]
    criteria = case.criteria
    if HOURS not in {c.name for c in criteria}:
        criteria = (Criterion(name=HOURS, unit="h/year"), *criteria)
    measured = all(p.baseline.group and p.candidate.group for p in asked.prints)
    hours = _as_estimate(worth.hours_saved_per_year)
    own = Effect.model_construct(
        value=hours.value,
        u=hours.u,
        evidence="measured here" if measured else "predicted",
        source="replayed under the measured ceilings" if measured else "replayed, motion only",
    )
    cost = _as_estimate(worth.cost)
    upgrade = Option(
        name=worth.candidate,
        what="this upgrade",
        cost=Money.model_construct(value=cost.value, u=cost.u),
        effects={HOURS: own, **case.effects},
    )
    rng = np.random.default_rng(case.seed)
    return compare_options((upgrade, *options), criteria, weights, rng)


def _printed(option: Option, factor: float) -> Option:
    effect = option.effects.get(HOURS)
    if effect is None:
        return option
    changed = effect.model_copy(update=effect.scaled(factor).model_dump())
    return option.model_copy(update={"effects": {**option.effects, HOURS: changed}})


def _as_estimate(result: Result) -> Estimate:
    """A result as an input: normal, with the width of its interval."""
    from scipy.special import ndtri

    if result.value is None or result.low is None or result.high is None:
        raise AssertionError("hours and cost are always bounded")
    u = (result.high - result.low) / (2.0 * float(ndtri(0.975)))
    # reckoned, not typed: the bounds of what may be typed do not hold for it
    return Estimate.model_construct(
        value=result.value, u=u if u > 1e-12 * abs(result.value) else None
    )


def _profile(item: ForWhom, first: str) -> dict[str, Any]:
    worth = item.worth
    return {
        "profile": to_mapping(item.profile),
        "verdict": worth.verdict,
        "verdict_words": worth.verdict_words,
        "sentence": worth.sentence,
        "hours_saved_per_year": worth.hours_saved_per_year.to_json(),
        "cost": worth.cost.to_json(),
        "net": worth.net.to_json(),
        "months": worth.months,
        "break_even_prints": worth.break_even.prints.to_json(),
        "break_even_months": worth.break_even.months.to_json(),
        "break_even_words": worth.break_even.words,
        "pays_share": worth.pays_share,
        "first_option": first,
    }


def options_json(table: Table) -> dict[str, Any]:
    """The table with its weights and what happens as they move."""
    return {
        "weights": dict(table.shares),
        "criteria": [to_mapping(criterion) for criterion in table.criteria],
        "rows": [_row(row) for row in table.rows],
        "rankings": [
            {
                "criterion": ranking.criterion,
                "weight": ranking.weight,
                "at": list(ranking.at),
                "scores": {name: list(line) for name, line in ranking.scores.items()},
                "changes": [
                    {"weight": share, "from": before, "to": after}
                    for share, before, after in ranking.changes
                ],
            }
            for ranking in table.rankings
        ],
    }


def _row(row: Row) -> dict[str, Any]:
    return {
        "name": row.name,
        "what": row.what,
        "cost": to_mapping(row.cost),
        "effects": {name: to_mapping(effect) for name, effect in row.effects.items()},
        "evidence": row.grade,
        "dominated_by": list(row.dominated_by),
        "score": row.score,
        "first_share": row.first_share,
    }
