"""The worth case: whose prints, which two rigs, what it costs, what an hour is worth.

One record holds all a person must say; everything else is replayed or measured. Nothing about
money is taken for granted: what is not given is left out of the answer, and the answer says so.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from typing import Annotated, Any, Literal, Self

from pydantic import Field, model_validator

from beadworth.core import Place, Problem, Record, RecordError, from_mapping, parse_toml
from beadworth.rig import Currency
from beadworth.worth.estimate import Estimate, Money, limited, refusal
from beadworth.worth.options import Criterion, Effect, Option

Feeds = Literal["as written", "raised"]
Amount = Annotated[Money, limited(Money, 0.0, math.inf, "Give an amount of 0 or more.")]
Hours = Annotated[Estimate, limited(Estimate, 0.0, 100_000.0, "Give hours, 0 or more.")]
Share = Annotated[Estimate, limited(Estimate, 0.0, 1.0, "Give a share from 0 to 1.")]
FailedShare = Annotated[
    Estimate, limited(Estimate, 0.0, 0.95, "Give the share of prints that fail, 0 to 0.95.")
]
Watts = Annotated[Estimate, limited(Estimate, 0.0, 10_000.0, "Give watts, 0 to 10 000.")]
Often = Annotated[
    Estimate,
    limited(
        Estimate, 0.0, 1e7,
        "Give how many of these you print in a year, above 0; a print you never make has no say.",
        open_low=True,
    ),
]  # fmt: skip
Weekly = Annotated[
    Estimate, limited(Estimate, 0.0, 168.0, "Give hours of a week, 0 to 168.", open_low=True)
]


class PrintUse(Record):
    """One of the user's own prints, and how often it is made."""

    file: str | None = Field(None, description="print file, beside the case or by its path")
    print: str | None = Field(None, description="id of a print on the bench, instead of a file")
    name: str | None = Field(None, description="what you call it; left out: the file's name")
    per_year: Often = Field(description="prints per year")
    trial: str | None = Field(
        None, description="trial that measured both rigs for this print, where not the case's"
    )
    material: str | None = Field(
        None,
        description="material: where the trial has several, or where no trial weighed a rig and "
        "its ceiling is predicted",
    )

    @model_validator(mode="after")
    def _one_source(self) -> Self:
        if (self.file is None) == (self.print is None):
            raise refusal(
                "one print needs one source: a file, or the id of a print on the bench.",
                "Give file or print, not both.",
            )
        return self

    @property
    def called(self) -> str:
        """Its name, else the file's."""
        if self.name:
            return self.name
        return (self.file or self.print or "").replace("\\", "/").rpartition("/")[2]


class Costs(Record):
    """What the upgrade costs."""

    parts: Amount | None = Field(
        None, description="bought parts; left out: the price of the candidate's rig record"
    )
    brackets: Amount | None = Field(None, description="brackets you print: material and power")
    tools: Amount | None = Field(None, description="tools bought for it")
    fitting_hours: Hours | None = Field(None, description="hours of fitting and tuning")
    fitting_hour: Amount | None = Field(
        None, description="what an hour of your fitting and tuning is worth, per hour"
    )
    resale: Amount | None = Field(None, description="what you get for the parts taken off")


class TimeValue(Record):
    """What an hour is worth to you; never assumed."""

    printer_hour: Amount | None = Field(None, description="an hour of printer time, per hour")
    waiting_hour: Amount | None = Field(None, description="an hour of waiting, per hour")
    waiting_share: Share | None = Field(
        None, description="share of the printing hours in which somebody waits"
    )

    @model_validator(mode="after")
    def _waiting_whole(self) -> Self:
        if (self.waiting_hour is None) != (self.waiting_share is None):
            raise refusal(
                "waiting needs both its worth per hour and the share of hours somebody waits.",
                "Give waiting_hour and waiting_share, or neither.",
            )
        return self

    @property
    def given(self) -> bool:
        """Whether an hour has a worth at all."""
        return self.printer_hour is not None or self.waiting_hour is not None


