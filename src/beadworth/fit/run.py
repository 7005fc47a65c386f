"""All checks of an upgrade, in the order a builder meets them."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from beadworth.core import InputError, Problem
from beadworth.fit import cost, currents, heat, motion, push, question, space
from beadworth.fit.check import Case, Check, check
from beadworth.material import Material
from beadworth.rig import Rig, upgrade


def fit_check(
    parent: Rig,
    changes: Rig | Mapping[str, Any],
    material: Material | None = None,
    temperature_c: float | None = None,
    flow_mm3_s: float | None = None,
) -> tuple[Check, ...]:
    """Every check of an upgrade against its parent rig.

    Parameters
    ----------
    parent : Rig
    changes : Rig or mapping
        The child rig, or only what changes (see :func:`beadworth.rig.upgrade`).
    material, temperature_c, flow_mm3_s
        What is to be printed, °C and mm³/s; checks that hang on what is left out ask for it.

    Returns
    -------
    tuple of Check

    Raises
    ------
    RecordError
        Changes that are no rig record.
    InputError
        A temperature or flow that is none, both at once.
    """
    problems = [
        Problem(
            f"{value:g} {unit} is no {what} to print with.",
            where=name,
            value=value,
            remedy=f"Give a {what} above 0 {unit}.",
        )
        for name, what, unit, value in (
            ("temperature_c", "nozzle temperature", "°C", temperature_c),
            ("flow_mm3_s", "flow", "mm³/s", flow_mm3_s),
        )
        if value is not None and not (math.isfinite(value) and value > 0)
    ]
    if problems:
        raise InputError(problems)
    child = upgrade(parent, changes)
    case = Case(parent, child, material, temperature_c, flow_mm3_s)
    doubts = question.doubts_of(case)
    case.questioned = tuple(path for path, _ in doubts)
    rules = (
        question.rule(doubts),
        *space.RULES,
        *motion.rules_for(case),
        *heat.RULES,
        *currents.RULES,
        *push.RULES,
        *cost.rules_for(case),
        question.UNCHECKED,
    )
    return tuple(found for rule in rules if (found := check(rule, case)) is not None)
