"""What a row of the fit check asks for: a small form for the values that it misses."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache
from typing import Any

from beadworth.core import from_mapping, to_mapping
from beadworth.rig import Rig
from beadworth.text import slug
from beadworth.web.fields_records import RIG
from beadworth.web.forms import Field, Form, Group, collect, fields, laid_over
from beadworth.web.record_fields import fields_of
from beadworth.workflow import Bench, Check, FitInputs

AS_BEFORE = ("axes.", "electrics.", "room.", "motion.", "extruder.set_current")
"""Where an upgrade usually leaves things as they were, so that one value holds for both rigs."""


Refused = tuple[Form, bool]
"""A form that was sent back, and whether what stands in it is only odd."""


@dataclass(frozen=True)
class Ask:
    """A form in a row: whose values it asks for."""

    key: str
    """Of the row and the rig; the row of what is asked has none."""
    rig: str
    """Empty where it is the job that lacks something."""
    fields: tuple[Field, ...]
    elsewhere: tuple[str, ...]
    """Paths that are lists and have a page of their own."""
    also: str
    """The other rig that lacks the same; empty where it does not."""
    as_before: bool
    """Whether the value is usually the same on both."""
    form: Form
    odd: bool
    """Whether what is wrong is only odd, and may be confirmed."""


@cache
def _rig_fields() -> Mapping[str, Field]:
    """Every field of a rig that is one value, in the words of the rig's form where it has them."""
    own = {field.path: field for field in fields(RIG)}
    return {field.path: own.get(field.path, field) for _, field in fields_of(Rig, ())}


def asks_of(
    check: Check, rigs: tuple[Rig, Rig], job: Sequence[Group], wrong: Mapping[str, Refused]
) -> tuple[Ask, ...]:
    """The forms of a check's row; ``wrong``: those that were refused, by key."""
    before, after = (rig.name for rig in rigs)
    found = []
    for place, name in enumerate(dict.fromkeys(name for name, _ in check.missing)):
        paths = [path for rig, path in check.missing if rig == name]
        # what a fit check is asked stands in its own form
        known = _rig_fields() if name else {field.path: field for field in fields(job)}
        own = tuple(
            replace(known[path], required=False, wanted="") for path in paths if path in known
        )
        elsewhere = tuple(path for path in paths if path not in known)
        also = before if name == after != before and own else ""
        key = f"{slug(check.name)}-{place}"
        same = all(path.startswith(AS_BEFORE) for path in paths)
        form, odd = wrong.get(key, (Form({}), False))
        found.append(Ask(key, name, own, elsewhere, also, same, form, odd))
    return tuple(found)


def record_values(bench: Bench, names: Sequence[str], groups: Sequence[Group],
                  typed: Mapping[str, str]) -> list[Rig]:  # fmt: skip
    """The rigs with what a row asked for, nothing stored yet; what is empty stays as it was.

    Raises
    ------
    RecordError
        Values a rig cannot have.
    """
    given: dict[str, Any] = collect(groups, typed)
    filled = [
        Group("", "", tuple(f for f in group.fields if typed.get(f.path))) for group in groups
    ]
    return [
        from_mapping(Rig, laid_over(to_mapping(bench.rig(name)), filled, given), f"rig {name}")
        for name in names
    ]


def group_of(paths: Sequence[str]) -> tuple[Group, ...]:
    """The form of some paths; those that no rig has are left out."""
    known = _rig_fields()
    return (Group("", "", tuple(known[path] for path in paths if path in known)),)


def job_query(inputs: Mapping[str, str]) -> dict[str, str]:
    """What a fit check was asked, for the address it comes back to."""
    return {name: inputs[name] for name in FitInputs.model_fields if inputs.get(name)}