class Running(Record):
    """Energy, filament and failed prints, as far as you know your own."""

    energy_kwh: Amount | None = Field(None, description="price of electricity, per kWh")
    power_w: Watts | None = Field(None, description="mean power while printing, rig as it is, W")
    candidate_power_w: Watts | None = Field(
        None, description="mean power of the upgraded rig, W; left out: the same"
    )
    filament_kg: Amount | None = Field(None, description="price of filament, per kg")
    density_g_cm3: Annotated[float, Field(gt=0.1, lt=10)] | None = Field(
        None, description="density of the filament, where the material is not on the bench, g/cm³"
    )
    failed: FailedShare | None = Field(None, description="share of prints that fail, rig as it is")
    candidate_failed: FailedShare | None = Field(
        None, description="share of prints that fail on the upgraded rig"
    )
    failed_at: Share | None = Field(
        None,
        description="share of a print done when it fails; left out: anywhere from 0 to 1",
    )

    @model_validator(mode="after")
    def _pairs(self) -> Self:
        if (self.failed is None) != (self.candidate_failed is None):
            raise refusal(
                "failed prints need the share of both rigs.",
                "Give failed and candidate_failed, the same number twice where you do not know.",
            )
        if self.energy_kwh is not None and self.power_w is None:
            raise refusal(
                "a price of electricity buys nothing without the power the rig draws.",
                "Give power_w: what a meter at the socket shows on average while it prints.",
            )
        return self


class Profile(Record):
    """Somebody this might be for; data to be edited, not a statement about people."""

    name: str = Field(min_length=1, max_length=60, description="short name")
    who: str = Field("", max_length=240, description="who that is, in a sentence")
    hours_per_week: Weekly = Field(description="hours of printing in a week, rig as it is")
    mix: dict[str, Annotated[float, Field(gt=0, le=1e6)]] = Field(
        {}, description="parts of the printing, by name of the print; left out: the case's mix"
    )
    time: TimeValue | None = Field(None, description="what an hour is worth to them")
    fitting_hour: Amount | None = Field(None, description="worth of their hour of fitting")
    months: Annotated[float, Field(gt=0, le=240)] | None = Field(
        None, description="time in which it should pay, months"
    )
    weights: dict[str, Annotated[float, Field(gt=0, le=1e6)]] = Field(
        {}, description="weights of the criteria, by name; left out: the case's"
    )


