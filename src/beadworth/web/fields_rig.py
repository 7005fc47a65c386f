"""The forms about a rig: what to predict, a melt-flow rate, a fit check, bring-up measurements."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from beadworth.web.forms import Field, Group
from beadworth.web.record_fields import pick
from beadworth.workflow import (
    BRING_UP_INPUTS,
    NO_RIG,
    FitInputs,
    FlowRateInputs,
    PredictionInputs,
    material_names,
    trials_of_rigs,
)

if TYPE_CHECKING:
    from beadworth.store import Bench

FLOW_RATE = (
    Group(
        "",
        "",
        tuple(
            replace(field, label="Melt-flow rate", unit="g/10 min")
            if field.path == "mfr"
            else field
            for field in pick(FlowRateInputs)
        ),
    ),
)
EXAMPLES = {
    "readings": "33 33.1\n78 78.2\n124 124.4",
    "marks": "100 97.6\n100 97.2\n100 97.9",
    "masses": "100 0.288\n100 0.290\n100 0.287",
}


def rig_field(field: Field, names: Sequence[str], empty: str = "") -> Field:
    """A field as a choice of rigs."""
    return replace(field, kind="choice", choices=_named(names), empty=empty)


def material_field(field: Field, bench: Bench, empty: str = "") -> Field:
    """A field as a choice of materials, by where they stand."""
    headed = tuple((title, _named(names)) for title, names in material_names(bench).items())
    return replace(field, kind="choice", headed=headed, empty=empty)


def _named(names: Sequence[str]) -> tuple[tuple[str, str], ...]:
    return tuple((name, name) for name in names)


def prediction_groups(bench: Bench, rig: str, other: str) -> tuple[Group, ...]:
    """What the melt model is asked about a rig, and one beside it."""
    names = [known.name for known in bench.rigs()]
    trials = trials_of_rigs(bench, [name for name in (rig, other) if name != NO_RIG])
    own, beside, material, temperature, trial = pick(PredictionInputs)
    beside = rig_field(beside, [name for name in names if name != rig])
    help_ = (
        "Its ceilings set the two effective unknowns, and are drawn over the prediction."
        if trials
        else "No trial on this bench has weighed these rigs yet."
    )
    fields = (
        rig_field(own, names),
        replace(beside, choices=((NO_RIG, "nothing"), *beside.choices)),
        material_field(material, bench),
        temperature,
        replace(trial, kind="choice", choices=tuple(trials), help=help_,
                empty="none: from drawing and handbook alone"),
    )  # fmt: skip
    return (Group("", "", fields),)


def fit_groups(bench: Bench) -> tuple[Group, ...]:
    """Two rigs of the bench, and what is to be printed."""
    names = [known.name for known in bench.rigs()]
    before, after, material, *job = pick(FitInputs)
    fields = (
        rig_field(before, names, "choose"),
        replace(rig_field(after, names, "none: check it as it stands"),
                help="Or name only what changes, below."),
        material_field(material, bench, "not stated"),
        *job,
    )  # fmt: skip
    return (Group("", "", fields),)


def _bring_up_groups() -> dict[str, tuple[Group, ...]]:
    made: dict[str, tuple[Group, ...]] = {}
    for kind, inputs in BRING_UP_INPUTS.items():
        fields = tuple(replace(f, example=EXAMPLES.get(f.path, ""), empty="") for f in pick(inputs))
        made[kind] = (Group("", "", fields),)
        if kind == "feed":
            made[kind] = (
                Group("", "", fields[:2]),
                Group("Uncertainties, diameter and density", "", fields[2:], folded=True),
            )
    return made


BRING_UP = _bring_up_groups()
"""The form of each measurement."""
