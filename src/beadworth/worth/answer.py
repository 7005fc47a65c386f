"""The whole answer: what it buys, for whom, and against what else."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from typing import ClassVar

import numpy as np
from numpy.typing import NDArray

from beadworth.core import flat, named
from beadworth.worth.buys import what_it_buys
from beadworth.worth.estimate import Money, reckoned
from beadworth.worth.model import WorthRequest, discount_of, worth_years
from beadworth.worth.options import (
    HOURS,
    Criterion,
    Effect,
    Option,
    Table,
    compare_options,
)
from beadworth.worth.profiles import ForWhom, for_whom, whom_sentence
from beadworth.worth.result import Worth

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Answer:
    """Everything worth says of one case."""

    worth: Worth = field(metadata=flat())
    profiles: tuple[ForWhom, ...]
    table: Table = field(metadata=named("options"))
    """Under the case's own weights."""
    json_also: ClassVar = {"for_whom": "whom"}

    @property
    def whom(self) -> str:
        """For which profiles it pays, as a sentence."""
        return whom_sentence(self.profiles)

    @property
    def who_for(self) -> tuple[str, ...]:
        """For whom it pays, a sentence each: the person whose case it is, then the profiles."""
        return self.worth.sentence, whom_sentence(self.profiles)


def work_out(asked: WorthRequest) -> Answer:
    """Work a case out.

    Raises
    ------
    InputError
        Two options of one name, or one called as the upgraded rig.
    """
    worth = what_it_buys(asked)
    here = worth.hours_before_per_year.value or 1.0
    profiles = []
    for item in for_whom(asked):
        printed = (item.worth.hours_before_per_year.value or 0.0) / here
        table = table_of(asked, item.worth, item.profile.weights, printed)
        profiles.append(replace(item, first_option=table.first))
    return Answer(worth, tuple(profiles), table_of(asked, worth, {}))


def table_of(
    asked: WorthRequest, worth: Worth, weights: Mapping[str, float], printed: float = 1.0
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
    sides = [side for p in asked.prints for side in (p.baseline, p.candidate)]
    known = all(side.group for side in sides)
    measured = known and not any(side.predicted for side in sides)
    own = reckoned(
        Effect,
        worth.shapes["hours_saved"],
        evidence="measured here" if measured else "predicted",
        source=_source(known, measured),
    )
    upgrade = Option(
        name=worth.candidate,
        what="this upgrade",
        cost=reckoned(Money, worth.shapes["cost"]),
        effects={HOURS: own, **case.effects},
    )
    rng = np.random.default_rng(case.seed)
    return compare_options((upgrade, *options), criteria, weights, rng, per_hour=_per_hour(asked))


def _source(known: bool, measured: bool) -> str:
    if measured:
        return "replayed under the measured ceilings"
    return "replayed under predicted ceilings" if known else "replayed, motion only"


def _per_hour(asked: WorthRequest) -> Callable[[Array], Array] | None:
    """Quantile function of what an hour saved a year is worth over the case's months."""
    time = asked.case.time
    if not time.given:
        return None
    years = worth_years(asked.case.months / 12.0, discount_of(asked.case))

    def quantile(share: Array) -> Array:
        hour = np.zeros_like(share)
        if time.printer_hour is not None:
            hour = hour + time.printer_hour.quantile(share)
        if time.waiting_hour is not None and time.waiting_share is not None:
            hour = hour + time.waiting_hour.quantile(share) * time.waiting_share.middle
        return np.asarray(hour * years)

    return quantile


def _printed(option: Option, factor: float) -> Option:
    effect = option.effects.get(HOURS)
    if effect is None:
        return option
    changed = effect.model_copy(update=effect.scaled(factor).model_dump())
    return option.model_copy(update={"effects": {**option.effects, HOURS: changed}})