class WorthCase(Record):
    """Everything a person says about one upgrade."""

    name: str = Field(min_length=1, max_length=120, description="name of the case")
    baseline: str = Field(min_length=1, description="rig as it is: name on the bench or TOML file")
    candidate: str = Field(min_length=1, description="upgraded rig: name or TOML file")
    trial: str | None = Field(
        None, description="trial, fit (JSON) or readings (CSV) that holds the ceilings of both"
    )
    candidate_trial: str | None = Field(None, description="where the upgraded rig has its own")
    currency: Currency | None = Field(
        None, description="ISO 4217 code of every amount; left out: that of the candidate's price"
    )
    feeds: Feeds = Field(
        "as written",
        description="'as written': the files' own feeds, slowed where they are over the ceiling; "
        "'raised': sliced again, every bead as fast as ceiling and motion allow, on both rigs",
    )
    months: Annotated[float, Field(gt=0, le=240)] = Field(
        24.0, description="time in which it should pay, months"
    )
    discount_percent: Annotated[float, Field(gt=0, le=100)] | None = Field(
        None,
        description="what money later is worth less, per cent a year; left out: nothing (simple "
        "payback)",
    )
    prints: tuple[PrintUse, ...] = Field(description="your own prints, up to 200")
    cost: Costs = Field(Costs(), description="what it costs")
    time: TimeValue = Field(TimeValue(), description="what an hour is worth to you")
    running: Running = Field(Running(), description="energy, filament, failed prints")
    stopwatch: Annotated[
        Estimate, limited(Estimate, 0.2, 5.0, "Give real time ÷ replayed time, near 1.")
    ] = Field(
        Estimate(value=1.0), description="real print time ÷ replayed time on your rig, where timed"
    )
    mass_removed_g: Estimate | None = Field(
        None, description="mass taken off the moving parts, g; left out: from the rig records"
    )
    effects: dict[str, Effect] = Field(
        {}, description="what else this upgrade changes, by criterion"
    )
    criteria: tuple[Criterion, ...] = Field(
        (), description="what options are judged by, besides cost; left out: hours saved"
    )
    options: tuple[Option, ...] = Field((), description="what else the money could buy")
    profiles: tuple[Profile, ...] = Field((), description="who it might be for")
    seed: Annotated[int, Field(ge=0)] = Field(1, description="seed of the draws")
    simulated: bool = Field(False, description="true for an invented case")
    note: str | None = Field(None, description="note")

    @model_validator(mode="after")
    def _names(self) -> Self:
        if not 1 <= len(self.prints) <= 200:
            raise refusal(
                f"{len(self.prints)} prints: give at least 1 and at most 200.",
                "Give 1 to 200 of your own prints, the most frequent first.",
            )
        called = [use.called for use in self.prints]
        twice = sorted({name for name in called if called.count(name) > 1})
        if twice:
            raise refusal(
                f"two prints are called {twice[0]!r}.", "Give each a name of its own (name = …)."
            )
        known = {c.name for c in self.criteria} | {"cost", "hours saved"}
        for profile in self.profiles:
            for name in profile.mix:
                if name not in called:
                    raise refusal(
                        f"profile {profile.name!r} prints {name!r}, no print of this case.",
                        f"Name one of: {', '.join(called)}.",
                    )
            for name in profile.weights:
                if name not in known:
                    raise refusal(
                        f"profile {profile.name!r} weighs {name!r}, which is no criterion.",
                        f"Name one of: {', '.join(sorted(known))}.",
                    )
        effects = [("this upgrade", self.effects), *((o.name, o.effects) for o in self.options)]
        for called_, changes in effects:
            for name in changes:
                if name not in known:
                    raise refusal(
                        f"{called_!r} has an effect on {name!r}, which is no criterion.",
                        f"Add it to criteria, or name one of: {', '.join(sorted(known))}.",
                    )
        return self


def case_from_mapping(data: dict[str, Any], source: str) -> WorthCase:
    """A case from plain data.

    Raises
    ------
    RecordError
        Everything that is wrong with it at once: fields, and amounts of another currency.
    """
    mixed = list(_mixed_currencies(data, source))
    try:
        case = from_mapping(WorthCase, data, source)
    except RecordError as error:
        raise RecordError([*error.problems, *mixed]) from None
    if mixed:
        raise RecordError(mixed)
    return case


def case_from_toml(text: str, source: str) -> WorthCase:
    """A case from TOML text (see :func:`case_from_mapping`)."""
    return case_from_mapping(parse_toml(text, source), source)


def _mixed_currencies(data: Any, source: str) -> Iterator[Problem]:
    """Amounts whose currency is not the one of the case, wherever they stand."""
    if not isinstance(data, Mapping):
        return
    named = [(path, code) for path, code in currencies_of(data, "") if path]
    main = data.get("currency")
    if not isinstance(main, str):
        main = named[0][1] if named else None
    for path, code in named:
        if code != main:
            yield Problem(
                f"an amount in {code} cannot be added to amounts in {main}.",
                Place.of_field(source, path),
                code,
                f"Convert it to {main} at a rate you choose, and say so in the note; "
                "one case has one currency.",
            )


def currencies_of(data: Any, path: str = "") -> Iterator[tuple[str, str]]:
    """Every currency named in plain data: (path, code); the one at the top has path ``""``."""
    if isinstance(data, Mapping):
        for key, value in data.items():
            here = f"{path}.{key}" if path else str(key)
            if key == "currency" and isinstance(value, str):
                yield (here if path else "", value)
            else:
                yield from currencies_of(value, here)
    elif isinstance(data, (list, tuple)):
        for place, value in enumerate(data):
            yield from currencies_of(value, f"{path}.{place}")
