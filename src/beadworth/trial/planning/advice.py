"""What the reader of a plan should know: what it tells, what more brings, what would help."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from beadworth.gcode import unknown_limits
from beadworth.material import Material
from beadworth.rig import Rig
from beadworth.text import join_words, number, percent
from beadworth.trial.planning.budget import MEASURED_U_MM
from beadworth.trial.planning.light import LIGHT, lightest_unseen
from beadworth.trial.planning.sizing import (
    ASSUMED_BED,
    LENGTHS_MM,
    Size,
    best_size,
    budget_of,
    coupon_u,
    hours_of,
    ladder,
)
from beadworth.trial.record import Balance, Budget, Outlook, TrialSpec

_OF_NOZZLE = {"nozzle_mm", "land_mm", "cone_half_angle_deg", "price", "source", "mass_g"}
WORTH_SAYING = 0.75
"""A change that needs at most this part of the time, or brings this part of the width, is named."""


def notes(
    spec: TrialSpec,
    rigs: Sequence[Rig],
    material: Material,
    *,
    size: Size,
    budget: Budget,
    lengths: Sequence[float],
) -> tuple[str, ...]:
    """The notes of a plan, the most important first."""
    said = [_answer(spec, rigs, size), _source(size, budget)]
    said += _fewer(spec, rigs, material, size=size, lengths=lengths)
    said.append(_light(spec, rigs, material, size))
    said += _help(spec, rigs, material, size=size, lengths=lengths)
    said += _cold(spec, material)
    said += _nozzles(spec, rigs)
    said += [note for rig in rigs for note in _unknown(spec, rig)]
    if 2 < len(spec.flows_mm3_s) < 5:
        said.append(
            "Fewer than five flows: where delivery falls off between two of them, the interval of "
            "the ceiling is about as wide as their distance. Next coupons can be added later."
        )
    if size.references == 1:
        said.append("One reference per block cannot show drift; two stand at its start and end.")
    if spec.loss_u is not None:
        said.append(
            "The record asks for a standard uncertainty of loss. Plans are no longer sized by it: "
            "give the difference that would change your mind, or the hours at hand."
        )
    return tuple(said)


def _nozzles(spec: TrialSpec, rigs: Sequence[Rig]) -> list[str]:
    """What a second nozzle on the same hot end brings a prediction; said where there is none."""
    if spec.candidate is None:
        return [
            "One nozzle cannot tell heat from force. To predict other nozzles, hot ends or drives "
            f"from this trial, plan it with two: save {spec.baseline} with another nozzle as an "
            "upgrade and give that as the candidate."
        ]
    if len(rigs) < 2:
        return []
    first, second = (rig.hot_end.model_dump(exclude=_OF_NOZZLE) for rig in rigs[:2])
    if first != second or rigs[0].hot_end.nozzle_mm == rigs[1].hot_end.nozzle_mm:
        return []
    return [
        "Two nozzles on one hot end: together they part heat, which both share, from the force "
        "that each of them adds, so that a prediction from this trial carries farther."
    ]


def _answer(spec: TrialSpec, rigs: Sequence[Rig], size: Size) -> str:
    """What these coupons tell, and what it takes to answer the question."""
    first = (
        f"These {_cost(size.now)}: each ceiling to about {number(size.now.width_mm3_s, 2)} mm³/s "
        "(width of its 95 % interval)."
    )
    wanted, hours = spec.difference_mm3_s, hours_of(spec, rigs)
    if wanted is None:
        last = size.within(hours)
        if last is None:
            return f"{first} That is more than the {number(hours, 2)} h at hand."
        return first if last is size.now else f"{first} {_further(size, last)}"
    step = size.answer(wanted)
    if step is None:
        least = size.outlook[-1]
        return (
            f"{first} {_further(size, least)} The {number(wanted, 2)} mm³/s asked for are not "
            "reached by any number of coupons looked at."
        )
    said = first if step is size.now else f"{first} {_further(size, step)}"
    if spec.hours is not None and step.hours > spec.hours:
        within = size.within(spec.hours)
        reach = f"; {number(within.width_mm3_s, 2)} mm³/s are within it" if within else ""
        return f"{said} That is more than the {number(spec.hours, 2)} h at hand{reach}."
    return said


def _further(size: Size, step: Outlook) -> str:
    """What next coupons bring."""
    more = step.coupons - size.now.coupons
    return (
        f"About {more} next coupons where they narrow the answer most, "
        f"{_hours(step.hours - size.now.hours)} "
        f"more, bring it to about {number(step.width_mm3_s, 2)} mm³/s."
    )


def _hours(hours: float) -> str:
    return f"{number(hours, 2)} h"


def _cost(step: Outlook) -> str:
    return f"{step.coupons} coupons take {_hours(step.hours)}"


def _source(size: Size, budget: Budget) -> str:
    """Where the uncertainty of one setting comes from."""
    largest: dict[str, float] = {}
    for row in budget.lines:
        name = row.source.rsplit(", ", 1)[0]
        largest[name] = largest.get(name, 0.0) + row.contribution**2
    source = max(largest, key=lambda name: largest[name])
    share = largest[source] / budget.combined_u**2
    return (
        f"{size.filament_mm:g} mm per coupon give a standard uncertainty of loss of "
        f"{percent(size.u, 2)} at one setting. Largest source: {source}, {share * 100:.0f} % of "
        "the variance."
    )


def _light(spec: TrialSpec, rigs: Sequence[Rig], material: Material, size: Size) -> str:
    """How light a coupon must be to be seen, and the least change that shows one 5 % light."""
    light = percent(LIGHT, 0)
    if size.replicates < 2:
        return (
            f"Without replicates a coupon {light} light is seen only where a faster one lost no "
            "more, below the knee. Two at each flow show it everywhere."
        )

    def seen(changed: TrialSpec, filament_mm: float, replicates: int) -> float:
        counts = (replicates, size.references)
        u = max(
            coupon_u(
                budget_of(changed, rig, material, filament_mm=filament_mm, counts=counts),
                replicates,
                spec.loss,
            )
            for rig in rigs
        )
        settings = len(spec.temperatures_c) * len(ladder(spec))
        coupons = len(rigs) * (settings * replicates + len(spec.temperatures_c) * size.references)
        least = lightest_unseen(u, replicates=replicates, settings=settings, coupons=coupons)
        return least if least is not None else 1.0

    now = seen(spec, size.filament_mm, size.replicates)
    if now <= LIGHT:
        return (
            f"At the balance a coupon that lacks {percent(now)} of its mass or more is seen in 95 "
            "trials of 100, if coupons scatter as the budget has it."
        )
    said = (
        f"At the balance a coupon {light} light may pass unseen: one must lack {percent(now)} of "
        "its mass to be seen in 95 trials of 100."
    )
    n, r = size.filament_mm, size.replicates
    remedies: list[tuple[str, TrialSpec, float, int]] = [
        *((f"Feeding {long:g} mm", spec, long, r) for long in LENGTHS_MM if long > n),
        *((f"{more} coupons at each flow", spec, n, more) for more in (3, 4) if more > r),
        *((words, spec.model_copy(update=change), n, r)
          for words, change in _changes(spec).items() if set(change) <= {"balance", "spool"}),
        *((f"Feeding {long:g} mm, {more} coupons at each flow,", spec, long, more)
          for long in LENGTHS_MM for more in (3, 4) if long > n and more > r),
    ]  # fmt: skip
    helps = [words for words, by, fed, each in remedies if seen(by, fed, each) <= LIGHT]
    return f"{said} {helps[0]} would show it." if helps else said


def _finer(spec: TrialSpec) -> Balance:
    """The balance, ten times finer."""
    return spec.balance.model_copy(
        update={
            name: getattr(spec.balance, name) / 10
            for name in ("readability_g", "repeatability_g", "linearity_g")
        }
    )


def _help(
    spec: TrialSpec,
    rigs: Sequence[Rig],
    material: Material,
    *,
    size: Size,
    lengths: Sequence[float],
) -> list[str]:
    """Changes that would answer in much less time, or tell much more in the same."""
    hours = hours_of(spec, rigs)
    now = _goal(spec, size, hours)
    said, as_good = [], 1.02 * now.width_mm3_s
    for words, change in _changes(spec).items():
        other = _goal(
            spec, best_size(spec.model_copy(update=change), rigs, material, lengths), hours
        )
        if _answers(spec, other) and not _answers(spec, now):
            said.append(f"{words} would answer the question in {_hours(other.hours)}.")
        elif other.hours <= WORTH_SAYING * now.hours and other.width_mm3_s <= as_good:
            said.append(
                f"{words} would do it in {_hours(other.hours)} in place of {_hours(now.hours)}."
            )
        elif other.width_mm3_s <= WORTH_SAYING * now.width_mm3_s and other.hours < 1.1 * now.hours:
            said.append(
                f"{words} would bring {number(other.width_mm3_s, 2)} in place of "
                f"{number(now.width_mm3_s, 2)} mm³/s in the same time."
            )
    return said


def _fewer(
    spec: TrialSpec,
    rigs: Sequence[Rig],
    material: Material,
    *,
    size: Size,
    lengths: Sequence[float],
) -> list[str]:
    """Where the time is too short: the temperatures that can be weighed in it."""
    hours, temperatures = hours_of(spec, rigs), sorted(spec.temperatures_c)
    if size.within(hours) is not None or spec.hours is None:
        return []
    said = []
    for kept in range(len(temperatures) - 1, 0, -1):
        start = (len(temperatures) - kept) // 2
        some = tuple(temperatures[start : start + kept])
        changed = spec.model_copy(update={"temperatures_c": some})
        now = best_size(changed, rigs, material, lengths).now
        if now.hours <= hours:
            said.append(
                f"{join_words([f'{t:g} °C' for t in some])} alone, {now.coupons} coupons, to about "
                f"{number(now.width_mm3_s, 2)} mm³/s"
            )
    return [f"Within {number(hours, 2)} h: {'; '.join(said)}."] if said else []


def _answers(spec: TrialSpec, step: Outlook) -> bool:
    return spec.difference_mm3_s is not None and step.width_mm3_s <= spec.difference_mm3_s


def _goal(spec: TrialSpec, size: Size, hours: float) -> Outlook:
    """Where a trial of this size stops: question answered, time up, or at its end."""
    wanted = spec.difference_mm3_s
    reached = size.answer(wanted) if wanted is not None else None
    return reached or size.within(hours) or size.now


def _changes(spec: TrialSpec) -> Mapping[str, dict[str, Any]]:
    """What could be done otherwise, as changes of the record."""
    changes: dict[str, dict[str, Any]] = {}
    measured = spec.spool.model_copy(update={"diameter_u_mm": MEASURED_U_MM})
    finer = _finer(spec)
    unmeasured = spec.spool.diameter_u_mm is None
    if unmeasured:
        changes[
            f"Measuring the filament diameter on each coupon's own feed to {MEASURED_U_MM:g} mm"
        ] = {"spool": measured}
    changes["A balance ten times finer"] = {"balance": finer}
    if unmeasured:
        changes["Both, the measured diameter and the finer balance,"] = {
            "spool": measured, "balance": finer,
        }  # fmt: skip
    if spec.replicates or spec.references_per_block:
        changes["Leaving the counts to be computed"] = {
            "replicates": None, "references_per_block": None,
        }  # fmt: skip
    return changes


def _cold(spec: TrialSpec, material: Material) -> list[str]:
    cold = [t for t in sorted(spec.temperatures_c) if t < material.min_temperature_c]
    if not cold:
        return []
    return [
        f"{', '.join(f'{t:g} °C' for t in cold)}: below the {material.min_temperature_c:g} °C that "
        f"{material.name} is used from. The drive may grind or stall; stay with the printer."
    ]


def _unknown(spec: TrialSpec, rig: Rig) -> list[str]:
    said = [f"{problem} Needed before the programs are written." for problem in unknown_limits(rig)]
    if rig.build_volume is None and spec.collect == "plate":
        bed = ASSUMED_BED
        said.append(
            f"Plates of {rig.name} are counted on an assumed bed of {bed.x_mm:g} x {bed.y_mm:g} mm."
        )
    return said
