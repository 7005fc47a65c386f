"""The arithmetic of worth, once: from what is known to hours, money and break-even.

:func:`inputs_of` lists every uncertain input with its distribution; :func:`evaluate` is the
model, a plain function of arrays. The Monte Carlo, the tornado and the profiles all call it.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from beadworth.capacity import Difference
from beadworth.core import coverage_factor
from beadworth.worth.case import WorthCase
from beadworth.worth.estimate import Estimate
from beadworth.worth.times import RigTimes

Array = NDArray[np.float64]
WEEKS_PER_YEAR = 365.25 / 7.0
Z = Estimate(value=0.0, u=1.0)
ONE = Estimate(value=1.0)


@dataclass(frozen=True)
class PrintTimes:
    """One print of the case on both rigs."""

    name: str
    baseline: RigTimes
    candidate: RigTimes
    density_g_cm3: float | None = None
    """Of its material; None where it is not known."""


@dataclass(frozen=True)
class Input:
    """One uncertain (or exact) input of the model."""

    key: str
    label: str
    unit: str
    known: Estimate
    low: float = -np.inf
    high: float = np.inf
    """Bounds of what it can be; a normal distribution is cut off there."""

    def quantile(self, share: Array | float) -> Array:
        """See :meth:`~beadworth.worth.estimate.Estimate.quantile`."""
        return np.clip(self.known.quantile(share), self.low, self.high)


@dataclass(frozen=True)
class WorthRequest:
    """A case with everything it needs: the records behind its names are looked up."""

    case: WorthCase
    prints: tuple[PrintTimes, ...]
    parts: Estimate
    """Price of the parts: the case's own, else of the candidate's record."""
    currency: str
    """Empty where no amount is given."""
    differences: tuple[Difference, ...] = ()
    """Candidate less baseline in ceiling, per temperature, where one trial holds both."""
    mass_removed_g: Estimate | None = None
    amount: Estimate = ONE
    """Factor on all prints per year, for somebody who prints more or less of the same."""
    amount_label: str = "how much is printed"

    @property
    def has_rates(self) -> bool:
        """Whether anything saved is worth money."""
        run = self.case.running
        filament = run.filament_kg is not None and run.failed is not None
        return self.case.time.given or run.energy_kwh is not None or filament


def inputs_of(asked: WorthRequest) -> tuple[Input, ...]:
    """Every input of the model, exact ones too."""
    case, money = asked.case, asked.currency
    hourly = f"{money}/h"
    found = [
        Input(f"per_year:{use.called}", f"prints a year of {use.called}", "prints",
              use.per_year, low=0.0)
        for use in case.prints
    ]  # fmt: skip
    groups = dict.fromkeys(
        side.group for p in asked.prints for side in (p.baseline, p.candidate) if side.group
    )
    found += [
        Input(f"ceiling:{group}", f"ceiling of {group}", "standard deviations", Z)
        for group in groups
    ]
    common = {
        side.common_key: side.material
        for p in asked.prints for side in (p.baseline, p.candidate) if side.common
    }  # fmt: skip
    found += [
        Input(key, f"what both predictions of {material} may be off by together",
              "standard deviations", Z)
        for key, material in common.items()
    ]  # fmt: skip
    cost, time, run = case.cost, case.time, case.running
    listed: list[tuple[str, str, str, Estimate | None, float]] = [
        ("parts", "price of the parts", money, asked.parts, np.inf),
        ("brackets", "printed brackets", money, cost.brackets, np.inf),
        ("tools", "tools", money, cost.tools, np.inf),
        ("fitting_hours", "hours of fitting and tuning", "h", cost.fitting_hours, np.inf),
        ("fitting_hour", "worth of an hour of fitting", hourly, cost.fitting_hour, np.inf),
        ("resale", "resale of what is taken off", money, cost.resale, np.inf),
        ("printer_hour", "worth of an hour of printer time", hourly, time.printer_hour, np.inf),
        ("waiting_hour", "worth of an hour of waiting", hourly, time.waiting_hour, np.inf),
        ("waiting_share", "share of hours somebody waits", "", time.waiting_share, 1.0),
        ("energy_kwh", "price of electricity", f"{money}/kWh", run.energy_kwh, np.inf),
        ("power_w", "power, rig as it is", "W", run.power_w, np.inf),
        ("candidate_power_w", "power, upgraded rig", "W", run.candidate_power_w, np.inf),
        ("filament_kg", "price of filament", f"{money}/kg", run.filament_kg, np.inf),
        ("failed", "failed prints, rig as it is", "", run.failed, 0.95),
        ("candidate_failed", "failed prints, upgraded rig", "", run.candidate_failed, 0.95),
        ("amount", asked.amount_label, "", asked.amount, np.inf),
        ("stopwatch", "real ÷ replayed time", "", case.stopwatch, np.inf),
        ("mass_removed_g", "mass taken off", "g", asked.mass_removed_g, np.inf),
    ]
    if run.failed is not None:
        at = run.failed_at or Estimate(low=0.0, high=1.0)
        listed.append(("failed_at", "share of a print done when it fails", "", at, 1.0))
    for key, label, unit, known, most in listed:
        if known is not None:
            least = -np.inf if key == "mass_removed_g" else 0.0
            found.append(Input(key, label, unit, known, low=least, high=most))
    return tuple(found)


def evaluate(asked: WorthRequest) -> Callable[[Mapping[str, Array]], dict[str, Array]]:
    """The model of a case: arrays by input key → arrays by output name.

    Outputs
    -------
    hours_before, hours_after, hours_saved : printer hours per year, failed attempts included
    prints : per year
    cost : all of it, less resale
    time_money, energy_money, filament_money, money : saved per year
    net : money saved over the case's months, less the cost; discounted where the case says so
    break_even_months, break_even_prints : infinite where nothing is saved
    hours_a_week : printing, rig as it is
    hours_a_week_needed : the same at which the cost comes back within the case's months
    cost_per_hour : cost ÷ hours saved over the case's months
    """
    case = asked.case
    delta = discount_of(case)
    years = worth_years(case.months / 12.0, delta)

    def model(values: Mapping[str, Array]) -> dict[str, Array]:
        zero = np.zeros_like(next(iter(values.values())))

        def get(key: str, otherwise: float = 0.0) -> Array:
            return values.get(key, zero + otherwise)

        before, after, prints, saved_g = zero, zero, zero, zero
        for use, times in zip(case.prints, asked.prints, strict=True):
            count = get(f"per_year:{use.called}") * get("amount", 1.0)
            lost, lost_after = (
                get(key) / (1.0 - get(key)) * get("failed_at")
                for key in ("failed", "candidate_failed")
            )
            before = before + count * (1.0 + lost) * _hours(times.baseline, values)
            after = after + count * (1.0 + lost_after) * _hours(times.candidate, values)
            grams = times.baseline.volume_cm3 * (times.density_g_cm3 or 0.0)
            saved_g = saved_g + count * (lost - lost_after) * grams
            prints = prints + count
        before, after = before * get("stopwatch", 1.0), after * get("stopwatch", 1.0)
        saved = before - after
        hour = get("printer_hour") + get("waiting_hour") * get("waiting_share")
        power = get("power_w")
        power_after = values.get("candidate_power_w", power)
        energy = (before * power - after * power_after) * 1e-3 * get("energy_kwh")
        filament = saved_g * 1e-3 * get("filament_kg")
        cost = (
            get("parts") + get("brackets") + get("tools") - get("resale")
            + get("fitting_hours") * get("fitting_hour")
        )  # fmt: skip
        time_money = saved * hour
        money = time_money + energy + filament
        simple = _over(cost, money)
        back = years_until(simple, delta)
        week = before / WEEKS_PER_YEAR
        out = {
            "hours_before": before,
            "hours_after": after,
            "hours_saved": saved,
            "prints": prints,
            "cost": cost,
            "time_money": time_money,
            "energy_money": energy,
            "filament_money": filament,
            "money": money,
            "net": money * years - cost,
            "break_even_months": _times(zero + 12.0, back),
            "break_even_prints": _times(prints, back),
            "hours_a_week": week,
            "hours_a_week_needed": _times(week / years, simple),
            "cost_per_hour": _over(cost, saved * years),
        }
        if "mass_removed_g" in values:
            out["cost_per_gram"] = _over(cost, values["mass_removed_g"])
        for difference in asked.differences:
            key = flow_key(difference)
            if key in values:
                out[key.replace("added_flow", "cost_per_flow")] = _over(cost, values[key])
        return out

    return model


def discount_of(case: WorthCase) -> float:
    """Rate of continuous discounting a year: the logarithm of 1 + the case's yearly rate."""
    return float(np.log1p((case.discount_percent or 0.0) / 100.0))


