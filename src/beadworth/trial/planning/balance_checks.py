"""What a balance does, measured: repeatability, drift, linearity; each with how sure it is.

Formulas as in calibration guidelines for balances (EURAMET Calibration Guide No. 18: errors of
indication, repeatability as an experimental standard deviation) and JCGM 100:2008 (the GUM).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Annotated, Literal, Self

from pydantic import Field, model_validator
from pydantic_core import PydanticCustomError

from beadworth.core import CONFIDENCE, Record, coverage_factor, fit_line
from beadworth.trial.record import Balance

CheckKind = Literal["repeatability", "drift", "linearity"]
FEWEST = {"repeatability": 3, "drift": 3, "linearity": 4}
"""Values without which nothing can be said of how sure a result is."""
USUAL_PLACINGS = 5
"""Placings of one piece (EURAMET cg-18, 4.4.1, for balances up to 100 kg: five at least; from
memory)."""
ALL_ALIKE_STEPS = 0.5
"""Display steps taken for the repeatability where every placing shows the same (assumption)."""
Masses = tuple[Annotated[float, Field(gt=-1e6, lt=1e6)], ...]


class BalanceCheck(Record):
    """One check of a balance, as it was done."""

    balance: Annotated[str, Field(min_length=1, max_length=80)] = Field(
        description="name of the balance"
    )
    kind: CheckKind
    on: date = Field(description="day of the check")
    shown_g: Masses = Field(description="what the balance showed, in order, g", max_length=200)
    at: Masses = Field(
        (), max_length=200,
        description="minutes from the beginning (drift), known masses in g (linearity)",
    )  # fmt: skip
    step_g: Annotated[float, Field(gt=0)] = Field(description="smallest step of the display, g")
    by_cable: bool = Field(False, description="whether the values came over the cable")
    note: Annotated[str, Field(max_length=400)] = ""

    @model_validator(mode="after")
    def _enough(self) -> Self:
        least, there = FEWEST[self.kind], len(self.shown_g)
        if there < least:
            raise _wrong(
                f"{there} values: a check of {self.kind} needs {least} at least.",
                "Five are usual; ten say it well." if self.kind == "repeatability" else "Add some.",
            )
        wanted = 0 if self.kind == "repeatability" else there
        if len(self.at) != wanted:
            what = {"repeatability": "times or masses", "drift": "times", "linearity": "masses"}
            raise _wrong(
                f"{len(self.at)} {what[self.kind]} stand beside {there} values.",
                "Give one for each value." if wanted else "Give the values alone.",
            )
        if wanted and max(self.at) <= min(self.at):
            raise _wrong(
                "all stand at the same place.",
                "Spread them over the time, or over the masses, that you use.",
            )
        return self


def _wrong(what: str, remedy: str) -> PydanticCustomError:
    return PydanticCustomError("beadworth", "{what}", {"what": what, "remedy": remedy})


@dataclass(frozen=True)
class Repeatability:
    """Scatter of one piece placed again and again."""

    sd_g: float
    """Experimental standard deviation; half a display step where all placings show the same."""
    dof: int | None
    """Placings less one; None where no scatter was seen, and ``sd_g`` is taken as known."""
    low_g: float
    high_g: float
    """Interval of the standard deviation at 95 %, for normal scatter."""
    relative_u: float | None
    """Standard uncertainty of ``sd_g`` relative to it."""


@dataclass(frozen=True)
class Drift:
    """How the reading of one piece moves with time."""

    g_per_hour: float
    u_g_per_hour: float
    resolved: bool
    """Whether it is told from none at 95 %."""
    minutes: float
    """Over which it was watched."""


@dataclass(frozen=True)
class Linearity:
    """Errors against known masses, and what a straight line through them leaves."""

    errors_g: tuple[float, ...]
    """Shown less known, in the order of the check."""
    slope_error: float
    """Relative error common to all masses; it cancels in a loss."""
    largest_g: float
    """Largest deviation from the line."""


def repeatability(shown_g: Sequence[float], step_g: float) -> Repeatability:
    """Standard deviation of placings of one piece, and how well it is known from so many.

    s = √(Σ(xᵢ − x̄)²/(n − 1)) (JCGM 100:2008, equation 4; EURAMET cg-18, 7.1, from memory). Its
    interval is that of χ² with n − 1 degrees of freedom; its relative standard uncertainty is what
    JCGM 100:2008 tables in E.4.3.

    Parameters
    ----------
    shown_g : sequence of float, 3 or more
        The piece on the zeroed balance, each time placed anew, g.
    step_g : float, > 0
        Smallest step of the display.
    """
    n = len(shown_g)
    mean = sum(shown_g) / n
    sd = math.sqrt(sum((x - mean) ** 2 for x in shown_g) / (n - 1))
    if max(shown_g) - min(shown_g) < 0.5 * step_g:
        return Repeatability(ALL_ALIKE_STEPS * step_g, None, 0.0, _unseen_g(n, step_g), None)
    low, high = sd_interval(n - 1)
    return Repeatability(sd, n - 1, sd * low, sd * high, sd_relative_u(n))


def sd_relative_u(n: int) -> float:
    """Standard uncertainty of a standard deviation of n normal values, relative to it.

    √(1 − c₄²)/c₄ with c₄ = √(2/(n − 1))·Γ(n/2)/Γ((n − 1)/2): 76 % for two, 36 % for five, 24 % for
    ten (JCGM 100:2008, table E.1).
    """
    c4 = math.sqrt(2 / (n - 1)) * math.exp(math.lgamma(n / 2) - math.lgamma((n - 1) / 2))
    return math.sqrt(1 - c4 * c4) / c4


def sd_interval(dof: int, confidence: float = CONFIDENCE) -> tuple[float, float]:
    """Ends of the interval of a standard deviation, as multiples of what was found.

    √(ν/χ²) at both tails (NIST/SEMATECH e-Handbook, 7.2.3.1).
    """
    from scipy.special import chdtri

    tail = (1 - confidence) / 2
    return math.sqrt(dof / chdtri(dof, tail)), math.sqrt(dof / chdtri(dof, 1 - tail))


def _unseen_g(n: int, step_g: float) -> float:
    """The standard deviation at which n placings in the middle of a step all show it 1 in 20."""
    from scipy.special import ndtri

    return float(step_g / (2 * ndtri((1 + 0.05 ** (1 / n)) / 2)))


def drift(minutes: Sequence[float], shown_g: Sequence[float]) -> Drift:
    """Slope of the reading of one piece over time, by least squares.

    Parameters
    ----------
    minutes : sequence of float, 3 or more
    shown_g : sequence of float
        One for each time.
    """
    found = fit_line(minutes, shown_g)
    resolved = abs(found.slope) > coverage_factor(found.dof) * found.u_slope
    over = max(minutes) - min(minutes)
    return Drift(60 * found.slope, 60 * found.u_slope, resolved, over)


def linearity(known_g: Sequence[float], shown_g: Sequence[float]) -> Linearity:
    """Errors of indication against known masses, and the largest deviation from a straight line.

    Parameters
    ----------
    known_g : sequence of float, 4 or more
        Known masses, g; an empty pan is the known mass 0.
    shown_g : sequence of float
        One for each.
    """
    errors = [shown - known for known, shown in zip(known_g, shown_g, strict=True)]
    found = fit_line(known_g, errors)
    left = [error - found.at(known)[0] for known, error in zip(known_g, errors, strict=True)]
    return Linearity(tuple(errors), found.slope, max(abs(one) for one in left))


def measured_balance(checks: Sequence[BalanceCheck], usual: Balance | None = None) -> Balance:
    """A balance for a budget: what was measured, else what is usual.

    Parameters
    ----------
    checks : sequence of BalanceCheck
        Those that count, oldest first; the newest of each kind is taken.
    usual : Balance, optional
        For what was not measured; left out, the record's own defaults with this display's step.
    """
    newest = {check.kind: check for check in checks}
    latest = checks[-1] if checks else None
    made = usual or Balance()
    update: dict[str, object] = {}
    if latest is not None:
        update["readability_g"] = latest.step_g
    if (check := newest.get("repeatability")) is not None:
        found = repeatability(check.shown_g, check.step_g)
        update |= {
            "repeatability_g": float(f"{found.sd_g:.3g}"),
            "repeatability_dof": found.dof,
            "repeatability_on": check.on,
        }
    if (check := newest.get("linearity")) is not None:
        found_line = linearity(check.at, check.shown_g)
        update |= {
            "linearity_g": float(f"{found_line.largest_g:.3g}"),
            "linearity_on": check.on,
        }
    return made.model_copy(update=update)


def describe_weighing(balance: Balance) -> str:
    """What a budget takes of a balance, and whether it was measured."""
    said = [f"readability {balance.readability_g:g} g"]
    of = f" ({balance.repeatability_dof + 1} weighings)" if balance.repeatability_dof else ""
    unmeasured = "stated" if of else "assumed"
    known = f"measured {balance.repeatability_on}" if balance.repeatability_on else unmeasured
    said.append(f"repeatability {balance.repeatability_g:g} g, {known}{of}")
    if balance.linearity_g or balance.linearity_on:
        known = f"measured {balance.linearity_on}" if balance.linearity_on else "assumed"
        said.append(f"linearity ± {balance.linearity_g:g} g, {known}")
    return "; ".join(said)
