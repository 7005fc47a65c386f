"""The forms of a worth case: a new one, weights and profiles to try, an option to hold against."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import replace
from functools import partial
from typing import TYPE_CHECKING, Any

from beadworth.text import duration
from beadworth.web.forms import Field, Group, collect
from beadworth.web.record_fields import pick
from beadworth.workflow import COST, GRADES, ProfileInputs, profile_inputs

if TYPE_CHECKING:
    from beadworth.store import StoredPrint
    from beadworth.worth import Criterion, Table, WorthCase

_estimate = partial(Field, kind="estimate")
COSTS = (
    Group(
        "What it costs",
        "Leave out what costs nothing. Left empty, the parts' price is that of the rig record.",
        (
            _estimate("cost.parts", "Parts", "money"),
            _estimate("cost.brackets", "Printed brackets", "money"),
            _estimate("cost.tools", "Tools", "money"),
            _estimate("cost.fitting_hours", "Fitting and tuning", "h"),
            _estimate("cost.fitting_hour", "An hour of your fitting", "money/h"),
            _estimate("cost.resale", "Resale of what comes off", "money"),
        ),
    ),
    Group(
        "What an hour is worth to you",
        "Never assumed. Left out, there is no break-even: only the worth an hour would need.",
        (
            _estimate("time.printer_hour", "An hour of printer time", "money/h"),
            _estimate("time.waiting_hour", "An hour of waiting", "money/h"),
            _estimate("time.waiting_share", "Share of hours somebody waits", "0 to 1"),
        ),
    ),
    Group(
        "Energy, filament, failed prints",
        "Only as far as you know your own.",
        (
            _estimate("running.energy_kwh", "Electricity", "money/kWh"),
            _estimate("running.power_w", "Mean power while printing", "W"),
            _estimate("running.candidate_power_w", "The same, upgraded", "W"),
            _estimate("running.filament_kg", "Filament", "money/kg"),
            _estimate("running.failed", "Share of prints that fail", "0 to 1"),
            _estimate("running.candidate_failed", "The same, upgraded", "0 to 1"),
        ),
        folded=True,
    ),
)


def case_groups(
    rigs: Sequence[str], trials: Sequence[tuple[str, str]], prints: Sequence[StoredPrint]
) -> tuple[Group, ...]:
    """The form of a new case over what is on the bench."""
    names = tuple((name, name) for name in rigs)
    choice = partial(Field, kind="choice")
    about = Group(
        "Which upgrade",
        "",
        (
            choice("baseline", "Rig as it is", choices=names, required=True),
            choice("candidate", "Upgraded rig", choices=names, required=True),
            choice("trial", "Ceilings measured in", choices=tuple(trials),
                   empty="no trial: motion only",
                   help="A rig that was not weighed may use the ceilings of one with the same hot "
                   "end and drive."),
            choice("feeds", "Feeds", empty="", start="as written",
                   choices=(("as written", "as the files have them"),
                            ("raised", "raised to the ceiling")),
                   help="Raised: you would slice again, as fast as ceiling and motion allow, on "
                   "both rigs."),
            Field("months", "It should pay within", "months", start="24"),
            Field("discount_percent", "Money a year later counts less by", "%",
                  "Left out: nothing is taken off."),
            Field("currency", "Currency", kind="text",
                  help="Three letters, such as EUR; left out, that of the upgraded rig's price."),
            Field("name", "Name of the case", kind="text", example="left out: the two rigs"),
        ),
    )  # fmt: skip
    if not prints:
        return (about, *COSTS)
    often = Group(
        "Your prints, and how many of each in a year",
        "Type a best estimate, or the lowest and highest it can be, or both. What is left empty "
        "is not counted.",
        tuple(
            _estimate(
                f"per_year.{stored.id}", stored.name, "a year",
                duration(stored.last["time_s"]) if stored.last else "",
            )
            for stored in prints
        ),
    )  # fmt: skip
    return (about, often, *COSTS)


def case_data(
    groups: Sequence[Group], typed: dict[str, str], prints: Sequence[StoredPrint]
) -> tuple[dict[str, Any], dict[str, str]]:
    """What was typed as the plain data of a case, and where its prints stand in the form."""
    data = collect(groups, typed)
    if not data.get("name") and data.get("baseline") and data.get("candidate"):
        data["name"] = f"{data['candidate']} against {data['baseline']}"
    often = data.pop("per_year", {})
    counted = [stored for stored in prints if stored.id in often]
    names = [stored.name for stored in prints]
    data["prints"] = [
        {
            "print": stored.id,
            "name": stored.name
            if names.count(stored.name) == 1
            else f"{stored.name} ({stored.id[:6]})",
            "per_year": often[stored.id],
        }
        for stored in counted
    ]
    moved = {f"prints.{n}.per_year": f"per_year.{stored.id}" for n, stored in enumerate(counted)}
    return data, moved


def try_groups(case: WorthCase, table: Table) -> tuple[Group, ...]:
    """Weights of the criteria and hours, worth and months of the profiles, as they are."""
    weights = tuple(
        Field(
            f"weight.{c.name}", f"weight of {c.name}", start=f"{c.weight:g}",
            names=("weight", c.name), help="less is better" if c.better == "less" else "",
        )
        for c in table.criteria
    )  # fmt: skip
    own = case.time.printer_hour
    usual = {"hour": f"{own.middle:g}" if own else "", "months": f"{case.months:g}"}
    profiles = []
    for n, (name, now) in enumerate(profile_inputs(case)):
        for cell in pick(ProfileInputs):
            value = getattr(now, cell.path)
            profiles.append(
                replace(
                    cell,
                    path=f"profile.{n}.{cell.path}",
                    label=f"{name}: {cell.label.lower()}",
                    start="" if value is None else f"{value:.10g}",
                    example=usual.get(cell.path, ""),
                )
            )
    return (Group("Weights", "", weights), Group("Who it is for", "", tuple(profiles)))


def tried_data(
    groups: Sequence[Group], typed: dict[str, str], sent: Collection[str]
) -> dict[str, Any]:
    """Weights and profiles as typed; those nobody sent are left out."""
    tried = [
        replace(group, fields=tuple(f for f in group.fields if _sent_with(f, sent)))
        for group in groups
    ]
    return collect(tried, typed)


def _sent_with(field: Field, sent: Collection[str]) -> bool:
    """Whether a field was sent; of a profile all three count as sent with one of them."""
    head, _, _ = field.path.rpartition(".")
    return field.path in sent or (
        head.startswith("profile.") and any(name.startswith(f"{head}.") for name in sent)
    )


def option_groups(criteria: Sequence[Criterion], currency: str) -> tuple[Group, ...]:
    """An option, and its effect on each criterion but cost."""
    grades = tuple((grade, grade) for grade in GRADES)
    about = Group(
        "",
        "",
        (
            Field("name", "What it is", kind="text", example="another guide system"),
            Field("what", "What would be done", kind="text"),
            Field("cost", "Cost, all of it", currency),
            Field("evidence", "How good the evidence is", kind="choice", choices=grades, empty="",
                  start="claimed"),
        ),
    )  # fmt: skip
    effects = tuple(
        _estimate(
            f"effects.{c.name}", f"{c.name}, change against the rig as it is", c.unit,
            names=("effects", c.name),
        )
        for c in criteria if c.name != COST
    )  # fmt: skip
    return (about, Group("", "", effects))


def option_data(groups: Sequence[Group], typed: dict[str, str]) -> dict[str, Any]:
    """An option as typed; effects left empty are unknown."""
    data: dict[str, Any] = {"name": "", "cost": ""} | collect(groups, typed)
    evidence = data.pop("evidence", "")
    data["effects"] = {
        name: {**(known if isinstance(known, dict) else {"value": known}), "evidence": evidence}
        for name, known in data.get("effects", {}).items()
    }
    return data
