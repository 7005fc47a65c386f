"""Who it is for: the same prints, rigs and cost, with another person's hours and weights."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from beadworth.core import flat
from beadworth.text import capital, join_words
from beadworth.worth.buys import what_it_buys
from beadworth.worth.case import PrintUse, Profile, WorthCase
from beadworth.worth.estimate import Estimate
from beadworth.worth.model import WEEKS_PER_YEAR, WorthRequest
from beadworth.worth.options import COST, HOURS
from beadworth.worth.result import Worth

BATCHES = 12

USUAL: tuple[Profile, ...] = (
    Profile(
        name="occasional",
        who="Prints a part now and then; the printer mostly stands still.",
        hours_per_week=Estimate(value=4.0, low=1.0, high=8.0),
        weights={COST: 3.0, HOURS: 1.0},
    ),
    Profile(
        name="busy",
        who="The printer runs most evenings and whole weekends.",
        hours_per_week=Estimate(value=30.0, low=20.0, high=45.0),
        weights={COST: 1.0, HOURS: 2.0},
    ),
    Profile(
        name="high-temperature",
        who="Prints engineering filament that needs a hot nozzle and low speeds.",
        hours_per_week=Estimate(value=10.0, low=4.0, high=18.0),
        weights={COST: 1.0, HOURS: 1.0, "top temperature": 4.0},
    ),
    Profile(
        name="flexible filament",
        who="Prints soft parts; the drive's grip matters more than the melt.",
        hours_per_week=Estimate(value=8.0, low=3.0, high=15.0),
        weights={COST: 1.0, HOURS: 1.0, "soft filament": 4.0},
    ),
    Profile(
        name="small business",
        who="Sells prints; every printer hour can be filled.",
        hours_per_week=Estimate(value=70.0, low=50.0, high=100.0),
        weights={COST: 1.0, HOURS: 4.0},
    ),
)
"""Where to start from, all to be edited: common practice, no source. Nobody's hour has a worth
here: that is the user's to say."""


@dataclass(frozen=True)
class ForWhom:
    """A profile and what the upgrade is worth to it, in short: no prints, path or tornado."""

    profile: Profile
    worth: Worth = field(
        metadata=flat(
            "verdict", "verdict_words", "sentence", "hours_saved_per_year", "cost", "net", "months",
            "break_even_prints", "break_even_months", "break_even_words", "pays_share",
        )
    )  # fmt: skip
    first_option: str = ""
    """Which option comes first under this profile's weights."""


def profiles_of(case: WorthCase) -> tuple[Profile, ...]:
    """The case's own profiles, else the usual ones with the weights this case knows."""
    if case.profiles:
        return case.profiles
    known = {c.name for c in case.criteria} | {COST, HOURS}
    return tuple(
        profile.model_copy(
            update={"weights": {n: w for n, w in profile.weights.items() if n in known}}
        )
        for profile in USUAL
    )


def for_whom(asked: WorthRequest) -> tuple[ForWhom, ...]:
    """What the upgrade is worth to each profile."""
    return tuple(
        ForWhom(profile, what_it_buys(as_profile(asked, profile), most_batches=BATCHES, short=True))
        for profile in profiles_of(asked.case)
    )


def as_profile(asked: WorthRequest, profile: Profile) -> WorthRequest:
    """The case as it would be for somebody else.

    Prints per year follow from the hours of printing a week on the rig as it is, in the
    profile's mix of prints.
    """
    case = asked.case
    pairs = [
        (use, times)
        for use, times in zip(case.prints, asked.prints, strict=True)
        if not profile.mix or use.called in profile.mix
    ]
    parts = {
        use.called: profile.mix.get(use.called, 0.0) or use.per_year.middle for use, _ in pairs
    }
    tries = _tries(case)
    hours = sum(parts[u.called] * t.baseline.time_s / 3600.0 for u, t in pairs) * tries
    a_week = WEEKS_PER_YEAR / hours  # of the mix, to print for one hour a week
    uses = tuple(_counted(use, parts[use.called] * a_week) for use, _ in pairs)
    cost = case.cost
    if profile.fitting_hour is not None:
        cost = cost.model_copy(update={"fitting_hour": profile.fitting_hour})
    changed = case.model_copy(
        update={
            "name": f"{case.name}: {profile.name}",
            "prints": uses,
            "cost": cost,
            "time": profile.time or case.time,
            "months": profile.months or case.months,
        }
    )
    return replace(
        asked,
        case=changed,
        prints=tuple(times for _, times in pairs),
        amount=profile.hours_per_week,
        amount_label="hours of printing a week",
    )


def _tries(case: WorthCase) -> float:
    """Printer hours per hour of good print: failed attempts and the stopwatch."""
    run = case.running
    at = (run.failed_at or Estimate(low=0.0, high=1.0)).middle
    failed = run.failed.middle if run.failed else 0.0
    return case.stopwatch.middle * (1.0 + failed / (1.0 - failed) * at)


def _counted(use: PrintUse, per_year: float) -> PrintUse:
    return use.model_copy(
        update={"name": use.called, "per_year": Estimate.model_construct(value=per_year)}
    )


WHOM_WORDS = {
    "worth it": "worth it for {}",
    "probably worth it": "probably worth it for {}",
    "not worth it": "not for {}",
    "probably not worth it": "probably not for {}",
    "cannot tell": "not known for {}",
    "no rate": "{} would have to say what an hour is worth",
}


def whom_sentence(found: Sequence[ForWhom]) -> str:
    """For whom it pays, in one sentence."""
    groups: dict[str, list[str]] = {}
    for item in found:
        _, _, share = item.worth.verdict_label.partition(" (")
        name = f"{item.profile.name} ({share}" if share else item.profile.name
        groups.setdefault(item.worth.verdict, []).append(name)
    text = "; ".join(
        words.format(join_words(groups[verdict]))
        for verdict, words in WHOM_WORDS.items()
        if verdict in groups
    )
    return f"{capital(text)}."
