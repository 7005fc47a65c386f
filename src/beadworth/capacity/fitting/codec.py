"""A fit as JSON and back; the shape of ``capacity fit --json`` and of a saved capacity."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

from beadworth.capacity.result import Ceiling, Delivery, Fit, GroupFit, Law
from beadworth.core import FitError, Place, Problem, RecordError, from_json, to_json

FORMAT = 1
_AGAIN = "Write one with: beadworth capacity fit FILE.csv --json > FIT.json"


@dataclass(frozen=True)
class FitDetails:
    """What a fit was made with, and every group of it."""

    format: int
    loss: float
    confidence: float
    notes: tuple[str, ...]
    groups: tuple[GroupFit, ...]


@dataclass(frozen=True)
class FitDocument:
    """A fit as it is printed, answered and saved."""

    ceilings: tuple[Ceiling, ...]
    delivery: tuple[Delivery, ...]
    """Per block, of every group."""
    law: tuple[Law, ...]
    """One per group that has one."""
    fit: FitDetails


def fit_document(fit: Fit) -> FitDocument:
    """The fit as it is written."""
    return FitDocument(
        fit.ceilings,
        tuple(one for group in fit.groups for one in group.delivery),
        tuple(group.law for group in fit.groups if group.law is not None),
        FitDetails(FORMAT, fit.loss, fit.confidence, fit.notes, fit.groups),
    )


def fit_to_json(fit: Fit) -> dict[str, Any]:
    """Plain data: ``ceilings``, ``delivery``, ``law`` (one per group that has one), ``fit``."""
    data: dict[str, Any] = to_json(fit_document(fit))
    return data


def fit_from_json(data: dict[str, Any]) -> Fit:
    """The fit written by :func:`fit_to_json`; keys beside its own are left alone.

    Raises
    ------
    FitError
        Not a saved fit, or one of a later format.
    """
    details = data.get("fit") if isinstance(data, dict) else None
    if not isinstance(details, dict):
        raise FitError(Problem("this is not a saved capacity.", Place("capacity file"),
                               remedy=_AGAIN))  # fmt: skip
    if details.get("format") != FORMAT:
        raise FitError(
            Problem(
                f"this capacity is of format {details.get('format')!r}; "
                f"this release reads {FORMAT}.",
                Place.of_field("capacity file", "fit.format"),
                details.get("format"),
                "Fit the readings again with this release.",
            )
        )
    known = {name: data[name] for name in ("ceilings", "delivery", "law", "fit") if name in data}
    try:
        saved = from_json(FitDocument, known, "capacity file")
    except RecordError as error:
        problems = (replace(one, remedy=f"{one.remedy} {_AGAIN}") for one in error.problems)
        raise FitError(list(problems)) from None
    laws = {(law.rig, law.material): law for law in saved.law}
    groups = tuple(
        replace(
            group,
            delivery=tuple(
                one
                for one in saved.delivery
                if (one.rig, one.material) == (group.rig, group.material)
            ),
            law=laws.get((group.rig, group.material)),
        )
        for group in saved.fit.groups
    )
    return Fit(saved.fit.loss, saved.fit.confidence, saved.ceilings, groups, saved.fit.notes)
