"""Plans as JSON and back, and the digest that shows a plan was not changed after the fact."""

from __future__ import annotations

import hashlib
import json
import math
from collections.abc import Sequence
from dataclasses import asdict
from typing import Any

from beadworth.records import from_mapping, to_mapping
from beadworth.trial.record import Budget, BudgetLine, Coupon, Plan, Power, TrialSpec


def plan_digest(spec: TrialSpec, coupons: Sequence[Coupon]) -> str:
    """SHA-256 (hex) of the canonical JSON of spec and coupons: sorted keys, no blanks."""
    data = {"spec": to_mapping(spec), "coupons": [asdict(coupon) for coupon in coupons]}
    text = json.dumps(data, sort_keys=True, separators=(",", ":"), allow_nan=False)
    return hashlib.sha256(text.encode()).hexdigest()


def plan_to_json(plan: Plan) -> dict[str, Any]:
    """The plan as JSON; infinite degrees of freedom become null."""
    data = asdict(plan)
    data["spec"] = to_mapping(plan.spec)
    _each_dof(data["budget"], lambda dof: None if math.isinf(dof) else dof)
    return json.loads(json.dumps(data, allow_nan=False))  # type: ignore[no-any-return]


def plan_from_json(data: dict[str, Any]) -> Plan:
    """A plan from :func:`plan_to_json`.

    Raises
    ------
    RecordError
        A spec that no longer passes its checks.
    """
    budget = json.loads(json.dumps(data["budget"]))
    _each_dof(budget, lambda dof: math.inf if dof is None else dof)
    lines = tuple(BudgetLine(**row) for row in budget.pop("lines"))
    fields = dict(data)
    fields["spec"] = from_mapping(TrialSpec, data["spec"], "plan, spec")
    fields["coupons"] = tuple(Coupon(**row) for row in data["coupons"])
    fields["budget"] = Budget(lines=lines, **budget)
    fields["power"] = Power(**data["power"]) if data["power"] else None
    fields["notes"] = tuple(data["notes"])
    return Plan(**fields)


def _each_dof(budget: dict[str, Any], change: Any) -> None:
    budget["effective_dof"] = change(budget["effective_dof"])
    for row in budget["lines"]:
        row["dof"] = change(row["dof"])
