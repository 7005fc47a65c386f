"""The form of a worth case: estimates as value and limits, the bench's prints with how often."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from beadworth.core import MISSING, Problem
from beadworth.store import StoredPrint
from beadworth.text import decimal


@dataclass(frozen=True)
class Entry:
    """One estimate of the form, named by its path in the case."""

    path: str
    label: str
    unit: str
    help: str = ""


@dataclass(frozen=True)
class Group:
    """Estimates under one heading."""

    title: str
    intro: str
    entries: tuple[Entry, ...]
    folded: bool = False


GROUPS = (
    Group(
        "What it costs",
        "Leave out what is nothing. The parts' price stands in the rig record where you leave it.",
        (
            Entry("cost.parts", "Parts", "money"),
            Entry("cost.brackets", "Printed brackets", "money"),
            Entry("cost.tools", "Tools", "money"),
            Entry("cost.fitting_hours", "Fitting and tuning", "h"),
            Entry("cost.fitting_hour", "An hour of your fitting", "money/h"),
            Entry("cost.resale", "Resale of what comes off", "money"),
        ),
    ),
    Group(
        "What an hour is worth to you",
        "Never assumed. Left out, there is no break-even: only the worth an hour would need.",
        (
            Entry("time.printer_hour", "An hour of printer time", "money/h"),
            Entry("time.waiting_hour", "An hour of waiting", "money/h"),
            Entry("time.waiting_share", "Share of hours somebody waits", "0 to 1"),
        ),
    ),
    Group(
        "Energy, filament, failed prints",
        "Only as far as you know your own.",
        (
            Entry("running.energy_kwh", "Electricity", "money/kWh"),
            Entry("running.power_w", "Mean power while printing", "W"),
            Entry("running.candidate_power_w", "The same, upgraded", "W"),
            Entry("running.filament_kg", "Filament", "money/kg"),
            Entry("running.failed", "Share of prints that fail", "0 to 1"),
            Entry("running.candidate_failed", "The same, upgraded", "0 to 1"),
        ),
        folded=True,
    ),
)
ENTRIES = tuple(entry for group in GROUPS for entry in group.entries)
PLAIN = ("name", "baseline", "candidate", "trial", "currency", "months", "feeds")
LABELS = {
    "baseline": "Rig as it is",
    "candidate": "Upgraded rig",
    "trial": "Ceilings measured in",
    "currency": "Currency",
    "months": "It should pay within",
    "name": "Name of the case",
    **{entry.path: entry.label for entry in ENTRIES},
}
"""What the form calls each field of a case."""
PARTS = (("", "value"), (".low", "low"), (".high", "high"))
PRINT = "per_year."


def typed_of(form: Mapping[str, Any], prints: Sequence[StoredPrint]) -> dict[str, str]:
    """Everything the form can hold, as typed."""
    names = [*PLAIN, *(entry.path for entry in ENTRIES), *(PRINT + p.id for p in prints)]
    paths = [name + tail for name in names for tail, _ in PARTS]
    return {path: str(form.get(path, "")).strip() for path in paths}


def path_of(problem: Problem) -> str:
    """The field of the form a problem names; empty where it names none."""
    found = re.search(r"(?:^|, )field ([\w.]+)", problem.where)
    path = found[1] if found else ""
    while path and path not in LABELS:
        path = path.rpartition(".")[0]
    return path


def in_form_words(problems: Sequence[Problem]) -> tuple[Problem, ...]:
    """The problems with the form's own names; a name is made of the rigs and not asked for."""
    said = []
    for problem in problems:
        path, missing = path_of(problem), problem.what == MISSING
        if missing and path == "name":
            continue
        told = replace(problem, where=LABELS.get(path, problem.where))
        how = "Choose one." if path in ("baseline", "candidate") else "Fill it in."
        said.append(replace(told, what="This is needed.", remedy=how) if missing else told)
    return tuple(said)


def case_data(typed: Mapping[str, str], prints: Sequence[StoredPrint]) -> dict[str, Any]:
    """What was typed as the plain data of a case; what is no number stays text."""
    data: dict[str, Any] = {name: typed[name] for name in PLAIN if typed[name] and name != "months"}
    if typed["months"]:
        months = decimal(typed["months"])
        data["months"] = typed["months"] if months is None else months
    if not data.get("name") and data.get("baseline") and data.get("candidate"):
        data["name"] = f"{data['candidate']} against {data['baseline']}"
    for entry in ENTRIES:
        known = estimate(typed, entry.path)
        if known is not None:
            table, _, field = entry.path.partition(".")
            data.setdefault(table, {})[field] = known
    names = [stored.name for stored in prints]
    data["prints"] = [
        {
            "print": stored.id,
            "name": stored.name
            if names.count(stored.name) == 1
            else f"{stored.name} ({stored.id[:6]})",
            "per_year": known,
        }
        for stored in prints
        if (known := estimate(typed, PRINT + stored.id)) is not None
    ]
    return data


def estimate(typed: Mapping[str, str], path: str) -> Any:
    """A value, limits, or both, as a case writes them; None where nothing was typed."""
    given = {}
    for tail, name in PARTS:
        text = typed.get(path + tail, "")
        if text:
            value = decimal(text)
            if value is None:
                return text  # the record's own rules say what is wrong with it
            given[name] = value
    if not given:
        return None
    return given["value"] if list(given) == ["value"] else given
