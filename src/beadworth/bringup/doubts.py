"""Errors of a bring-up that no setting should mend: a wrong tooth, unit or column."""

from __future__ import annotations

from beadworth.bringup.result import BringUpResult
from beadworth.core import InputError, Problem
from beadworth.text import percent, signed_percent

GROSS_SHARE = 0.03
"""Share beyond which an error of steps per mm is none of a setting, as in the fit check; assumed.
A tooth more or less of twenty is 5 %."""


def is_gross(error: float) -> bool:
    """Whether an error (measured ÷ commanded − 1) is too large for steps per mm to mend."""
    return not abs(error) <= GROSS_SHARE


def gross_advice(what: str, error: float) -> str:
    """What to do about such an error."""
    return (
        f"Set nothing: {what} {'is' if what.startswith('the ') else 'are'} "
        f"{signed_percent(error, 1)} off, beyond {percent(GROSS_SHARE, 0)}. That is a wrong "
        "tooth, unit or column, not a setting. Check teeth, gears and microsteps against the "
        "record, and which number is commanded and which measured, both in mm. Then measure again."
    )


def gross_errors(result: BringUpResult) -> tuple[Problem, ...]:
    """Every error of a result that neither may be stored nor written into a record."""
    found = [(f"moves of {a.axis}", a.scale_error, f"axes.{a.axis}") for a in result.axes]
    if result.feed is not None:
        found.append(("the feed", result.feed.result.factor - 1.0, "extruder"))
    return tuple(
        Problem(gross_advice(what, error), where, error, "Nothing was stored or changed.")
        for what, error, where in found
        if is_gross(error)
    )


def refuse_gross(result: BringUpResult) -> None:
    """Refuse a result with such an error.

    Raises
    ------
    InputError
        All of them.
    """
    problems = gross_errors(result)
    if problems:
        raise InputError(problems)
