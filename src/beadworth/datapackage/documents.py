"""The JSON files of a package, checked as they are read."""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from dataclasses import replace
from datetime import date
from typing import Annotated, Any

from pydantic import AfterValidator, Field

from beadworth.capacity import FIRST_METHOD
from beadworth.core import (
    Place,
    Problem,
    Record,
    RecordError,
    from_json,
    from_mapping,
    to_json,
    to_mapping,
)
from beadworth.text import xml_text
from beadworth.trial import BudgetLine, Coupon, Plan, TrialSpec, combine

Tell = Callable[[Problem], None]
REMEDY = "Ask whoever made the package for a whole one. Nothing was imported."


def _day(text: str) -> str:
    if text:
        date.fromisoformat(text)
    return text


Day = Annotated[str, Field(pattern=r"^(\d{4}-\d{2}-\d{2})?$", max_length=10), AfterValidator(_day)]


class BudgetFigures(Record):
    """The budget without its lines."""

    combined_u: float
    effective_dof: float | None = Field(description="null: taken as known")
    coverage_factor: float
    expanded_u: float


class PowerFigures(Record):
    """What difference the plan can see."""

    difference_mm3_s: float
    temperature_c: float
    assumed_ceiling_mm3_s: float


class PlanFigures(Record):
    """The plan without record, coupons and budget lines, which have files of their own."""

    budget: BudgetFigures
    power: PowerFigures | None
    filament_mm: float
    replicates: int
    references_per_block: int
    total_filament_mm: float
    total_mass_g: float
    duration_s: float
    plates: int
    notes: tuple[str, ...]
    digest: str


class AmendmentRow(Record):
    """One recorded change of the locked plan."""

    day: Day
    what: str
    reason: str


class TrialDocument(Record):
    """``trial.json``."""

    question: Annotated[str, Field(min_length=1, max_length=2000)] = Field(
        description="the question of the trial"
    )
    candidate: str | None = Field(description="name of the candidate rig; null: one rig alone")
    spec: TrialSpec | None = Field(description="the trial record; null: readings without a plan")
    plan: PlanFigures | None = Field(description="figures of the plan; null: none was made")
    amendments: tuple[AmendmentRow, ...] = Field(description="changes of the locked plan")
    disclosure: str = Field(description="who supplied the hardware; empty: the rigs say")
    simulated_readings: bool = Field(description="true where readings are simulated")
    software: dict[str, str] = Field(description="what computed the figures, name to version")
    method: str = Field(
        FIRST_METHOD,
        description="how ceilings and curves were read; missing: as release 0.1 did",
    )


def plan_figures(plan: Plan) -> dict[str, Any]:
    """The plan as ``trial.json`` holds it."""
    data = to_json(plan)
    del data["spec"], data["coupons"], data["budget"]["lines"]
    del data["outlook"]  # what was forecast; the readings tell what was found
    figures = from_mapping(PlanFigures, data, "plan")
    return figures.model_dump(mode="json")


def plan_parts(
    document: TrialDocument, coupons: list[Coupon], lines: list[BudgetLine], tell: Tell
) -> Plan | None:
    """The plan put together from its files, its digest and its budget recomputed."""
    from beadworth.trial import plan_digest

    figures, spec = document.plan, document.spec
    if figures is None:
        if coupons or lines:
            tell(Problem("there are coupons or budget lines, but no plan.", "trial.json", None,
                         REMEDY))  # fmt: skip
        return None
    if spec is None:
        tell(Problem("there is a plan without its trial record.",
                     Place.of_field("trial.json", "spec"), None, REMEDY))  # fmt: skip
        return None
    if plan_digest(spec, coupons) != figures.digest:
        tell(Problem("the plan's digest is not that of its record and coupons: one of them was "
                     "changed after the fact.", Place.of_field("trial.json", "plan.digest"),
                     figures.digest, REMEDY))  # fmt: skip
    budget = combine(lines)
    for name in ("combined_u", "effective_dof", "coverage_factor", "expanded_u"):
        said, found = getattr(figures.budget, name), getattr(budget, name)
        said = math.inf if said is None else said
        if said != found and not abs(said - found) <= 0.01 * abs(found):
            tell(Problem(f"the budget's {name} is {said:.4g}, but its lines give {found:.4g}.",
                         Place.of_field("trial.json", f"plan.budget.{name}"),
                         said, REMEDY))  # fmt: skip

    return from_json(
        Plan,
        to_mapping(figures)
        | {
            "power": figures.power and to_mapping(figures.power),
            "spec": to_mapping(spec),
            "coupons": [vars(c) for c in coupons],
            "budget": figures.budget.model_dump()
            | {"lines": [_known_dof(vars(line)) for line in lines]},
        },
        "plan",
    )


def _known_dof(line: dict[str, Any]) -> dict[str, Any]:
    return line | {"dof": None if line["dof"] == float("inf") else line["dof"]}


def read_json(data: bytes, where: str, tell: Tell) -> Any:
    """JSON read strictly: UTF-8, no NaN, no name twice; None where it cannot be (then told)."""
    try:
        made = json.loads(
            data.decode("utf-8"), object_pairs_hook=_once, parse_constant=_no_constant
        )
        if xml_text(made) != made:
            raise ValueError("it holds characters that no document can show")
    except (ValueError, RecursionError) as error:
        cause = "it is nested too deep" if isinstance(error, RecursionError) else str(error)
        tell(Problem(f"this is not JSON: {cause[:160].rstrip('.')}.", where, None, REMEDY))
        return None
    return made


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    made = dict(pairs)
    if len(made) != len(pairs):
        raise ValueError("a name stands twice in one object")
    return made


def _no_constant(text: str) -> Any:
    raise ValueError(f"{text} is no number of JSON")


def read_records(kind: type[Any], data: Any, where: str, tell: Tell) -> list[Any]:
    """A list of records, each checked, no name twice."""
    if not isinstance(data, list) or len(data) > 50:
        tell(Problem("this is not a list of at most 50 records.", where, None, REMEDY))
        return []
    made: list[Any] = []
    for number, item in enumerate(data, 1):
        record = read_record(kind, item, f"{where}, record {number}", tell)
        if record is not None:
            if any(other.name == record.name for other in made):
                tell(Problem(f"{record.name!r} stands twice.", where, record.name, REMEDY))
            made.append(record)
    return made


def read_record(kind: type[Any], data: Any, where: str, tell: Tell) -> Any:
    """One record, or None with everything told that is wrong with it."""
    if not isinstance(data, dict):
        tell(Problem("this is not a JSON object.", where, None, REMEDY))
        return None
    try:
        return from_mapping(kind, data, where)
    except RecordError as error:
        for problem in error.problems:
            tell(replace(problem, remedy=REMEDY))
        return None