def worth_years(years: float, delta: float) -> float:
    """Years that an even flow over so many is worth now: (1 − e^(−δ·years))/δ.

    Continuous flow and discounting, δ the logarithm of 1 + the yearly rate; the years themselves
    at δ = 0 (engineering economics, uniform continuous flow; from memory).
    """
    return float(-np.expm1(-delta * years) / delta) if delta > 0 else years


def years_until(simple: Array, delta: float) -> Array:
    """Years until an even flow is worth its cost, from the years it takes undiscounted.

    The inverse of :func:`worth_years`: −ln(1 − δ·simple)/δ; infinite where the flow of all time is
    worth less than the cost.
    """
    if delta <= 0:
        return simple
    left = 1.0 - delta * np.where(np.isfinite(simple), simple, 1.0 / delta)
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.where(left > 0, -np.log(np.maximum(left, 1e-300)) / delta, np.inf)


def flow_key(difference: Difference) -> str:
    """Key of the added ceiling at one temperature."""
    return f"added_flow:{difference.temperature_c:g}"


def flow_inputs(asked: WorthRequest) -> tuple[Input, ...]:
    """Added ceilings as inputs of the costs per mm³/s: normal, from their intervals.

    They do not enter hours or money, which hang on the ceilings themselves.
    """
    reach = coverage_factor()
    found = []
    for d in asked.differences:
        if d.difference_mm3_s is None or d.low is None or d.high is None:
            continue
        u = (d.high - d.low) / (2.0 * reach)
        known = Estimate(value=d.difference_mm3_s, u=u if u > 0 else None)
        label = f"added ceiling at {d.temperature_c:g} °C"
        found.append(Input(flow_key(d), label, "mm³/s", known))
    return tuple(found)


def _hours(times: RigTimes, values: Mapping[str, Array]) -> Array:
    shape = np.zeros_like(next(iter(values.values())))
    return times.at(times.ceiling_deviations(values, shape)) / 3600.0


def _over(cost: Array, gain: Array) -> Array:
    """Cost ÷ gain: nothing to pay back is 0, a gain that is none never pays."""
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        ratio = cost / gain
    ratio = np.where(gain > 0, ratio, np.inf)
    return np.where((cost <= 0) & (gain >= 0), 0.0, ratio)


def _times(amount: Array, back: Array) -> Array:
    """Amount × years until it is back; what is never back stays so, of however little."""
    known = np.isfinite(back)
    with np.errstate(over="ignore"):
        return np.where(known, amount * np.where(known, back, 0.0), np.inf)
