"""Worth cases replayed off the bench, and changed without a replay: tried or stored."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, Annotated, Any

from pydantic import Field

from beadworth.core import Record, to_mapping
from beadworth.workflow.worth import store_worth, worth_answer
from beadworth.worth import (
    COST,
    GRADES,
    HOURS,
    REPLAYS,
    USUAL,
    Money,
    Profile,
    Sources,
    WorthCase,
    ask,
    case_from_mapping,
    case_from_toml,
    figures,
    limit_words,
    money,
    option_effect,
    outcome_words,
    profiles_of,
    reused,
    whom_sentence,
    with_interval,
    work_out,
)

if TYPE_CHECKING:
    from beadworth.store import Bench
    from beadworth.workflow.worth import StoredWorth
    from beadworth.worth import Answer, WorthRequest


__all__ = [
    "COST",
    "GRADES",
    "HOURS",
    "REPLAYS",
    "USUAL",
    "ProfileInputs",
    "Sources",
    "TriedInputs",
    "case_from_mapping",
    "case_from_toml",
    "changed_worth",
    "differs",
    "figures",
    "limit_words",
    "measured_in",
    "money",
    "option_effect",
    "outcome_words",
    "profile_inputs",
    "replay_case",
    "rig_pairs",
    "store_changed",
    "tried_case",
    "usual_material",
    "whom_sentence",
    "with_interval",
    "with_option",
    "without_option",
]


class ProfileInputs(Record):
    """What may be tried of one profile; None takes away what it says of its own."""

    hours: float = Field(ge=0.01, le=168, description="hours of printing a week")
    hour: float | None = Field(None, ge=0, le=1e6, description="worth of a printer hour")
    months: float | None = Field(None, ge=0.1, le=240, description="months in which it should pay")


class ScaleInputs(Record):
    """What counts as worst and as best of one criterion; neither: no scale."""

    worst: float | None = Field(None, ge=-1e9, le=1e9, description="value that counts 0")
    best: float | None = Field(None, ge=-1e9, le=1e9, description="value that counts 1")


class TriedInputs(Record):
    """Weights and scales by criterion, and profiles by their place in the case."""

    weight: dict[str, Annotated[float, Field(gt=0, le=1e6)]] = Field(
        {}, description="weight of a criterion, above 0"
    )
    scale: dict[str, ScaleInputs] = Field({}, description="worst and best of a criterion")
    profile: dict[str, ProfileInputs] = Field({}, description="profile")


def rig_pairs(bench: Bench) -> list[tuple[str, str]]:
    """Upgrades on the bench, as the rig after and the one before, by name."""
    rigs = bench.records()[0]
    return [(rig.name, rig.parent) for rig in rigs.values() if rig.parent in rigs]


def measured_in(bench: Bench, before: str | None, after: str | None) -> dict[str, str | None]:
    """Which trials hold the ceilings of two rigs: ``trial``, and ``candidate_trial`` if another.

    The newest that weighed both; else the newest of each; else that of the one that was weighed:
    it holds for the other where hot end and drive are the same, and helps to predict it where
    they are not. Else none.
    """
    weighed = [(trial.id, set(trial.weighed)) for trial in bench.outlines()]
    both = next((trial for trial, names in weighed if {before, after} <= names), None)
    first = next((trial for trial, names in weighed if before in names), None)
    second = next((trial for trial, names in weighed if after in names), None)
    if both or (first and second):
        return {"trial": both or first, "candidate_trial": None if both else second}
    either = (first or second) if before and after else None
    return {"trial": either, "candidate_trial": None}


def usual_material(bench: Bench) -> str | None:
    """What the prints of a bench are made of, as far as it shows: the material weighed last, else
    the only one on it.
    """
    newest = next((trial.id for trial in bench.outlines() if trial.fitted), None)
    if newest is not None:
        return bench.snapshot(newest).fitted[-1].material
    materials = list(bench.records()[1])
    return materials[0] if len(materials) == 1 else None


def profile_inputs(case: WorthCase) -> tuple[tuple[str, ProfileInputs], ...]:
    """Each profile of a case by name, with what it says now."""
    return tuple(
        (
            profile.name,
            ProfileInputs(
                hours=profile.hours_per_week.middle,
                hour=profile.time.printer_hour.middle
                if profile.time and profile.time.printer_hour
                else None,
                months=profile.months,
            ),
        )
        for profile in profiles_of(case)
    )


def tried_case(case: WorthCase, tried: TriedInputs) -> WorthCase:
    """A case with other weights, scales and profiles; what was not tried stays as it is."""
    data = to_mapping(case)
    criteria = [*data.get("criteria", [])]
    there = {item["name"] for item in criteria}
    usual = {COST: {"better": "less"}, HOURS: {"unit": "h/year"}}
    criteria += [
        {"name": name, **more}
        for name, more in usual.items()
        if (name in tried.weight or name in tried.scale) and name not in there
    ]
    for item in criteria:
        item["weight"] = tried.weight.get(item["name"], item.get("weight", 1.0))
        if item["name"] in tried.scale:
            item.update(worst=None, best=None)
            item.update(to_mapping(tried.scale[item["name"]]))
    data["criteria"] = criteria
    if tried.profile:
        data["profiles"] = [
            _tried_profile(profile, tried.profile[str(n)])
            if str(n) in tried.profile
            else to_mapping(profile)
            for n, profile in enumerate(profiles_of(case))
        ]
    return case_from_mapping(data, case.name)


def _tried_profile(profile: Profile, tried: ProfileInputs) -> dict[str, Any]:
    data = to_mapping(profile)
    data["hours_per_week"] = _moved(data["hours_per_week"], tried.hours)
    time = dict(data.get("time") or {})
    if tried.hour is not None:
        hour = time.get("printer_hour") or {"value": tried.hour}
        data["time"] = {**time, "printer_hour": _moved(hour, tried.hour)}
    elif "printer_hour" in time:
        del data["time"]
    data.pop("months", None)
    return data if tried.months is None else {**data, "months": tried.months}


def _moved(known: dict[str, Any], value: float) -> dict[str, Any]:
    """An estimate with another middle and its spread in proportion; the same where it is as was."""
    before = Money(**known)
    if abs(before.middle - value) <= 1e-9 * max(1.0, abs(value)):
        return known
    if before.exact or before.middle <= 0:
        return {"value": value}
    return to_mapping(before.scaled(value / before.middle))


def differs(case: WorthCase, other: WorthCase) -> bool:
    """Whether weights, scales or profiles are others; a weight nobody stated is 1."""
    stated = {c.name: (c.weight, c.worst, c.best) for c in other.criteria}
    moved = any(
        (c.weight, c.worst, c.best) != stated.get(c.name, (1.0, None, None)) for c in case.criteria
    )
    return moved or profiles_of(case) != profiles_of(other)


def changed_worth(stored: StoredWorth, case: WorthCase) -> WorthRequest | None:
    """A changed case with the times replayed before; None where they no longer hold."""
    return reused(case, stored.asked)


def store_changed(bench: Bench, stored: StoredWorth, case: WorthCase) -> bool:
    """Store a changed case; False, and nothing stored, where its prints must be replayed first."""
    inputs = changed_worth(stored, case)
    if inputs is None:
        return False
    store_worth(bench, inputs, worth_answer(inputs))
    return True


def with_option(case: WorthCase, option: Mapping[str, Any]) -> WorthCase:
    """The case with one more option.

    Raises
    ------
    RecordError
        What is wrong with it, under the path of the case's last option.
    """
    data = to_mapping(case)
    return case_from_mapping({**data, "options": [*data.get("options", []), option]}, "option")


def without_option(case: WorthCase, name: str) -> WorthCase:
    """The case without the option of a name."""
    data = to_mapping(case)
    left = [option for option in data.get("options", []) if option["name"] != name]
    return case_from_mapping({**data, "options": left}, "option")


def replay_case(
    case: WorthCase, sources: Sources, step: Callable[[], None] | None = None
) -> tuple[WorthRequest, Answer]:
    """Replay the prints of a worth case and calculate its answer; nothing is stored."""
    inputs = ask(case, sources, step)
    return inputs, work_out(inputs)
