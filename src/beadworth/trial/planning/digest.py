"""Plans as JSON and back, and the digest that shows a plan was not changed after the fact."""

from __future__ import annotations

import hashlib
import json
import math
from collections.abc import Callable, Sequence
from dataclasses import asdict
from typing import Any

from beadworth.core import Problem, RecordError, from_mapping, to_mapping
from beadworth.trial.record import Budget, BudgetLine, Coupon, Plan, Power, TrialSpec


def canonical_json(data: Any) -> str:
    """JSON in one form only: keys sorted, no blanks, shortest numbers, no infinities."""
    return json.dumps(data, sort_keys=True, separators=(",", ":"), allow_nan=False)


def plan_digest(spec: TrialSpec, coupons: Sequence[Coupon]) -> str:
    """SHA-256 (hex) of the canonical JSON of spec and coupons; unknown fields left out."""
    data = {"spec": to_mapping(spec), "coupons": [asdict(coupon) for coupon in coupons]}
    return hashlib.sha256(canonical_json(data).encode()).hexdigest()


def plan_to_json(plan: Plan) -> dict[str, Any]:
    """The plan as plain data for JSON; infinite degrees of freedom become null."""
    data = asdict(plan)
    data["spec"] = to_mapping(plan.spec)
    _each_dof(data["budget"], lambda dof: None if math.isinf(dof) else dof)
    return json.loads(json.dumps(data, allow_nan=False))  # type: ignore[no-any-return]


def plan_from_json(data: dict[str, Any]) -> Plan:
    """The plan that :func:`plan_to_json` wrote.

    Raises
    ------
    RecordError
        Data that is no plan, or a trial record in it that does not pass its checks.
    """
    try:
        fields = json.loads(json.dumps(data))
        spec = from_mapping(TrialSpec, fields["spec"], "plan, spec")
        budget = fields["budget"]
        _each_dof(budget, lambda dof: math.inf if dof is None else dof)
        lines = tuple(BudgetLine(**row) for row in budget.pop("lines"))
        return Plan(
            **fields
            | {
                "spec": spec,
                "coupons": tuple(Coupon(**row) for row in fields["coupons"]),
                "budget": Budget(lines=lines, **budget),
                "power": Power(**fields["power"]) if fields["power"] else None,
                "notes": tuple(fields["notes"]),
            }
        )
    except (KeyError, TypeError, AttributeError) as error:
        raise RecordError(
            Problem(
                f"this is not a plan as it was written: {error}.",
                "plan",
                remedy="Make the plan anew from its trial record.",
            )
        ) from None


def _each_dof(budget: dict[str, Any], change: Callable[[Any], Any]) -> None:
    budget["effective_dof"] = change(budget["effective_dof"])
    for row in budget["lines"]:
        row["dof"] = change(row["dof"])
