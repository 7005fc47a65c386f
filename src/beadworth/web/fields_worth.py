"""The forms of a worth case: a new one, weights and profiles to try, an option to hold against."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
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
        folded=True,
    ),
    Group(
        "What an hour is worth to you, with its limits",
        "Instead of the one figure above.",
        (
            _estimate("time.printer_hour", "An hour of printer time", "money/h"),
            _estimate("time.waiting_hour", "An hour of waiting", "money/h"),
            _estimate("time.waiting_share", "Share of hours somebody waits", "0 to 1"),
        ),
        folded=True,
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


NEWEST = "newest"
"""Ceilings from the newest trial that weighed both rigs, or of each its own newest."""
MOST_PRINTS = 40
"""Prints that the form of a case has fields for: those given last."""


def case_groups(
    pairs: Sequence[tuple[str, str]],
    rigs: Sequence[str],
    trials: Sequence[tuple[str, str]],
    prints: Sequence[StoredPrint],
    materials: Mapping[str, Sequence[str]],
) -> tuple[Group, ...]:
    """The form of a new case over what is on the bench: three questions, the rest folded.

    ``pairs``: upgrades as the rig after and the one before.
    """
    names = tuple((name, name) for name in rigs)
    choice = partial(Field, kind="choice")
    upgrades = tuple((after, f"{after}, from {before}") for after, before in pairs)
    three = Group(
        "Three questions",
        "Hours saved and money follow from these, your prints and what was weighed. Everything "
        "below may stay as it is.",
        (
            choice("upgrade", "Which upgrade?", choices=upgrades, empty="none of these: two rigs, "
                   "below", wanted="needed"),
            Field("prints_a_year", "How many prints a year, all together?", "a year",
                  "Spread evenly over the prints on the bench, unless you count them one by one "
                  "below.", wanted="needed"),
            Field("hour", "What is an hour of printer time worth to you?", "money/h",
                  "Never assumed. Left empty, there is no break-even: only the worth an hour "
                  "would need."),
        ),
    )  # fmt: skip
    about = Group(
        "Two rigs, ceilings, material, feeds, months, name",
        "",
        (
            choice("baseline", "Rig as it is", choices=names, empty="as the upgrade says"),
            choice("candidate", "Upgraded rig", choices=names, empty="as the upgrade says"),
            choice("trial", "Ceilings measured in",
                   choices=((NEWEST, "the newest that weighed them"), *trials),
                   start=NEWEST, empty="no trial: predicted from the drawings",
                   help="A rig that was not weighed uses the ceilings of one with the same hot "
                   "end and drive, else those predicted from its drawing."),
            choice("candidate_trial", "The upgraded rig's own, where it was weighed in another",
                   choices=tuple(trials), empty="the same"),
            choice("material", "Material of the prints",
                   headed=tuple((title, tuple((name, name) for name in known))
                                for title, known in materials.items()),
                   empty="as weighed, else the one used last"),
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
        folded=True,
    )  # fmt: skip
    if not prints:
        return (three, about, *COSTS)
    often = Group(
        "Your prints, one by one",
        "How many of each in a year: a best estimate, or the lowest and highest it can be, or "
        "both. What is left empty is not counted."
        + (f" These are the {MOST_PRINTS} given last." if len(prints) == MOST_PRINTS else ""),
        tuple(
            _estimate(
                f"per_year.{stored.id}", stored.name, "a year",
                duration(stored.last["time_s"]) if stored.last else "",
            )
            for stored in prints
        ),
        folded=True,
    )  # fmt: skip
    return (three, often, about, *COSTS)


def asked_for(pairs: Sequence[tuple[str, str]], query: Mapping[str, str]) -> dict[str, str]:
    """What an address names, as the form takes it: two rigs that are an upgrade are that."""
    named = dict(query)
    pair = (named.get("candidate", ""), named.get("baseline", ""))
    if pair in pairs:
        del named["candidate"], named["baseline"]
        named["upgrade"] = pair[0]
    elif pair == ("", "") and len(pairs) == 1:
        named.setdefault("upgrade", pairs[0][0])
    return named


def case_data(
    groups: Sequence[Group],
    typed: dict[str, str],
    prints: Sequence[StoredPrint],
    pairs: Sequence[tuple[str, str]],
) -> tuple[dict[str, Any], dict[str, str]]:
    """What was typed as the plain data of a case, and where its parts stand in the form."""
    data = collect(groups, typed)
    moved: dict[str, str] = {}
    after, total, hour = (data.pop(name, None) for name in ("upgrade", "prints_a_year", "hour"))
    if after and not (data.get("baseline") or data.get("candidate")):
        data |= {"candidate": after, "baseline": dict(pairs).get(after, "")}
    if not (data.get("baseline") or data.get("candidate")):
        moved |= {"baseline": "upgrade", "candidate": "upgrade"}
    if hour is not None and "printer_hour" not in data.get("time", {}):
        data["time"] = data.get("time", {}) | {"printer_hour": hour}
        moved["time.printer_hour"] = "hour"
    if not data.get("name") and data.get("baseline") and data.get("candidate"):
        data["name"] = f"{data['candidate']} against {data['baseline']}"
    often = data.pop("per_year", {})
    if not often and total is not None and prints:
        share = round(total / len(prints), 6) if isinstance(total, (int, float)) else total
        often = dict.fromkeys((stored.id for stored in prints), share)
        if len(prints) > 1:
            data["note"] = (
                f"{typed['prints_a_year']} prints a year, spread evenly over the {len(prints)} "
                + ("given last." if len(prints) == MOST_PRINTS else "on the bench.")
            )
        moved |= {f"prints.{n}.per_year": "prints_a_year" for n in range(len(prints))}
    material = data.pop("material", None)
    of = {"material": material} if material else {}
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
        | of
        for stored in counted
    ]
    one_by_one = {f"prints.{n}.per_year": f"per_year.{p.id}" for n, p in enumerate(counted)}
    return data, {"prints": "prints_a_year", **one_by_one, **moved}


def try_groups(case: WorthCase, table: Table) -> tuple[Group, ...]:
    """Weights and scales of the criteria; hours, worth and months of the profiles; as they are."""
    weights = tuple(
        Field(
            f"weight.{c.name}", f"weight of {c.name}", start=f"{c.weight:g}",
            names=("weight", c.name), help="less is better" if c.better == "less" else "",
        )
        for c in table.criteria
    )  # fmt: skip
    scales = tuple(
        Field(
            f"scale.{c.name}.{end}", f"{c.name} that counts {counts}",
            c.unit or (case.currency or "" if c.name == COST else ""),
            start="" if value is None else f"{value:g}", names=("scale", c.name, end),
        )
        for c in table.criteria
        for end, counts, value in (("worst", "0", c.worst), ("best", "1", c.best))
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
    return (
        Group("Weights", "", weights),
        Group("Who it is for", "", tuple(profiles)),
        Group("Scales", "", scales),
    )


def tried_data(
    groups: Sequence[Group], typed: dict[str, str], sent: Collection[str]
) -> dict[str, Any]:
    """Weights, scales and profiles as typed; those nobody sent are left out."""
    tried = [
        replace(group, fields=tuple(f for f in group.fields if _sent_with(f, sent)))
        for group in groups
    ]
    data = collect(tried, typed)
    for field in (f for group in tried for f in group.fields if f.names[:1] == ("scale",)):
        data.setdefault("scale", {}).setdefault(field.names[1], {})  # emptied: taken back
    return data


def _sent_with(field: Field, sent: Collection[str]) -> bool:
    """Whether a field was sent; of a profile or a scale all count as sent with one of them."""
    head, _, _ = field.path.rpartition(".")
    return field.path in sent or (
        head.startswith(("profile.", "scale."))
        and any(name.startswith(f"{head}.") for name in sent)
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
